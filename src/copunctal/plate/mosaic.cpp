#include "copunctal/plate/mosaic.h"

#include <algorithm>
#include <cmath>

#include "copunctal/base/expects.h"
#include "copunctal/base/random.h"
#include "copunctal/plate/gate_path.h"

namespace copunctal {

Mosaic mosaic_of(const Plate& plate) {
  return mosaic_of(plate.seed, plate.cells);
}

Mosaic mosaic_of(std::uint64_t seed, int cells) {
  Mosaic mosaic;
  mosaic.pebbles = packed_field(seed, field_of(cells));
  constexpr int side = membership_raster;
  for (const Pebble& pebble : mosaic.pebbles) {
    const auto first = [](double v) { return std::max(0, static_cast<int>(std::floor(v * side))); };
    const auto last = [](double v) {
      return std::min(side - 1, static_cast<int>(std::ceil(v * side)));
    };
    const Box box = bounds_of(pebble);
    std::vector<Point>& pixels = mosaic.pixels.emplace_back();
    for (int y = first(box.top); y <= last(box.bottom); ++y)
      for (int x = first(box.left); x <= last(box.right); ++x) {
        const Point p{(x + 0.5) / side, (y + 0.5) / side};
        if (distance_outside(pebble, p) <= 0) pixels.push_back(p);
      }
  }
  return mosaic;
}

std::vector<bool> members(const Mosaic& mosaic, std::string_view symbol, Place place,
                          std::size_t path_shape) {
  const SymbolArea area(symbol, place, path_shape);
  std::vector<bool> belongs;
  for (const auto& pixels : mosaic.pixels) {
    const auto on =
        std::count_if(pixels.begin(), pixels.end(), [&](Point p) { return area.covers(p); });
    belongs.push_back(2 * static_cast<std::size_t>(on) > pixels.size());
  }
  return belongs;
}

Assignment assign(const Mosaic& mosaic, const std::vector<Figure>& figures, std::uint64_t seed,
                  std::size_t levels) {
  expects(levels > 0 && levels < 256 && figures.size() <= 2);
  const std::size_t count = mosaic.pebbles.size();
  Assignment assignment{std::vector<std::uint8_t>(count), std::vector<std::uint8_t>(count)};
  for (std::size_t f = 0; f < figures.size(); ++f) {
    const std::vector<bool> belongs =
        members(mosaic, figures[f].symbol, figures[f].place, path_shape_of(seed));
    for (std::size_t i = 0; i < count; ++i)
      if (belongs[i]) assignment.part[i] = static_cast<std::uint8_t>(assignment.part[i] + 1 + f);
  }
  RandomStream random(seed, 30);
  for (std::size_t part = 0; part < parts_of(figures); ++part) {
    std::vector<std::size_t> own;
    for (std::size_t i = 0; i < count; ++i)
      if (assignment.part[i] == part) own.push_back(i);
    random.shuffle(own);
    for (std::size_t k = 0; k < own.size(); ++k)
      assignment.level[own[k]] = static_cast<std::uint8_t>(k % levels);
  }
  return assignment;
}

}  // namespace copunctal
