// A plate as SVG: pebbles as they are, not as pixels.
#pragma once

#include <string>

#include "copunctal/plate/plate.h"

namespace copunctal {

/// The plate as an SVG group, its picture (margin included) in the square from (left, top) of the
/// given side, in the units of the page. Pebbles have the plate's codes as #rrggbb.
std::string plate_group(const Plate& plate, double left, double top, double side);

/// A whole SVG of one plate, `side_px` wide, with `title` and `description` for those who listen.
std::string plate_svg(const Plate& plate, int side_px, const std::string& title,
                      const std::string& description);

/// "#0a64ff"
std::string hex_of(const Code& code);

}  // namespace copunctal
