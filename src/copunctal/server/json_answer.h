// JSON made on the spot as a response.
#pragma once

#include <nlohmann/json.hpp>

#include "copunctal/server/message.h"

namespace copunctal {

inline Response json_response(const nlohmann::ordered_json& body, int status = 200) {
  Response response;
  response.status = status;
  response.content_type = "application/json";
  response.text = body.dump();
  return response;
}

}  // namespace copunctal
