// A wide notched ring: a closed ring but for one notch with parallel sides; the symbol is where the
// notch is.
//
// The idea of a ring with a gap at a stated place is that of ISO 8596; its proportions are not used
// (there the stroke and the gap are a fifth of the ring). A ring of pebbles needs a heavier stroke,
// and a gap that is wider than the stroke, so that it stays a gap when pebbles straddle its sides.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "copunctal/plate/glyph.h"

namespace copunctal {

/// Proportions in units of the ring's outer diameter.
inline constexpr double ring_stroke = 0.24;
inline constexpr double ring_gap = 0.36;
static_assert(ring_gap >= 1.1 * ring_stroke);

/// Gaps a quarter turn apart, ascending: upright, "down", "left", "right", "up"; turned by an
/// eighth, "down left", "down right", "up left", "up right".
const std::vector<std::string>& ring_symbols(bool turned);

/// Unit vector from the ring's centre to its gap, y down; expects a symbol of ring_symbols().
Point gap_of(std::string_view symbol);

/// True when a point lies on the ring of diameter 1 around the origin with its gap toward `gap`.
bool on_ring(Point gap, Point p);

}  // namespace copunctal
