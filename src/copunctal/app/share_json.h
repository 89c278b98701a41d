// A share of a class as JSON (docs/api.md, SHARE): one text for debriefs and shows.
#pragma once

#include <nlohmann/json.hpp>

#include "copunctal/app/class_card.h"

namespace copunctal {

inline nlohmann::ordered_json share_json(const ReadShare& share) {
  using Json = nlohmann::ordered_json;
  Json nearly = nullptr;
  if (share.nearly == ReadShare::Nearly::all) nearly = "all but fewer than 5";
  if (share.nearly == ReadShare::Nearly::none) nearly = "fewer than 5";
  if (share.nearly == ReadShare::Nearly::too_few) nearly = "too few to say";
  // How many were asked may itself say how many missed something.
  const bool is_said = share.nearly != ReadShare::Nearly::too_few;
  return {{"of", is_said ? Json(share.of) : Json(nullptr)},
          {"as_drawn", share.as_drawn ? Json(*share.as_drawn) : Json(nullptr)},
          {"nearly", nearly}};
}

}  // namespace copunctal
