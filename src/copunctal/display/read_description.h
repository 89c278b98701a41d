// A display described in a text of our own, in TOML: typed chromaticities, files beside it, light.
#pragma once

#include <filesystem>
#include <string>
#include <string_view>

#include "copunctal/base/result.h"
#include "copunctal/display/display.h"

namespace copunctal {

/// A display from TOML:
///
///   name = "hall projector"
///   [chromaticities]            # or [spectra], not both
///   red = [0.64, 0.33]          # with a third number: luminance of the primary, cd/m2 (all three)
///   green = [0.30, 0.60]
///   blue = [0.15, 0.06]
///   white = [0.3127, 0.3290]    # left out where three luminances are given
///   panel = "oled"              # shapes to build spectra from; default oled
///   [spectra]
///   file = "projector.csv"      # or red, green, blue (and black) = "one file each"
///   [curve]
///   gamma = 2.2                 # or [2.2, 2.1, 2.3]
///   file = "ramp.csv"           # instead: code,R,G,B with codes 0 to 255 and light in any unit
///   [light]
///   peak = 250                  # cd/m2 of white
///   black = 0.25                # cd/m2 at code 0
///   lux = 120                   # on the screen
///   reflectance = 0.04
///   bits = 8
///
/// Files are looked for beside `folder`. Errors (bad_input): unknown keys, wrong types, what the
/// readers and check_display() refuse.
Result<Display> display_from_description(std::string_view text, const std::string& name,
                                         const std::filesystem::path& folder);

/// A table "code,R,G,B" (or "code,light" for all three) into tone curves.
Result<std::array<ToneCurve, 3>> curves_from_csv(std::string_view text, const std::string& name);

}  // namespace copunctal
