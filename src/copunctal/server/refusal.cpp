#include "copunctal/server/refusal.h"

#include <nlohmann/json.hpp>

namespace copunctal {

tl::unexpected<Refusal> refuse(int status, std::string thing, std::string message,
                               std::string remedy) {
  return tl::unexpected(Refusal{status, Error{Error::Kind::usage, std::move(message),
                                              std::move(thing), "", std::move(remedy)}});
}

Refusal refusal_for(Error error) {
  const int status = [&] {
    switch (error.kind) {
      case Error::Kind::usage:
      case Error::Kind::bad_input:
        return 422;
      case Error::Kind::not_found:
        return 404;
      case Error::Kind::conflict:
        return 409;
      case Error::Kind::gone:
        return 410;
      case Error::Kind::io:
      case Error::Kind::stopped:
        return 503;
      case Error::Kind::unsupported:
        return 403;
    }
    return 500;
  }();
  return {status, std::move(error)};
}

std::string_view code_of(int status) {
  switch (status) {
    case 400:
      return "bad_request";
    case 401:
      return "not_joined";
    case 403:
      return "forbidden";
    case 404:
      return "not_found";
    case 405:
      return "method_not_allowed";
    case 409:
      return "conflict";
    case 410:
      return "gone";
    case 413:
      return "too_large";
    case 421:
      return "misdirected";
    case 422:
      return "invalid";
    case 429:
      return "too_many";
    case 503:
      return "unavailable";
    default:
      return "internal";
  }
}

Response response_for(const Refusal& refusal, std::string_view path) {
  const Error& error = refusal.error;
  const nlohmann::ordered_json body = {
      {"error",
       {{"code", code_of(refusal.status)},
        {"thing", error.thing},
        {"place", error.place.empty() ? std::string(path) : error.place},
        {"message", error.message},
        {"remedy", error.remedy}}}};
  Response response;
  response.status = refusal.status;
  response.content_type = "application/json";
  // What was sent may be echoed here and need not be UTF-8.
  response.text = body.dump(-1, ' ', false, nlohmann::ordered_json::error_handler_t::replace);
  if (refusal.status == 429 || refusal.status == 503)
    response.headers.emplace_back("Retry-After", std::to_string(refusal.retry_after_s));
  // A 401 has to name a way in; ours is no password that a browser could ask for.
  if (refusal.status == 401) response.headers.emplace_back("WWW-Authenticate", "Join");
  return response;
}

}  // namespace copunctal
