// Symbols as strokes: digits drawn by us, round-ended and of even width.
//
// A glyph lives in a box of height 1 around the origin, y down; its strokes are lines of one width.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "copunctal/plate/plate.h"

namespace copunctal {

struct Point {
  double x = 0, y = 0;
};

/// Polylines and half the stroke's width, in units of the glyph's height.
struct Glyph {
  std::vector<std::vector<Point>> strokes;
  double half_width = 0.085;
};

/// The ten digits, "0" to "9", in order: all symbols there are so far.
const std::vector<std::string>& all_symbols();

/// The glyph of a symbol; expects that it is one of all_symbols().
const Glyph& glyph_of(std::string_view symbol);

/// Where a place puts its glyph: centre and height, in units of the field's side, origin upper
/// left.
struct GlyphBox {
  Point centre;
  double height = 0;
};
GlyphBox box_of(Place place);

/// True when a point (field units) lies on the symbol drawn at `place`.
bool on_symbol(std::string_view symbol, Place place, Point p);

/// Correlation of two symbols drawn at the same place, over the points of the field (raster of 200
/// x 200): 1 the same, 0 unrelated.
double template_correlation(std::string_view a, std::string_view b);

/// Symbols for a set: a subset of `count` whose pairwise correlations are all below .5, drawn by
/// seed among all such subsets, in ascending order. Fewer when there is no such subset.
std::vector<std::string> choose_symbols(std::uint64_t seed, std::size_t count);

}  // namespace copunctal
