// A display as text, so that what was made for it can carry it.
#pragma once

#include <string>
#include <string_view>

#include "copunctal/display/display.h"

namespace copunctal {

/// Everything a display is, as JSON on one line: name, known, status, primaries (power per nm of
/// the wavelength grid, three lists), chromaticities and white (x, y), curves, light (peak, black,
/// cd/m2; lux; reflectance), bits, panel, notes. The same display gives the same text, and
/// display_kept() gives the same display back, bit for bit.
std::string kept_display(const Display& display);

/// A display from kept_display(). Errors (bad_input): text that is none, and as check_display().
Result<Display> display_kept(std::string_view text);

/// Whether the display is what its name alone says (named_display()), so that the name is enough to
/// keep it.
bool is_named(const Display& display);

/// How a colour-managed page must read codes meant for this display, so that they reach it as they
/// are: "display-p3" for the named displays of those primaries, else "srgb". On a display read from
/// a file the page's own screen must be set to sRGB, and codes then pass unchanged.
std::string_view colour_space_of(const Display& display);
/// The same of a display known to be named (named_display()), without building it again.
std::string_view colour_space_of_named(std::string_view name);

}  // namespace copunctal
