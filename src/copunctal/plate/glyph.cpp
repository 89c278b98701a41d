#include "copunctal/plate/glyph.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "copunctal/base/expects.h"

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

}  // namespace

const std::vector<std::string>& digits() {
  static const std::vector<std::string> symbols = {"0", "1", "2", "3", "4",
                                                   "5", "6", "7", "8", "9"};
  return symbols;
}

const Glyph& glyph_of(std::string_view digit) {
  static const std::vector<Glyph> drawn = drawn_digits();
  const auto at = std::find(digits().begin(), digits().end(), digit);
  expects(at != digits().end());
  return drawn[static_cast<std::size_t>(at - digits().begin())];
}

bool is_within(const std::vector<Point>& line, double distance, Point p) {
  for (std::size_t i = 1; i < line.size(); ++i)
    if (squared_distance_to_segment(p, line[i - 1], line[i]) <= distance * distance) return true;
  return false;
}

bool on_glyph(const Glyph& glyph, Point p) {
  if (std::abs(p.x) > 0.4 || std::abs(p.y) > 0.5) return false;
  return std::any_of(glyph.strokes.begin(), glyph.strokes.end(),
                     [&](const auto& stroke) { return is_within(stroke, glyph.half_width, p); });
}

}  // namespace copunctal
