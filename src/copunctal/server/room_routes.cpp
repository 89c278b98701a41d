#include "copunctal/server/room_routes.h"

#include <chrono>
#include <nlohmann/json.hpp>

#include "copunctal/app/debrief.h"
#include "copunctal/server/decode.h"
#include "copunctal/server/json_answer.h"

namespace copunctal {
namespace {

using nlohmann::ordered_json;

template <class T>
ordered_json or_null(const std::optional<T>& value) {
  return value ? ordered_json(*value) : ordered_json(nullptr);
}

ordered_json json_of(const CheckedDevice& device) {
  const DeviceLook& look = device.look;
  ordered_json codes = nullptr, findings = ordered_json::array();
  if (look.codes)
    codes = {{"checked", look.codes->checked},
             {"wrong", look.codes->wrong},
             {"largest", look.codes->largest}};
  for (const DisplayFinding& finding : device.findings)
    findings.push_back(
        {{"what", finding.what}, {"state", name_of(finding.state)}, {"words", finding.words}});
  return {{"device", device.device},
          {"pseudonym", device.pseudonym},
          {"transport", device.transport},
          {"state", name_of(worst_of(device.findings))},
          {"findings", findings},
          {"secure_context", look.is_secure_context},
          {"window_px", look.window_px},
          {"device_pixel_ratio", look.device_pixel_ratio},
          {"refresh_hz", or_null(look.refresh_hz)},
          {"frame_spread_ms", or_null(look.frame_spread_ms)},
          {"dropped_frames", or_null(look.dropped_frames)},
          {"colour_depth", look.colour_depth},
          {"gamut", look.gamut},
          {"codes", codes},
          {"storage", look.has_storage}};
}

double clock_ms() {
  return std::chrono::duration<double, std::milli>(
             std::chrono::system_clock::now().time_since_epoch())
      .count();
}

ordered_json list_of(const std::vector<CheckedDevice>& devices) {
  ordered_json list = ordered_json::array();
  for (const CheckedDevice& device : devices) list.push_back(json_of(device));
  return list;
}

}  // namespace

std::string devices_json(const std::vector<CheckedDevice>& devices) {
  return list_of(devices).dump();
}

void add_preflight(Router& router, DeviceList& devices, ClassDoor& door) {
  router.add(
      Access::participant, "POST", "/api/preflight",
      [&](const Request& request, const PathParts&) -> Answered<Response> {
        COPUNCTAL_TRY(const DeviceLook look, device_look_in(request.body));
        const Arrival& arrival = request.arrival;
        COPUNCTAL_TRY(const int number, door.number_of(request));
        const char* transport = arrival.is_local ? "loopback" : arrival.is_tls ? "tls" : "plain";
        auto kept = devices.keep(number, transport, look, clock_ms());
        if (!kept) return tl::unexpected(refusal_for(std::move(kept).error()));
        return json_response(json_of(*kept), 201);
      });
  router.add(Access::instructor, "GET", "/api/preflight-devices",
             [&](const Request&, const PathParts&) -> Answered<Response> {
               return json_response({{"plate_px", plate_px},
                                     {"joined", door.state().devices.size()},
                                     {"devices", list_of(devices.devices())},
                                     {"intended_use", intended_use()}});
             });
}

}  // namespace copunctal
