#include "copunctal/plate/gate_path.h"

#include <algorithm>
#include <array>
#include <cmath>

#include "copunctal/base/expects.h"
#include "copunctal/base/random.h"

namespace copunctal {
namespace {

using Way = std::vector<Point>;

constexpr std::size_t gates = 4;
constexpr std::size_t shapes_of_a_half = 3;
constexpr double outside = 0.1;  // ways begin and end this far outside the field

// Gates 1 and 2, entered from the fork; gates 4 and 3 are their mirror images.
constexpr double side_gate_y = 0.30, upper_gate_x = 0.36;

// The ways of the left half beyond the fork, to gate 1 and to gate 2. Between two of them, and from
// the middle line, at least .01 of the field stays free (tested on the raster).
std::array<Way, 2> left_half(std::size_t shape) {
  switch (shape) {
    case 0:  // upright
      return {Way{{0.155, 0.80}, {0.155, side_gate_y}}, Way{{0.36, 0.57}}};
    case 1:  // both lean outwards
      return {Way{{0.27, 0.80}, {0.10, 0.63}, {0.10, side_gate_y}},
              Way{{0.40, 0.63}, {0.275, 0.42}, {0.275, 0.25}, {0.36, 0.12}}};
    default:  // both lean inwards, gate 1 by a detour
      return {Way{{0.15, 0.83}, {0.13, 0.62}, {0.25, 0.48}, {0.25, side_gate_y}},
              Way{{0.415, 0.65}, {0.415, 0.32}, {0.36, 0.18}}};
  }
}

std::vector<std::array<Way, gates>> all_ways() {
  std::vector<std::array<Way, gates>> shapes;
  for (std::size_t shape = 0; shape < path_shapes; ++shape) {
    std::array<Way, gates> ways;
    for (const std::size_t half : {std::size_t{0}, std::size_t{1}}) {
      const auto beyond =
          left_half(half == 0 ? shape % shapes_of_a_half : shape / shapes_of_a_half);
      for (const std::size_t nth : {std::size_t{0}, std::size_t{1}}) {
        Way way = {{path_fork.x, 1 + outside}, path_fork};
        way.insert(way.end(), beyond[nth].begin(), beyond[nth].end());
        way.push_back(nth == 0 ? Point{-outside, side_gate_y} : Point{upper_gate_x, -outside});
        if (half == 1)
          for (Point& p : way) p.x = 1 - p.x;
        ways[half == 0 ? nth : gates - 1 - nth] = std::move(way);
      }
    }
    shapes.push_back(std::move(ways));
  }
  return shapes;
}

std::size_t gate_index(std::string_view gate) {
  const auto at = std::find(gate_symbols().begin(), gate_symbols().end(), gate);
  expects(at != gate_symbols().end());
  return static_cast<std::size_t>(at - gate_symbols().begin());
}

bool is_inside(const std::vector<Point>& triangle, Point p) {
  int left = 0, right = 0;
  for (std::size_t i = 0; i < triangle.size(); ++i) {
    const Point a = triangle[i], b = triangle[(i + 1) % triangle.size()];
    const double side = (b.x - a.x) * (p.y - a.y) - (b.y - a.y) * (p.x - a.x);
    left += side < 0;
    right += side > 0;
  }
  return left == 0 || right == 0;
}

}  // namespace

const std::vector<std::string>& gate_symbols() {
  static const std::vector<std::string> symbols = {"gate 1", "gate 2", "gate 3", "gate 4"};
  return symbols;
}

std::size_t path_shape_of(std::uint64_t plate_seed) {
  return RandomStream(plate_seed, 31).below(static_cast<std::uint32_t>(path_shapes));
}

const std::vector<Point>& way_to(std::string_view gate, std::size_t shape) {
  static const auto ways = all_ways();
  expects(shape < path_shapes);
  return ways[shape][gate_index(gate)];
}

const std::vector<GateMark>& gate_marks() {
  static const std::vector<GateMark> marks = [] {
    // The margin is .032 of the field's side; a mark keeps a little off both of its edges.
    constexpr double near = 0.004, far = 0.028, half = 0.021, beside = 0.042, height = 0.028;
    std::vector<GateMark> all;
    const double middle = (near + far) / 2;
    // In through the lower side, out through the left, upper and right ones.
    all.push_back(
        {{{path_fork.x, 1 + near}, {path_fork.x - half, 1 + far}, {path_fork.x + half, 1 + far}},
         "",
         {},
         0});
    const auto side = [&](double edge, double outward, std::string digit) {
      all.push_back({{{edge + outward * far, side_gate_y},
                      {edge + outward * near, side_gate_y - half},
                      {edge + outward * near, side_gate_y + half}},
                     std::move(digit),
                     {edge + outward * middle, side_gate_y - beside},
                     height});
    };
    const auto upper = [&](double x, std::string digit) {
      all.push_back({{{x, -far}, {x - half, -near}, {x + half, -near}},
                     std::move(digit),
                     {x - beside, -middle},
                     height});
    };
    side(0, -1, "1");
    upper(upper_gate_x, "2");
    upper(1 - upper_gate_x, "3");
    side(1, 1, "4");
    return all;
  }();
  return marks;
}

bool on_gate_mark(Point p) {
  return std::any_of(gate_marks().begin(), gate_marks().end(), [&](const GateMark& mark) {
    if (is_inside(mark.triangle, p)) return true;
    if (mark.digit.empty()) return false;
    return on_glyph(glyph_of(mark.digit), {(p.x - mark.digit_centre.x) / mark.digit_height,
                                           (p.y - mark.digit_centre.y) / mark.digit_height});
  });
}

}  // namespace copunctal
