// A display as an ICC profile, so that pictures can say which display their codes are for.
#pragma once

#include <string>

#include "copunctal/display/display.h"

namespace copunctal {

/// A matrix profile of version 4 (ICC.1:2022, written with Little CMS): white, chromaticities and
/// tone curves of the display. Spectra, black and ambient light are not in it. The same display
/// gives the same bytes: the date in the header is that of the format's version, 2022-05-01.
std::string profile_of(const Display& display);

}  // namespace copunctal
