// A display from an ICC profile.
#pragma once

#include <string>
#include <string_view>

#include "copunctal/base/result.h"
#include "copunctal/display/display.h"

namespace copunctal {

/// A display from an ICC profile of version 2 or 4 (ICC.1; read with Little CMS), RGB, class
/// display, input or colour space.
///
/// Matrix/TRC profiles: the colorants stand in the profile connection space, adapted to D50. They
/// are taken back by the inverse of the chromatic adaptation tag (chad), or, where there is none
/// (version 2), by Bradford from D50 to the media white point. Profiles with tables only: white and
/// primaries are looked up through the profile (media-relative colorimetric), taken back the same
/// way, and a note says by how much the sum of the primaries misses the white; more than .05 of it
/// is refused. Tone curves: the TRC tags, or each channel's ramp alone.
///
/// Spectra are assumed: those of `panel`. Errors (bad_input) name what is missing.
Result<Display> display_from_profile(std::string_view bytes, const std::string& name,
                                     std::string_view panel);

}  // namespace copunctal
