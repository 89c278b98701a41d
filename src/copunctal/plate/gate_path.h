// Gate paths: one way in, four marked gates; the symbol is the gate at which the path comes out.
//
// Entrance and gates have the same places on every plate, and their marks stand in the margin for
// everybody to see. The ways between differ from plate to plate: a plate's seed draws one of
// several shapes. Within a shape the four ways share the stretch behind the entrance and never meet
// again, so that each gate's pebbles are its own.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "copunctal/plate/glyph.h"

namespace copunctal {

/// Width of a path, in units of the field's side: a little over four cells.
inline constexpr double path_width = 0.13;

/// Where the four ways part, and how far from there they may still touch: the common entrance
/// stretch is what lies below the fork or within this distance of it. Field units.
inline constexpr Point path_fork = {0.5, 0.80};
inline constexpr double path_fork_reach = 0.14;

/// "gate 1" to "gate 4".
const std::vector<std::string>& gate_symbols();

/// How many shapes there are, and the one a plate's seed draws.
inline constexpr std::size_t path_shapes = 9;
std::size_t path_shape_of(std::uint64_t plate_seed);

/// The middle line of the way to a gate, from outside the entrance to outside the gate; expects a
/// gate and shape < path_shapes.
const std::vector<Point>& way_to(std::string_view gate, std::size_t shape);

/// A mark in the margin: a triangle that points into the field at the entrance, out of it at the
/// gates, and the gate's digit (empty for the entrance).
struct GateMark {
  std::vector<Point> triangle;  ///< Three corners, field units.
  std::string digit;
  Point digit_centre;
  double digit_height = 0;
};
const std::vector<GateMark>& gate_marks();

/// True when a point (field units, outside the field) is inked by a mark.
bool on_gate_mark(Point p);

}  // namespace copunctal
