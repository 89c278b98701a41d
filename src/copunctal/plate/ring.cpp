#include "copunctal/plate/ring.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "copunctal/base/expects.h"

namespace copunctal {

const std::vector<std::string>& ring_symbols(bool turned) {
  static const std::vector<std::string> upright = {"down", "left", "right", "up"};
  static const std::vector<std::string> by_an_eighth = {"down left", "down right", "up left",
                                                        "up right"};
  return turned ? by_an_eighth : upright;
}

Point gap_of(std::string_view symbol) {
  constexpr double half = std::numbers::sqrt2 / 2;
  static const std::vector<Point> upright = {{0, 1}, {-1, 0}, {1, 0}, {0, -1}};
  static const std::vector<Point> by_an_eighth = {
      {-half, half}, {half, half}, {-half, -half}, {half, -half}};
  for (const bool turned : {false, true}) {
    const auto& names = ring_symbols(turned);
    const auto at = std::find(names.begin(), names.end(), symbol);
    if (at != names.end())
      return (turned ? by_an_eighth : upright)[static_cast<std::size_t>(at - names.begin())];
  }
  expects(false);
  return {};
}

bool on_ring(Point gap, Point p) {
  const double radius = std::hypot(p.x, p.y);
  if (radius > 0.5 || radius < 0.5 - ring_stroke) return false;
  const bool is_on_its_side = p.x * gap.x + p.y * gap.y > 0;
  return !is_on_its_side || std::abs(p.x * gap.y - p.y * gap.x) > ring_gap / 2;
}

}  // namespace copunctal
