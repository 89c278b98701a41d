// Pictures that were taken in, and what pages need for their views, as JSON.
#include <nlohmann/json.hpp>

#include "copunctal/app/debrief.h"
#include "copunctal/base/text.h"
#include "copunctal/server/encode.h"

namespace copunctal {

using Json = nlohmann::json;

std::string json_of(const TakenPicture& picture) {
  return Json{{"picture", picture.id},
              {"display", picture.display},
              {"format", picture.format},
              {"width", picture.width},
              {"height", picture.height},
              {"preview", {{"width", picture.preview->width}, {"height", picture.preview->height}}},
              {"note", picture.note}}
      .dump();
}

std::string json_of(const ViewPlan& plan) {
  return Json{{"observer", plan.observer}, {"display", plan.display},
              {"method", plan.method},     {"is_whole", plan.is_whole},
              {"a", plan.plan.a},          {"k", plan.plan.k},
              {"n", plan.plan.n},          {"two_sided", plan.plan.two_sided},
              {"notes", plan.notes},       {"intended_use", intended_use()}}
      .dump();
}

std::string json_of(const std::vector<ApartFor>& all) {
  Json distances = Json::array();
  for (const ApartFor& one : all)
    distances.push_back({{"observer", one.observer},
                         {"distance", rounded(one.distance, 2)},
                         {"words", apart_words(one.distance)}});
  return Json{{"distances", std::move(distances)}, {"intended_use", intended_use()}}.dump();
}

}  // namespace copunctal
