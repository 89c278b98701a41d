// A display: three primaries as spectra, a tone curve, a white.
//
// Cone work needs spectra; standards give chromaticities. A display is therefore built from the
// chromaticities of its primaries and white and the spectral shape of a kind of panel, so that the
// chromaticities hold exactly and the spectra are plausible. The name says both: "srgb/oled".
#pragma once

#include <array>
#include <string>
#include <string_view>
#include <vector>

#include "copunctal/base/result.h"
#include "copunctal/colour/quantities.h"
#include "copunctal/observer/observer.h"
#include "copunctal/spectrum/spectrum.h"

namespace copunctal {

struct Display {
  std::string name;                ///< "srgb/oled"
  std::array<Power, 3> primaries;  ///< At full drive; their sum is the white, of luminance 1.
  std::array<Chromaticity, 3> chromaticities;
  Chromaticity white;
  std::string status;  ///< What is known and what assumed, one sentence for every output.
};

/// A built-in display: "srgb" or "display-p3", with "/oled" (default), "/wled", "/qd" or "/crt".
/// Error (usage) for any other name. Tone curve: sRGB (IEC 61966-2-1) for both.
Result<Display> display_from(std::string_view name);

/// Full names of all built-in displays.
std::vector<std::string> display_names();

/// CIE 1931 tristimulus values per linear drive; the white has Y = 1.
LinearMap<LinearRgb, Xyz> xyz_from_linear_rgb(const Display& display);

/// Cone excitations per linear drive, each cone divided by its excitation by the display's white,
/// so that the white is (1, 1, 1). Exact: the integral of each fundamental over each primary. A row
/// of a cone without pigment is 0.
LinearMap<LinearRgb, ConeExcitation> lms_from_linear_rgb(const Fundamentals& fundamentals,
                                                         const Display& display);

/// Where the colours meet that an observer without that cone confuses, in CIE 1931 xy as this
/// display makes them: the chromaticity of the column of XYZ per cone. Order L, M, S.
std::array<Chromaticity, 3> copunctal_points(const Display& display);

/// Primaries whose tristimulus values are `targets`, with shapes mixed from `shapes`; where mixing
/// needs negative power, the nearest non-negative spectrum of the same tristimulus values (weighted
/// least squares, weights 1 / (mix / max + .02); solved through its three multipliers).
std::array<Power, 3> primaries_from(const std::array<Power, 3>& shapes,
                                    const std::array<Xyz, 3>& targets);

}  // namespace copunctal
