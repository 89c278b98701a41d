#include "copunctal/server/class_routes.h"

#include <nlohmann/json.hpp>

#include "copunctal/app/debrief.h"
#include "copunctal/base/text.h"
#include "copunctal/server/cookies.h"
#include "copunctal/server/decode.h"
#include "copunctal/server/join_code.h"
#include "copunctal/server/json_answer.h"
#include "copunctal/server/qr.h"

namespace copunctal {
namespace {

using nlohmann::ordered_json;

const char* transport_of(const Arrival& arrival) {
  if (arrival.is_local) return "loopback";
  return arrival.is_tls ? "tls" : "plain";
}

const char* joining_of(const ClassState& state) {
  if (!state.network) return "none";
  return state.is_joining_open ? "open" : "locked";
}

const char* name_of(Role role) {
  switch (role) {
    case Role::nobody:
      return "anyone";
    case Role::participant:
      return "participant";
    case Role::demonstrator:
      return "demonstrator";
    case Role::instructor:
      return "instructor";
  }
  return "";
}

ordered_json json_of(const ClassState& state) {
  ordered_json network = nullptr;
  if (state.network)
    network = {{"address", state.network->url()},
               {"join_address", state.join_url()},
               {"transport", state.network->is_tls ? "tls" : "plain"},
               {"fingerprint", state.network->is_tls ? ordered_json(state.network->fingerprint)
                                                     : ordered_json(nullptr)},
               {"closes_in_s", state.closes_in.count()}};
  ordered_json devices = ordered_json::array();
  for (const ClassDevice& device : state.devices)
    devices.push_back({{"device", device.number},
                       {"joined_s_ago", device.joined_ago.count()},
                       {"sittings", device.sittings},
                       {"demonstrator", device.is_demonstrator}});
  return {{"network", network},
          {"joining", joining_of(state)},
          {"code", state.network ? ordered_json(shown_code(state.code)) : ordered_json(nullptr)},
          {"devices", devices},
          {"wrong_codes", state.wrong_codes}};
}

Answered<Response> state_or_refusal(const Answered<ClassState>& state) {
  if (!state) return tl::unexpected(state.error());
  return json_response(json_of(*state));
}

Answered<Response> about(ClassDoor& door, const Request& request, Serving serving) {
  const auto device = door.device_of(request);
  return json_response({{"role", name_of(door.asker_of(request).role)},
                        {"transport", transport_of(request.arrival)},
                        {"joining", joining_of(door.state())},
                        {"device", device ? ordered_json(*device) : ordered_json(nullptr)},
                        {"serves", serving == Serving::preflight ? "preflight" : "practicals"},
                        {"intended_use", intended_use()}});
}

Answered<Response> join(ClassDoor& door, const Request& request) {
  COPUNCTAL_TRY(const std::string code, join_code_in(request.body));
  COPUNCTAL_TRY(const auto joined, door.join(request, code));
  Response response =
      json_response({{"device", joined.device}, {"lasts_s", joined.lifetime.count()}});
  response.headers.emplace_back("Set-Cookie",
                                cookie_giving(joined.token, request.arrival, joined.lifetime));
  return response;
}

Answered<Response> end_device(ClassDoor& door, std::string_view part) {
  constexpr std::size_t longest_number = 6;
  const auto number = whole_number_from(part);
  if (!number || part.size() > longest_number)
    return refuse(404, "device", "there is no such device", "check the address");
  if (auto ended = door.end_device(static_cast<int>(*number)); !ended)
    return tl::unexpected(std::move(ended).error());
  Response response;
  response.status = 204;
  return response;
}

Answered<Response> qr_code(ClassDoor& door) {
  const ClassState state = door.state();
  if (!state.network)
    return refuse(409, "class", "no class is let in over the network",
                  "start `copunctal serve` with --lan or --lan-plain");
  auto svg = qr_svg(state.join_url(),
                    "How to join: " + state.network->url() + ", code " + shown_code(state.code));
  if (!svg) return tl::unexpected(refusal_for(std::move(svg).error()));
  Response response;
  response.content_type = "image/svg+xml";
  response.text = *std::move(svg);
  return response;
}

}  // namespace

void add_class(Router& router, ClassDoor& door, Serving serving) {
  router.add(Access::anyone, "GET", "/api/about",
             [&door, serving](const Request& request, const PathParts&) {
               return about(door, request, serving);
             });
  router.add(Access::anyone, "POST", "/api/join",
             [&door](const Request& request, const PathParts&) { return join(door, request); });
  router.add(Access::instructor, "POST", "/api/class/demonstrators",
             [&door](const Request& request, const PathParts&) -> Answered<Response> {
               COPUNCTAL_TRY_VOID(nothing_in(request.body));
               COPUNCTAL_TRY(const std::string code, door.make_demonstrator_code());
               return json_response({{"code", shown_code(code)}});
             });
  router.add(Access::demonstrator, "GET", "/api/class", [&door](const Request&, const PathParts&) {
    return json_response(json_of(door.state()));
  });
  router.add(Access::demonstrator, "GET", "/api/class/qr",
             [&door](const Request&, const PathParts&) { return qr_code(door); });
  router.add(Access::demonstrator, "POST", "/api/class/code",
             [&door](const Request& request, const PathParts&) -> Answered<Response> {
               COPUNCTAL_TRY_VOID(nothing_in(request.body));
               return state_or_refusal(door.make_new_code());
             });
  router.add(Access::demonstrator, "PUT", "/api/class/joining",
             [&door](const Request& request, const PathParts&) -> Answered<Response> {
               COPUNCTAL_TRY(const bool is_open, joining_in(request.body));
               return state_or_refusal(door.set_joining(is_open));
             });
  router.add(
      Access::instructor, "DELETE", "/api/class/devices/:device",
      [&door](const Request&, const PathParts& parts) { return end_device(door, parts[0]); });
}

std::string sitting_begun_by(const Response& response) {
  constexpr int created = 201;
  if (response.status != created || response.content_type != "application/json") return {};
  const auto body = nlohmann::json::parse(response.text, nullptr, false);
  if (!body.is_object() || !body.contains("sitting") || !body["sitting"].is_string()) return {};
  return body["sitting"].get<std::string>();
}

}  // namespace copunctal
