#include "copunctal/app/preflight.h"

#include <algorithm>
#include <cmath>
#include <utility>

#include "copunctal/app/run_sitting_checks.h"
#include "copunctal/base/text.h"

namespace copunctal {
namespace {

using enum FindingState;

std::string with_digits(double value, int digits) {
  const double scale = std::pow(10, digits);
  return shortest(std::round(value * scale) / scale);
}

DisplayFinding reach(const DeviceLook& look, std::string_view transport) {
  if (transport == "loopback")
    return {"reach", fine, "this computer itself; whether others reach it, they alone can show"};
  if (transport == "tls" && look.is_secure_context) return {"reach", fine, "reached, encrypted"};
  if (transport == "tls")
    return {"reach", note, "reached, encrypted, but its browser takes the page for insecure"};
  return {"reach", note,
          "reached, not encrypted and in no secure context: others of this network can read along, "
          "and its clock is coarser; start with --lan instead"};
}

DisplayFinding plate(const DeviceLook& look) {
  const double wide = static_cast<double>(look.window_px[0]) * look.device_pixel_ratio,
               high = static_cast<double>(look.window_px[1]) * look.device_pixel_ratio,
               room = std::min(wide, high), side = plate_px / look.device_pixel_ratio;
  if (room < plate_px)
    return {"plate", mend,
            "only " + with_digits(room, 0) + " of the " + std::to_string(plate_px) +
                " pixels of a plate fit: make the window larger, take back the page's zoom, or use "
                "another device"};
  const double degrees = side * reference_pixel_degrees;
  const std::string size = "a plate is " + with_digits(side, 0) + " CSS pixels, about " +
                           with_digits(degrees, 1) + " degrees at arm's length";
  if (static_cast<double>(look.window_px[1]) < side + answers_css_px)
    return {"plate", note, size + "; the answer row is below the window: hold it upright"};
  if (degrees < small_plate_degrees) return {"plate", note, size + ": hold it nearer"};
  return {"plate", fine, size};
}

DisplayFinding zoom(const DeviceLook& look) {
  constexpr double tolerance = 0.01;
  if (std::abs(look.pinch_zoom - 1) > tolerance)
    return {"zoom", mend,
            "the page is enlarged " + with_digits(look.pinch_zoom, 2) +
                " times by two fingers, so plates are resampled: make it small again"};
  const std::string ratio = with_digits(look.device_pixel_ratio, 2) + " device pixels a CSS pixel";
  const double to_step = look.device_pixel_ratio * 4;
  if (std::abs(to_step - std::round(to_step)) > 4 * tolerance)
    return {"zoom", note, ratio + ": the page seems to be zoomed; plates stay sharp, but smaller"};
  return {"zoom", fine, ratio};
}

DisplayFinding refresh(const DeviceLook& look) {
  if (!look.refresh_hz)
    return {"refresh", note,
            "too few frames came to be measured: keep the page in front, and check again"};
  const std::string rate = with_digits(*look.refresh_hz, 1) + " Hz, spread " +
                           with_digits(*look.frame_spread_ms, 1) + " ms, " +
                           std::to_string(*look.dropped_frames) + " frames dropped";
  if (*look.refresh_hz < slow_refresh_hz)
    return {"refresh", mend, rate + ": it seems to save power: charge it, or turn that off"};
  const double due = *look.refresh_hz * watched_seconds;
  if (*look.frame_spread_ms > room_spread_ms ||
      static_cast<double>(*look.dropped_frames) > room_dropped_share * due)
    return {"refresh", note, rate + ": uneven; close other pages and programs"};
  return {"refresh", fine, rate};
}

DisplayFinding colour(const DeviceLook& look) {
  const std::string words =
      std::to_string(look.colour_depth) + " bits, " +
      (look.gamut == "srgb" ? "about sRGB"
                            : look.gamut + ", wider than sRGB; codes are drawn as sRGB");
  if (look.colour_depth < 24)
    return {"colour", mend, words + ": too few for plates; choose millions of colours"};
  return {"colour", fine, words};
}

DisplayFinding codes(const DeviceLook& look) {
  if (!look.codes)
    return {"codes", mend, "this browser has no canvas to draw on: use another browser"};
  if (look.codes->wrong == 0)
    return {"codes", fine,
            "all " + std::to_string(look.codes->checked) + " codes came back as they were drawn"};
  return {"codes", mend,
          std::to_string(look.codes->wrong) + " of " + std::to_string(look.codes->checked) +
              " codes came back changed, by up to " + std::to_string(look.codes->largest) +
              ": the browser adds noise or converts colours; allow this address to read a canvas, "
              "or use another browser"};
}

DisplayFinding storage(const DeviceLook& look) {
  if (look.has_storage)
    return {"storage", fine, "answers can wait here while the program is not reached"};
  return {"storage", note,
          "answers that cannot be sent are lost when the page is left: leave the private window"};
}

DisplayFinding clock(const DeviceLook& look, double server_clock_ms) {
  const double apart_s = (look.clock_ms - server_clock_ms) / 1000;
  if (std::abs(apart_s) <= clock_apart_s) return {"clock", fine, "right within two minutes"};
  return {"clock", note,
          with_digits(std::abs(apart_s) / 60, 0) + " minutes " + (apart_s > 0 ? "fast" : "slow") +
              ": harmless, answers are timed by a clock that only counts"};
}

Result<void> check(const DeviceLook& look) {
  constexpr std::int64_t most_px = 32768;
  for (const std::int64_t px : look.window_px)
    if (px < 1 || px > most_px) return wrong_field("window_px", "must be from 1 to 32768");
  const auto is_within = [](double value, double least, double most) {
    return value >= least && value <= most;
  };
  if (!is_within(look.device_pixel_ratio, 0.1, 20))
    return wrong_field("device_pixel_ratio", "must be from 0.1 to 20");
  if (!is_within(look.pinch_zoom, 0.1, 20))
    return wrong_field("pinch_zoom", "must be from 0.1 to 20");
  const bool has_all = look.refresh_hz && look.frame_spread_ms && look.dropped_frames;
  const bool has_none = !look.refresh_hz && !look.frame_spread_ms && !look.dropped_frames;
  if (!has_all && !has_none)
    return wrong_field("refresh_hz", "goes with 'frame_spread_ms' and 'dropped_frames', or none");
  if (has_all &&
      (!is_within(*look.refresh_hz, 1, 1000) || !is_within(*look.frame_spread_ms, 0, 10000) ||
       !is_within(static_cast<double>(*look.dropped_frames), 0, 10000)))
    return wrong_field("refresh_hz", "is out of range");
  if (look.colour_depth < 1 || look.colour_depth > 64)
    return wrong_field("colour_depth", "must be from 1 to 64");
  if (look.gamut != "srgb" && look.gamut != "p3" && look.gamut != "rec2020")
    return wrong_field("gamut", "must be 'srgb', 'p3' or 'rec2020'");
  constexpr std::int64_t most_codes = 1'000'000;
  if (look.codes && (look.codes->checked < 1 || look.codes->checked > most_codes ||
                     look.codes->wrong < 0 || look.codes->wrong > look.codes->checked ||
                     look.codes->largest < 0 || look.codes->largest > 255))
    return wrong_field("codes", "must be counts, the wrong ones among the checked");
  if (!is_within(look.clock_ms, 0, 1e14)) return wrong_field("clock_ms", "is out of range");
  return {};
}

}  // namespace

std::vector<DisplayFinding> findings_of(const DeviceLook& look, std::string_view transport,
                                        double server_clock_ms) {
  return {reach(look, transport), plate(look), zoom(look),    refresh(look),
          colour(look),           codes(look), storage(look), clock(look, server_clock_ms)};
}

FindingState worst_of(const std::vector<DisplayFinding>& findings) {
  FindingState worst = fine;
  for (const DisplayFinding& finding : findings) worst = std::max(worst, finding.state);
  return worst;
}

Result<CheckedDevice> DeviceList::keep(int device, std::string_view transport,
                                       const DeviceLook& look, double server_clock_ms) {
  COPUNCTAL_TRY_VOID(check(look));
  CheckedDevice kept{
      device, {}, std::string(transport), look, findings_of(look, transport, server_clock_ms)};
  {
    const std::lock_guard lock(mutex_);
    const auto before = devices_.find(device);
    const auto is_taken = [&](const std::string& words) {
      return std::any_of(devices_.begin(), devices_.end(),
                         [&](const auto& other) { return other.second.pseudonym == words; });
    };
    if (before != devices_.end()) {
      kept.pseudonym = before->second.pseudonym;
    } else {
      constexpr int tries = 100;
      for (int i = 0; i < tries && (i == 0 || is_taken(kept.pseudonym)); ++i)
        kept.pseudonym = two_words(new_seed(random_));
    }
    devices_.insert_or_assign(device, kept);
  }
  if (heard_) heard_(kept);
  return kept;
}

std::vector<CheckedDevice> DeviceList::devices() const {
  const std::lock_guard lock(mutex_);
  std::vector<CheckedDevice> all;
  all.reserve(devices_.size());
  for (const auto& [number, device] : devices_) all.push_back(device);
  return all;
}

}  // namespace copunctal
