// A display from measured spectra.
#pragma once

#include <string>
#include <string_view>

#include "copunctal/base/result.h"
#include "copunctal/display/display.h"

namespace copunctal {

/// A display from a text of spectra (spectrum/spectral_file.h). Primaries are the samples whose
/// drive is full in one channel and 0 in the others; without drives, those named R, G, B or red,
/// green, blue; without names, three samples in that order. A sample at drive 0 (or named black, K
/// or ambient) is taken off the others and gives the black level. Samples of one channel at rising
/// drives (at least 3) give its tone curve; else the sRGB curve is assumed.
/// Errors (bad_input) as in spectrum/spectral_file.h and display_of_spectra().
Result<Display> display_from_spectra(std::string_view text, const std::string& name);

}  // namespace copunctal
