// The field: a rounded square packed with pebbles, blind to any figure.
//
// Pebbles are the cells of a power diagram (Aurenhammer 1987, SIAM J. Comput. 16:78-96), relaxed
// until each stands over its centroid and has about the area it was given, then drawn in from each
// other by half the gap and rounded. The mix of sizes is fixed and shuffled, so size carries no
// cue.
#pragma once

#include <cstdint>
#include <vector>

#include "copunctal/plate/glyph.h"

namespace copunctal {

/// How many pebbles a field may have, and has where nothing else is said.
inline constexpr int fewest_cells = 300, usual_cells = 1000, most_cells = 1300;

/// Shape of a field; lengths in units of its side.
struct FieldOptions {
  int cells = usual_cells;
  double gap = 0.0046;       ///< Least distance between two pebbles.
  double corner = 0.14;      ///< Radius of the field's corners.
  double rounding = 0.0052;  ///< Radius of the pebbles' corners.
};

/// One pebble: a convex polygon such that the pebble is everything within `rounding` of it.
struct Pebble {
  std::vector<Point> core;
  double rounding = 0;
  Point centre;
  double area = 0;
};

/// A plate's field of so many cells: gap and rounding go with a cell's side.
FieldOptions field_of(int cells);

/// The pebbles of a seed; the same on every run. expects cells >= 50.
std::vector<Pebble> packed_field(std::uint64_t seed, const FieldOptions& options = {});

/// A rectangle with its sides along the field's.
struct Box {
  double left = 1, top = 1, right = 0, bottom = 0;
};

/// The smallest box around a pebble, its rounding included.
Box bounds_of(const Pebble& pebble);

/// Distance from a point to the pebble's edge: negative inside.
double distance_outside(const Pebble& pebble, Point p);

}  // namespace copunctal
