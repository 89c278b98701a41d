// Everything a display's description comes to.
#pragma once

#include <array>
#include <string>

#include "copunctal/display/display.h"
#include "copunctal/display/tolerance.h"

namespace copunctal {

struct DisplayDescription {
  Display display;
  LinearMap<LinearRgb, Xyz> xyz;              ///< White Y = 1.
  LinearMap<LinearRgb, ConeExcitation> lms;   ///< CIE 170-1:2006, 32 years, 2 degrees.
  std::array<double, 3> luminance_weights{};  ///< CIE 1931 y of R, G, B, white 1.
  std::array<double, 3> rods{}, s_cones{};    ///< V' and S of R, G, B, white 1.
  double veil = 0;                            ///< Luminance that adds everywhere, white 1.
  double contrast = 0;  ///< (white + veil) / (black + veil); 0 where nothing is known of black.
  double white_temperature_k = 0;  ///< Correlated colour temperature.
  double area_uv = 0;              ///< Of the triangle in u'v'.
  double share_of_srgb = 0;        ///< That area over sRGB's.
  DisplaySpread spread;
};

DisplayDescription describe_display(const Display& display);
/// As JSON; keys in docs/commands.md.
std::string description_json(const DisplayDescription& description);
std::string description_text(const DisplayDescription& description);

}  // namespace copunctal
