// How much an unknown screen matters: the displays it could be as well.
#pragma once

#include <array>
#include <string>
#include <vector>

#include "copunctal/display/display.h"

namespace copunctal {

/// The displays a display could be as well, as far as its spectra are unknown: the same
/// chromaticities, white, curves and light with each panel's spectra (display_of()). A display of
/// measured spectra, or of lines, is alone in its set. The display itself comes first.
std::vector<Display> plausible_displays(const Display& display);

/// Chromaticity of CIE daylight of a correlated colour temperature, 4000 to 25000 K (CIE 15,
/// equations for x_D and y_D). expects that range.
Chromaticity daylight(double kelvin);

/// The displays a plate made for `display` is designed to survive, itself first. One that is only
/// assumed may be anything common: whites of 5000 to 9300 K, gamma 2.0 to 2.4, another panel, wide
/// primaries left unmanaged (or narrow ones, where wide were assumed), light in the room. A profile
/// leaves the panel and the room open, measured spectra the room alone.
std::vector<Display> tolerance_displays(const Display& display);
/// Others of the kind, on which nothing is designed: to see whether a design holds beyond its own.
std::vector<Display> unseen_displays(const Display& display);

/// A number's value for the display itself, and its least and largest over the plausible ones.
struct Spread {
  double value = 0, least = 0, most = 0;
  double half_width() const { return (most - least) / 2; }
};

/// How the numbers of cone work move over the plausible displays.
struct DisplaySpread {
  std::size_t displays = 1;
  std::array<std::array<Spread, 3>, 3> lms;  ///< Rows L, M, S of lms_from_linear_rgb().
  std::array<Spread, 3> rod_weights;         ///< V' of each primary, white 1.
  double largest_cone_entry = 0;             ///< Largest half width among `lms`.
  double largest_rod_weight = 0;
};
DisplaySpread spread_over_spectra(const Display& display, const Observer& observer);

/// V' (CIE 1951) of each primary, white 1.
std::array<double, 3> rod_weights(const Display& display);

}  // namespace copunctal
