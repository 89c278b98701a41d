// Before a class comes: can the devices of this room reach the program, and can they show a plate?
//
// A page on each device looks at itself and sends what it found; what that means is decided here.
// Devices are in memory only, by their number and two words, and end with the serving.
#pragma once

#include <array>
#include <cstdint>
#include <functional>
#include <map>
#include <mutex>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "copunctal/app/display_check.h"
#include "copunctal/base/result.h"
#include "copunctal/store/identifiers.h"

namespace copunctal {

// The limits below decide what is said of a device. All of them are our own choice.
inline constexpr int plate_px = 640;                ///< Side of a plate as it is drawn.
inline constexpr double answers_css_px = 170;       ///< Height the answer row takes below it.
inline constexpr double slow_refresh_hz = 45;       ///< Below: mend, as when saving power.
inline constexpr double room_spread_ms = 4;         ///< Frames vary by more: a note.
inline constexpr double room_dropped_share = 0.05;  ///< More of them missing: a note.
inline constexpr double small_plate_degrees = 5;    ///< Seen smaller than this: a note.
inline constexpr double clock_apart_s = 120;        ///< Clocks further apart: a note.
/// Visual angle of a CSS pixel at arm's length: 1/96 inch at 28 inches (CSS Values and Units 3,
/// section 5.2, the reference pixel).
inline constexpr double reference_pixel_degrees = 0.0213;

/// What drawn codes came back as when they were read from the canvas.
struct CodesRead {
  std::int64_t checked = 0, wrong = 0, largest = 0;  ///< Codes; of the wrong ones, by how much.
};

/// What a page found out about its device.
struct DeviceLook {
  bool is_secure_context = false;
  std::array<std::int64_t, 2> window_px{};  ///< CSS pixels.
  double device_pixel_ratio = 1;
  double pinch_zoom = 1;                              ///< Of the visual viewport.
  std::optional<double> refresh_hz, frame_spread_ms;  ///< Over two seconds; all three or none.
  std::optional<std::int64_t> dropped_frames;
  std::int64_t colour_depth = 24;
  std::string gamut;               ///< "srgb", "p3" or "rec2020".
  std::optional<CodesRead> codes;  ///< Nothing: no canvas.
  bool has_storage = false;        ///< Answers can wait there while nothing is reached.
  double clock_ms = 0;             ///< The device's own time, ms since 1970.
};

/// What each thing means: reach, plate, zoom, refresh, colour, codes, storage, clock, in this
/// order, with what to do where something is wrong. `transport`: "loopback", "plain" or "tls".
std::vector<DisplayFinding> findings_of(const DeviceLook& look, std::string_view transport,
                                        double server_clock_ms);
/// The worst of them.
FindingState worst_of(const std::vector<DisplayFinding>& findings);

struct CheckedDevice {
  int device = 0;         ///< As the class door counts them; 0 is this computer.
  std::string pseudonym;  ///< Two words, for the person who holds it and who looks at the list.
  std::string transport;
  DeviceLook look;
  std::vector<DisplayFinding> findings;
};

/// From any number of threads.
class DeviceList {
 public:
  using Heard = std::function<void(const CheckedDevice&)>;
  explicit DeviceList(RandomBytes random) : random_(std::move(random)) {}

  /// Told of every look that is kept, from whichever thread brings it; before any comes.
  void tell(Heard heard) { heard_ = std::move(heard); }
  /// Keeps a device's look in place of its last one; it keeps its words. Error: bad_input for a
  /// look that cannot be meant.
  Result<CheckedDevice> keep(int device, std::string_view transport, const DeviceLook& look,
                             double server_clock_ms);
  std::vector<CheckedDevice> devices() const;  ///< By number.

 private:
  const RandomBytes random_;
  Heard heard_;
  mutable std::mutex mutex_;
  std::map<int, CheckedDevice> devices_;
};

}  // namespace copunctal
