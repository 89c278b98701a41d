// A check of a screen without instruments, as somebody made it and a browser measured it.
#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

namespace copunctal {

/// A raster of full-on and full-off lines that looked like a uniform field beside it.
struct ToneMatch {
  std::string channel;    ///< "r", "g" or "b".
  double share = 0;       ///< Of the raster's lines that are full on: .25, .5 or .75.
  std::int64_t code = 0;  ///< Of the uniform field, 0..255.
};

/// What was seen, said and measured; nothing is judged here. Pixels are CSS pixels.
struct ScreenCheck {
  std::string display;            ///< The display assumed: "srgb/oled".
  std::optional<double> card_px;  ///< Long side of an ID-1 card.
  double device_pixel_ratio = 1;
  std::array<std::int64_t, 2> screen_px{}, screen_at{};  ///< Width and height; left and top.
  std::int64_t colour_depth = 24;                        ///< Bits.
  std::string gamut = "srgb";                            ///< "srgb", "p3" or "rec2020".
  std::vector<ToneMatch> tone_matches;
  std::optional<std::int64_t> black_step;  ///< Smallest code told from black; nothing: none was.
  std::optional<std::int64_t> white_step;  ///< Largest code told from white.
  std::optional<std::string> neutral;      ///< "neutral" or "tinted".
  bool night_mode_off = false, adapted = false;
  std::optional<std::string> room_light;  ///< "dim", "office" or "bright".
  std::string statement;                  ///< The instructor's own words.
  std::optional<double> refresh_hz, frame_spread_ms;
  std::optional<std::int64_t> dropped_frames;  ///< Of those due in two seconds.
};

struct DisplayRecord {
  std::string id, made_utc, expires_utc;
  std::optional<std::string> ended;  ///< "zoom", "moved", "mode", "expired" or "replaced".
  std::optional<std::string> ended_utc;
  ScreenCheck check;
};

}  // namespace copunctal
