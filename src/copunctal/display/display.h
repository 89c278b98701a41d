// A display: three primaries as spectra, tone curves, a white, and the light that is always there.
//
// Cone work needs spectra; standards, profiles and a display's own data block give chromaticities.
// Where no spectra were measured a display is built from the chromaticities of its primaries and
// white and the spectral shape of a kind of panel, so that the chromaticities hold exactly and the
// spectra are plausible. The name says both: "srgb/oled". How much the unknown spectra matter is
// display/tolerance.h.
#pragma once

#include <array>
#include <filesystem>
#include <string>
#include <string_view>
#include <vector>

#include "copunctal/base/result.h"
#include "copunctal/colour/quantities.h"
#include "copunctal/colour/tone_curve.h"
#include "copunctal/observer/observer.h"
#include "copunctal/spectrum/spectrum.h"

namespace copunctal {

/// What a display's numbers rest on.
enum class DisplayStatus {
  measured,  ///< Spectra measured on the screen itself.
  profile,   ///< Chromaticities from a profile or the display's own data; spectra assumed.
  assumed,   ///< A standard's chromaticities, or typed ones; spectra assumed.
};
std::string_view name_of(DisplayStatus status);

struct Display {
  std::string name;                ///< "srgb/oled", or a file's name and what was added to it.
  std::array<Power, 3> primaries;  ///< At full drive; their sum is the white, of luminance 1.
  std::array<Chromaticity, 3> chromaticities;
  Chromaticity white;
  DisplayStatus known = DisplayStatus::assumed;
  std::string status;  ///< What is known and what assumed, one sentence for every output.
  std::array<ToneCurve, 3> curves;
  double peak_cd_m2 = 200;    ///< Luminance of white.
  bool peak_known = false;    ///< False: the 200 cd/m2 are assumed.
  double black_cd_m2 = 0;     ///< Of the screen at code 0, in the dark.
  double ambient_lux = 0;     ///< Falling on the screen.
  double reflectance = 0.04;  ///< Diffuse share of it the screen sends back; .04 assumed.
  int bits = 8;               ///< Of a code, per channel.
  std::string panel;          ///< Kind of panel the spectra were taken from; empty when measured.
  std::vector<std::string> notes;  ///< What was resampled, clipped or guessed, a sentence each.
};

/// A display by its description `NAME[,key=value]...` or `FILE[,key=value]...`.
///
/// NAME: "srgb", "display-p3" with "/oled" (default), "/wled", "/qd", "/crt"; "rec2020" with
/// "/lines". FILE: an ICC profile (.icc, .icm), a display's data block (.edid, .bin), measured
/// spectra (.csv, .sp, .ti3, .txt) or a description (.toml), by the readers of display/read_*.h.
/// Keys: gamma (both directions, all channels), peak, black (cd/m2), lux, reflectance, bits (8 or
/// 10), panel (FILE without spectra: shapes to build from).
/// Errors: usage for an unknown name or key, bad_input for a file or a display that cannot be
/// (docs/science/display.md lists what is refused).
Result<Display> display_from(std::string_view description);

/// The same for a NAME only: files are never opened, so texts from elsewhere may be given.
Result<Display> named_display(std::string_view description);

/// Full names of all built-in displays.
std::vector<std::string> display_names();

/// Names of the panels spectra are built from: oled, wled, qd, crt.
std::vector<std::string> panel_names();

/// What any source of chromaticities says; luminances relative, 0 where they follow from the white.
struct PrimaryColours {
  std::array<Chromaticity, 3> primaries;
  Chromaticity white;
};

/// A display of these chromaticities with a panel's spectra: see primaries_from(). Errors:
/// bad_input where the chromaticities are impossible, usage for an unknown panel.
Result<Display> display_of(const PrimaryColours& colours, std::string_view panel);

/// A display of measured spectra, the black level taken off already; scaled so that white has
/// luminance 1. Errors (bad_input): negative power, no light, and as display_of().
Result<Display> display_of_spectra(std::array<Power, 3> primaries);

/// Refuses what cannot be a display, naming the first thing wrong: chromaticities with y <= 0,
/// outside the spectral locus by more than .001, identical or on a line, a white outside their
/// triangle, negative or not finite power, no light, black as bright as white, a cone matrix whose
/// condition number is above 10^6.
Result<void> check_display(const Display& display);
/// The part of it that concerns chromaticities alone.
Result<void> check_colours(const PrimaryColours& colours);

/// How far outside the CIE 1931 spectral locus (with the line of purples), in xy; 0 inside.
double outside_spectral_locus(Chromaticity c);

/// CIE 1931 tristimulus values per linear drive; the white has Y = 1.
LinearMap<LinearRgb, Xyz> xyz_from_linear_rgb(const Display& display);

/// Cone excitations per linear drive, each cone divided by its excitation by the display's white,
/// so that the white is (1, 1, 1). Exact: the integral of each fundamental over each primary. A row
/// of a cone without pigment is 0.
LinearMap<LinearRgb, ConeExcitation> lms_from_linear_rgb(const Fundamentals& fundamentals,
                                                         const Display& display);

/// The light that adds to every colour, relative to a white of luminance 1: black level (of the
/// white's spectrum, assumed) and ambient light lux x reflectance / pi (of CIE D65, assumed).
Power veil(const Display& display);
/// What it does to the cones, on the scale of lms_from_linear_rgb().
ConeExcitation veil_excitation(const Fundamentals& fundamentals, const Display& display);

/// The display's white as a spectrum, luminance 1.
Power white_of(const Display& display);

/// Primaries whose tristimulus values are `targets`, with shapes mixed from `shapes`; where mixing
/// needs negative power, the nearest non-negative spectrum of the same tristimulus values (weighted
/// least squares, weights 1 / (mix / max + .02); solved through its three multipliers).
std::array<Power, 3> primaries_from(const std::array<Power, 3>& shapes,
                                    const std::array<Xyz, 3>& targets);

/// Luminance of a spectrum by CIE 1931 y, summed over the grid.
Xyz tristimulus_values(const Power& power);

}  // namespace copunctal
