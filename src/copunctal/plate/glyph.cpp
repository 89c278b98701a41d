#include "copunctal/plate/glyph.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

#include "copunctal/base/expects.h"
#include "copunctal/base/random.h"

namespace copunctal {
namespace {

using Stroke = std::vector<Point>;

// Points of an elliptical arc; angles in degrees, 0 to the right, 90 down.
Stroke arc(Point centre, double rx, double ry, double from_deg, double to_deg) {
  Stroke points;
  const int steps = std::max(2, static_cast<int>(std::abs(to_deg - from_deg) / 12));
  for (int i = 0; i <= steps; ++i) {
    const double a = (from_deg + (to_deg - from_deg) * i / steps) * std::numbers::pi / 180;
    points.push_back({centre.x + rx * std::cos(a), centre.y + ry * std::sin(a)});
  }
  return points;
}

Stroke joined(Stroke first, const Stroke& second) {
  first.insert(first.end(), second.begin(), second.end());
  return first;
}

// Skeletons stay within .3 of the middle sideways and .41 up and down; the stroke adds .085.
std::vector<Glyph> drawn_digits() {
  std::vector<Glyph> d(10);
  d[0].strokes = {arc({0, 0}, 0.29, 0.41, 0, 360)};
  d[1].strokes = {{{-0.17, -0.22}, {0.03, -0.41}, {0.03, 0.41}}};
  d[2].strokes = {joined(arc({-0.02, -0.19}, 0.25, 0.22, 200, 380), {{-0.28, 0.41}, {0.3, 0.41}})};
  d[3].strokes = {joined({{-0.26, -0.41}, {0.24, -0.41}, {-0.02, -0.08}},
                         arc({-0.02, 0.165}, 0.28, 0.245, -90, 155))};
  d[4].strokes = {{{-0.08, -0.41}, {-0.3, 0.16}, {0.3, 0.16}}, {{0.15, -0.16}, {0.15, 0.41}}};
  d[5].strokes = {joined({{0.25, -0.41}, {-0.22, -0.41}, {-0.25, -0.02}},
                         arc({-0.02, 0.15}, 0.29, 0.26, 235, 505))};
  d[6].strokes = {arc({0, 0.16}, 0.28, 0.25, 0, 360), arc({0.24, 0.16}, 0.52, 0.57, 180, 262)};
  d[7].strokes = {{{-0.28, -0.41}, {0.28, -0.41}, {-0.03, 0.41}}};
  d[8].strokes = {arc({0, -0.22}, 0.22, 0.19, 0, 360), arc({0, 0.19}, 0.28, 0.22, 0, 360)};
  d[9].strokes = {arc({0, -0.16}, 0.28, 0.25, 0, 360), arc({-0.24, -0.16}, 0.52, 0.57, 0, 82)};
  return d;
}

double squared_distance_to_segment(Point p, Point a, Point b) {
  const double dx = b.x - a.x, dy = b.y - a.y, px = p.x - a.x, py = p.y - a.y;
  const double length = dx * dx + dy * dy;
  const double t = length > 0 ? std::clamp((px * dx + py * dy) / length, 0.0, 1.0) : 0.0;
  return (px - t * dx) * (px - t * dx) + (py - t * dy) * (py - t * dy);
}

constexpr std::size_t digit_count = 10;

const std::array<std::array<double, digit_count>, digit_count>& correlations() {
  static const auto matrix = [] {
    constexpr int side = 200;
    std::array<std::vector<double>, digit_count> masks;
    for (std::size_t d = 0; d < digit_count; ++d) {
      double sum = 0;
      for (int y = 0; y < side; ++y)
        for (int x = 0; x < side; ++x) {
          masks[d].push_back(
              on_symbol(all_symbols()[d], Place::whole, {(x + 0.5) / side, (y + 0.5) / side}));
          sum += masks[d].back();
        }
      double squares = 0;
      for (double& v : masks[d]) {
        v -= sum / (side * side);
        squares += v * v;
      }
      for (double& v : masks[d]) v /= std::sqrt(squares);
    }
    std::array<std::array<double, digit_count>, digit_count> result{};
    for (std::size_t a = 0; a < digit_count; ++a)
      for (std::size_t b = 0; b < digit_count; ++b)
        for (std::size_t i = 0; i < masks[a].size(); ++i) result[a][b] += masks[a][i] * masks[b][i];
    return result;
  }();
  return matrix;
}

std::size_t digit_index(std::string_view symbol) {
  const auto at = std::find(all_symbols().begin(), all_symbols().end(), symbol);
  expects(at != all_symbols().end());
  return static_cast<std::size_t>(at - all_symbols().begin());
}

}  // namespace

const std::vector<std::string>& all_symbols() {
  static const std::vector<std::string> symbols = {"0", "1", "2", "3", "4",
                                                   "5", "6", "7", "8", "9"};
  return symbols;
}

const Glyph& glyph_of(std::string_view symbol) {
  static const std::vector<Glyph> digits = drawn_digits();
  return digits[digit_index(symbol)];
}

GlyphBox box_of(Place place) {
  // Quarters: glyphs of half the field's height, their centres on the diagonal.
  constexpr double low = 0.275, high = 0.725, quarter_height = 0.46;
  switch (place) {
    case Place::whole:
      return {{0.5, 0.5}, 0.74};
    case Place::upper_left:
      return {{low, low}, quarter_height};
    case Place::lower_right:
      return {{high, high}, quarter_height};
    case Place::upper_right:
      return {{high, low}, quarter_height};
    case Place::lower_left:
      return {{low, high}, quarter_height};
  }
  return {};
}

bool on_symbol(std::string_view symbol, Place place, Point p) {
  const GlyphBox box = box_of(place);
  const Glyph& glyph = glyph_of(symbol);
  const Point q{(p.x - box.centre.x) / box.height, (p.y - box.centre.y) / box.height};
  if (std::abs(q.x) > 0.4 || std::abs(q.y) > 0.5) return false;
  const double limit = glyph.half_width * glyph.half_width;
  for (const auto& stroke : glyph.strokes)
    for (std::size_t i = 1; i < stroke.size(); ++i)
      if (squared_distance_to_segment(q, stroke[i - 1], stroke[i]) <= limit) return true;
  return false;
}

double template_correlation(std::string_view a, std::string_view b) {
  return correlations()[digit_index(a)][digit_index(b)];
}

std::vector<std::string> choose_symbols(std::uint64_t seed, std::size_t count) {
  constexpr double limit = 0.5;
  std::vector<std::vector<std::string>> best;
  for (unsigned subset = 1; subset < 1U << digit_count; ++subset) {
    std::vector<std::string> symbols;
    for (std::size_t d = 0; d < digit_count; ++d)
      if (subset >> d & 1) symbols.push_back(all_symbols()[d]);
    if (symbols.size() > count) continue;
    bool apart = true;
    for (std::size_t i = 0; i < symbols.size() && apart; ++i)
      for (std::size_t j = 0; j < i && apart; ++j)
        apart = template_correlation(symbols[i], symbols[j]) < limit;
    if (!apart) continue;
    if (!best.empty() && symbols.size() > best.front().size()) best.clear();
    if (best.empty() || symbols.size() == best.front().size()) best.push_back(symbols);
  }
  RandomStream random(seed, 10);
  return best[random.below(static_cast<std::uint32_t>(best.size()))];
}

}  // namespace copunctal
