// A plate's pebbles with what each belongs to: figure membership and place in the noise order.
#pragma once

#include <cstdint>
#include <vector>

#include "copunctal/plate/field.h"
#include "copunctal/plate/plate.h"
#include "copunctal/plate/symbols.h"

namespace copunctal {

/// Where the field stands in a plate's picture: a margin on each side, in units of the picture's
/// side.
inline constexpr double field_margin = 0.03;
/// The raster on which membership is decided.
inline constexpr int membership_raster = 640;

/// Pebbles of a plate's seed and number of cells, each with its pixels on the membership raster.
struct Mosaic {
  std::vector<Pebble> pebbles;
  std::vector<std::vector<Point>> pixels;  ///< Pixel centres in field units, per pebble.
};
Mosaic mosaic_of(std::uint64_t seed, int cells = usual_cells);
Mosaic mosaic_of(const Plate& plate);

/// Share of each pebble's pixels that lie on the symbol at the place: a pebble belongs to the
/// figure when more than half do; it is never cut. `path_shape` as in plate/symbols.h.
std::vector<bool> members(const Mosaic& mosaic, std::string_view symbol, Place place,
                          std::size_t path_shape = 0);

/// Colour class and noise level of each pebble of a plate.
struct Assignment {
  /// 0 ground, 1 first figure, 2 second, 3 both; and an index below `levels`.
  std::vector<std::uint8_t> part, level;
};
/// Levels are dealt evenly within each part, in an order drawn with the plate's seed, so that no
/// part is brighter than another by chance. The seed is the plate's; it also draws a path's shape.
Assignment assign(const Mosaic& mosaic, const std::vector<Figure>& figures, std::uint64_t seed,
                  std::size_t levels);

}  // namespace copunctal
