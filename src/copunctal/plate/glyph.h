// Strokes: digits drawn by us, round-ended and of even width.
//
// A glyph lives in a box of height 1 around the origin, y down; its strokes are lines of one width.
#pragma once

#include <string>
#include <string_view>
#include <vector>

namespace copunctal {

struct Point {
  double x = 0, y = 0;
};

/// Polylines and half the stroke's width, in units of the glyph's height.
struct Glyph {
  std::vector<std::vector<Point>> strokes;
  double half_width = 0.085;
};

/// The ten digits, "0" to "9", in order.
const std::vector<std::string>& digits();

/// The glyph of a digit; expects one of digits().
const Glyph& glyph_of(std::string_view digit);

/// True when a point lies within `distance` of a polyline.
bool is_within(const std::vector<Point>& line, double distance, Point p);

/// True when a point of the glyph's box lies on one of its strokes.
bool on_glyph(const Glyph& glyph, Point p);

}  // namespace copunctal
