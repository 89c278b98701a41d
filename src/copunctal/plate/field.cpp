#include "copunctal/plate/field.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <utility>

#include "copunctal/base/expects.h"
#include "copunctal/base/random.h"

namespace copunctal {
namespace {

using Polygon = std::vector<Point>;

struct Site {
  Point at;
  double weight = 0, target_area = 0;
};

// Keeps the part of the polygon where n . p <= offset.
void clip(Polygon& polygon, Point n, double offset) {
  Polygon kept;
  kept.reserve(polygon.size() + 1);
  for (std::size_t i = 0; i < polygon.size(); ++i) {
    const Point a = polygon[i], b = polygon[(i + 1) % polygon.size()];
    const double da = n.x * a.x + n.y * a.y - offset, db = n.x * b.x + n.y * b.y - offset;
    if (da <= 0) kept.push_back(a);
    if ((da < 0 && db > 0) || (da > 0 && db < 0)) {
      const double t = da / (da - db);
      kept.push_back({a.x + t * (b.x - a.x), a.y + t * (b.y - a.y)});
    }
  }
  polygon = std::move(kept);
}

double area_of(const Polygon& polygon) {
  double twice = 0;
  for (std::size_t i = 0; i < polygon.size(); ++i) {
    const Point a = polygon[i], b = polygon[(i + 1) % polygon.size()];
    twice += a.x * b.y - b.x * a.y;
  }
  return twice / 2;
}

Point centroid_of(const Polygon& polygon) {
  double area = 0, x = 0, y = 0;
  for (std::size_t i = 0; i < polygon.size(); ++i) {
    const Point a = polygon[i], b = polygon[(i + 1) % polygon.size()];
    const double cross = a.x * b.y - b.x * a.y;
    area += cross;
    x += (a.x + b.x) * cross;
    y += (a.y + b.y) * cross;
  }
  return {x / (3 * area), y / (3 * area)};
}

// The same polygon with every edge moved inwards by `distance`.
Polygon inset(const Polygon& polygon, double distance) {
  Polygon result = polygon;
  for (std::size_t i = 0; i < polygon.size(); ++i) {
    const Point a = polygon[i], b = polygon[(i + 1) % polygon.size()];
    const double length = std::hypot(b.x - a.x, b.y - a.y);
    if (length < 1e-12) continue;
    const Point outward{(b.y - a.y) / length, -(b.x - a.x) / length};
    clip(result, outward, outward.x * a.x + outward.y * a.y - distance);
    if (result.size() < 3) return {};
  }
  return result;
}

Polygon rounded_square(double corner) {
  Polygon outline;
  const std::array<Point, 4> centres = {
      {{1 - corner, corner}, {1 - corner, 1 - corner}, {corner, 1 - corner}, {corner, corner}}};
  constexpr int steps = 10;
  for (std::size_t c = 0; c < centres.size(); ++c)
    for (int i = 0; i <= steps; ++i) {
      const double a = (-90 + 90 * (static_cast<double>(c) + static_cast<double>(i) / steps)) *
                       std::numbers::pi / 180;
      outline.push_back({centres[c].x + corner * std::cos(a), centres[c].y + corner * std::sin(a)});
    }
  return outline;
}

// Sites sorted into square bins, so that a cell meets its neighbours from the inside out.
class Bins {
 public:
  // Site i is sites[i]; what is kept here is a copy, bin by bin.
  explicit Bins(const std::vector<Site>& sites)
      : side_(std::max(1, static_cast<int>(std::sqrt(static_cast<double>(sites.size()))))),
        first_(static_cast<std::size_t>(side_) * static_cast<std::size_t>(side_) + 1) {
    std::vector<std::size_t> bin_of;
    bin_of.reserve(sites.size());
    heaviest_ = sites.front().weight;
    for (const Site& site : sites) {
      bin_of.push_back(index(bin(site.at.x), bin(site.at.y)));
      ++first_[bin_of.back() + 1];
      heaviest_ = std::max(heaviest_, site.weight);
    }
    for (std::size_t b = 1; b < first_.size(); ++b) first_[b] += first_[b - 1];
    std::vector<std::size_t> next(first_.begin(), first_.end() - 1);
    sorted_.resize(sites.size());
    for (std::size_t i = 0; i < sites.size(); ++i) sorted_[next[bin_of[i]]++] = sites[i];
  }

  double heaviest() const { return heaviest_; }

  static constexpr int rings = 4;  // beyond, no site cuts a cell of a field this even
  // Calls cut(site) for every site of ring r of bins around a point: 0 its own bin, 1 the eight
  // around it, and so on.
  template <class Cut>
  void ring(Point p, int r, Cut&& cut) const {
    const int bx = bin(p.x), by = bin(p.y);
    for (int y = std::max(0, by - r); y <= std::min(side_ - 1, by + r); ++y) {
      const bool whole_row = y == by - r || y == by + r;
      for (int x = bx - r; x <= bx + r; x += whole_row || r == 0 ? 1 : 2 * r) {
        if (x < 0 || x >= side_) continue;
        const std::size_t b = index(x, y);
        for (std::size_t k = first_[b]; k < first_[b + 1]; ++k) cut(sorted_[k]);
      }
    }
  }
  // No site of ring r or beyond is nearer to the point than this.
  double least_distance(Point p, int r) const {
    if (r == 0) return 0;
    const double x = p.x * side_, y = p.y * side_;
    const double to_left = x - bin(p.x), to_top = y - bin(p.y);
    return (r - 1 + std::min(std::min(to_left, 1 - to_left), std::min(to_top, 1 - to_top))) / side_;
  }

 private:
  int bin(double v) const { return std::clamp(static_cast<int>(v * side_), 0, side_ - 1); }
  std::size_t index(int x, int y) const {
    return static_cast<std::size_t>(y) * static_cast<std::size_t>(side_) +
           static_cast<std::size_t>(x);
  }

  int side_;
  double heaviest_ = 0;
  std::vector<std::size_t> first_;
  std::vector<Site> sorted_;
};

// A small convex polygon that is cut many times; no memory is asked for.
class Cell {
 public:
  // The unit square, in coordinates from `origin`.
  explicit Cell(Point origin)  // NOLINT(cppcoreguidelines-pro-type-member-init)
      : origin_(origin), count_(4) {
    const double l = -origin.x, t = -origin.y;
    std::copy_n(std::array{l, l + 1, l + 1, l}.begin(), 4, x_.begin());
    std::copy_n(std::array{t, t, t + 1, t + 1}.begin(), 4, y_.begin());
    measure();
  }

  // Keeps the part where n . p <= offset, p from the origin.
  void cut(Point n, double offset) {
    Numbers beyond;
    bool any = false;
    for (std::size_t i = 0; i < count_; ++i) {
      beyond[i] = n.x * x_[i] + n.y * y_[i] - offset;
      any = any || beyond[i] > 0;
    }
    if (!any) return;
    Numbers x, y;
    std::size_t k = 0;
    for (std::size_t i = 0; i < count_; ++i) {
      const std::size_t j = i + 1 == count_ ? 0 : i + 1;
      if (beyond[i] <= 0) {
        x[k] = x_[i];
        y[k++] = y_[i];
      }
      if (beyond[i] * beyond[j] < 0) {
        const double t = beyond[i] / (beyond[i] - beyond[j]);
        x[k] = x_[i] + t * (x_[j] - x_[i]);
        y[k++] = y_[i] + t * (y_[j] - y_[i]);
      }
    }
    expects(k + 2 < most);
    count_ = k < 3 ? 0 : k;
    std::copy_n(x.begin(), count_, x_.begin());
    std::copy_n(y.begin(), count_, y_.begin());
    measure();
  }

  bool is_empty() const { return count_ == 0; }
  double reach_squared() const { return reach_squared_; }  // Of the farthest corner.
  // Area 0 of what is empty; the centroid in coordinates of the field.
  std::pair<double, Point> area_and_centroid() const {
    double area = 0, x = 0, y = 0;
    for (std::size_t i = 0; i < count_; ++i) {
      const std::size_t j = i + 1 == count_ ? 0 : i + 1;
      const double cross = x_[i] * y_[j] - x_[j] * y_[i];
      area += cross;
      x += (x_[i] + x_[j]) * cross;
      y += (y_[i] + y_[j]) * cross;
    }
    if (count_ == 0) return {0, origin_};
    return {area / 2, {origin_.x + x / (3 * area), origin_.y + y / (3 * area)}};
  }
  Polygon polygon() const {
    Polygon result;
    for (std::size_t i = 0; i < count_; ++i)
      result.push_back({x_[i] + origin_.x, y_[i] + origin_.y});
    return result;
  }

 private:
  static constexpr std::size_t most = 64;
  using Numbers = std::array<double, most>;  // The first count_ of them are set.

  void measure() {
    reach_squared_ = 0;
    for (std::size_t i = 0; i < count_; ++i)
      reach_squared_ = std::max(reach_squared_, x_[i] * x_[i] + y_[i] * y_[i]);
  }

  Point origin_;
  std::size_t count_ = 0;
  double reach_squared_ = 0;
  // Only the first count_ are ever read: setting the rest would take most of the time.
  Numbers x_, y_;
};

// The edges of an outline, and which part of the square they leave alone.
struct Edges {
  struct Edge {
    Point outward;  // of length 1
    double offset = 0;
  };
  std::vector<Edge> edges;
  double corner = 0;

  Edges(const Polygon& outline, double corner_radius) : corner(corner_radius) {
    for (std::size_t i = 0; i < outline.size(); ++i) {
      const Point a = outline[i], b = outline[(i + 1) % outline.size()];
      const double length = std::hypot(b.x - a.x, b.y - a.y);
      if (length < 1e-12) continue;
      const Point outward{(b.y - a.y) / length, -(b.x - a.x) / length};
      edges.push_back({outward, outward.x * a.x + outward.y * a.y});
    }
  }
  // Whether everything within `reach` of the point is inside as soon as it is inside the square.
  bool leaves_alone(Point p, double reach) const {
    const double x = std::min(p.x, 1 - p.x), y = std::min(p.y, 1 - p.y);
    return x - reach > corner || y - reach > corner;
  }
};

// Leaves what is nearer (in power distance) to a site than to any other, inside the outline.
void cut_to_size(Cell& cell, const Site& own, const Bins& bins, const Edges& outline) {
  const double lighter = bins.heaviest() - own.weight;
  for (int r = 0; r < Bins::rings && !cell.is_empty(); ++r) {
    // Beyond this distance no site, however heavy, cuts the cell any more.
    const double d = bins.least_distance(own.at, r), bound = d * d - lighter;
    if (bound > 0 && bound * bound > 4 * d * d * cell.reach_squared()) break;
    bins.ring(own.at, r, [&](const Site& other) {
      const Point n{other.at.x - own.at.x, other.at.y - own.at.y};
      const double squared = n.x * n.x + n.y * n.y;
      if (squared == 0) return;
      const double bisector = (squared + own.weight - other.weight) / 2;
      if (bisector > 0 && bisector * bisector > squared * cell.reach_squared()) return;
      cell.cut(n, bisector);
    });
  }
  const double reach = std::sqrt(cell.reach_squared());
  if (outline.leaves_alone(own.at, reach)) return;
  for (const auto& [outward, from_zero] : outline.edges) {
    const double offset = from_zero - outward.x * own.at.x - outward.y * own.at.y;
    if (offset < reach && !cell.is_empty()) cell.cut(outward, offset);
  }
}

std::vector<Site> scattered(RandomStream& random, int cells, const Polygon& outline) {
  // Relative areas of the size mix; the shares are kept exactly.
  constexpr std::array<double, 4> areas = {0.45, 0.8, 1.15, 1.75};
  constexpr std::array<double, 4> shares = {0.25, 0.30, 0.27, 0.18};
  std::vector<double> sizes;
  for (std::size_t s = 0; s < areas.size(); ++s)
    for (int k = 0; k < static_cast<int>(shares[s] * cells); ++k) sizes.push_back(areas[s]);
  while (sizes.size() < static_cast<std::size_t>(cells)) sizes.push_back(areas[1]);
  random.shuffle(sizes);
  double total = 0;
  for (const double size : sizes) total += size;

  const auto inside = [&](Point p) {
    for (std::size_t i = 0; i < outline.size(); ++i) {
      const Point a = outline[i], b = outline[(i + 1) % outline.size()];
      if ((b.x - a.x) * (p.y - a.y) - (b.y - a.y) * (p.x - a.x) < 0) return false;
    }
    return true;
  };
  const double field_area = area_of(outline);
  std::vector<Site> sites;
  for (const double size : sizes) {
    Site site;
    do {
      site.at.x = random.uniform();
      site.at.y = random.uniform();
    } while (!inside(site.at));
    site.target_area = size / total * field_area;
    sites.push_back(site);
  }
  return sites;
}

}  // namespace

FieldOptions field_of(int cells) {
  FieldOptions options;
  const double side = std::sqrt(static_cast<double>(usual_cells) / cells);
  options.cells = cells;
  options.gap *= side;
  options.rounding *= side;
  return options;
}

std::vector<Pebble> packed_field(std::uint64_t seed, const FieldOptions& options) {
  expects(options.cells >= 50);
  RandomStream random(seed, 20);
  const Polygon outline = rounded_square(options.corner);
  std::vector<Site> sites = scattered(random, options.cells, outline);

  const Edges edges(outline, options.corner);
  std::vector<Site> moved(sites.size());
  std::vector<Polygon> cells(sites.size());
  constexpr int relaxations = 40;
  for (int step = 0; step <= relaxations; ++step) {
    const Bins bins(sites);
    for (std::size_t i = 0; i < sites.size(); ++i) {
      Cell cell(sites[i].at);
      cut_to_size(cell, sites[i], bins, edges);
      if (step == relaxations) {
        cells[i] = cell.polygon();
        continue;
      }
      const auto [area, centroid] = cell.area_and_centroid();
      moved[i].weight = sites[i].weight;
      moved[i].target_area = sites[i].target_area;
      moved[i].at = area > 0 ? centroid : sites[i].at;
      // A cell too small gains weight; half a step keeps it stable. No weight before the sites
      // spread.
      if (step >= 5) moved[i].weight += 0.25 * (sites[i].target_area - area);
    }
    if (step < relaxations) std::swap(sites, moved);
  }

  std::vector<Pebble> pebbles;
  for (const Polygon& cell : cells) {
    if (cell.empty()) continue;
    Pebble pebble;
    pebble.rounding = options.rounding;
    pebble.core = inset(cell, options.gap / 2 + options.rounding);
    if (pebble.core.size() < 3) continue;
    pebble.centre = centroid_of(pebble.core);
    double boundary = 0;
    for (std::size_t i = 0; i < pebble.core.size(); ++i) {
      const Point a = pebble.core[i], b = pebble.core[(i + 1) % pebble.core.size()];
      boundary += std::hypot(b.x - a.x, b.y - a.y);
    }
    pebble.area = area_of(pebble.core) + boundary * pebble.rounding +
                  std::numbers::pi * pebble.rounding * pebble.rounding;
    pebbles.push_back(std::move(pebble));
  }
  return pebbles;
}

Box bounds_of(const Pebble& pebble) {
  Box box;
  for (const Point p : pebble.core) {
    box.left = std::min(box.left, p.x);
    box.right = std::max(box.right, p.x);
    box.top = std::min(box.top, p.y);
    box.bottom = std::max(box.bottom, p.y);
  }
  return {box.left - pebble.rounding, box.top - pebble.rounding, box.right + pebble.rounding,
          box.bottom + pebble.rounding};
}

double distance_outside(const Pebble& pebble, Point p) {
  double inside = -1e9, nearest_squared = 1e9;
  const std::size_t corners = pebble.core.size();
  for (std::size_t i = 0; i < corners; ++i) {
    const Point a = pebble.core[i], b = pebble.core[i + 1 == corners ? 0 : i + 1];
    const double dx = b.x - a.x, dy = b.y - a.y, squared = dx * dx + dy * dy;
    if (squared < 1e-30) continue;
    const double px = p.x - a.x, py = p.y - a.y;
    inside = std::max(inside, (px * dy - py * dx) / std::sqrt(squared));
    const double t = std::clamp((px * dx + py * dy) / squared, 0.0, 1.0);
    nearest_squared =
        std::min(nearest_squared, (px - t * dx) * (px - t * dx) + (py - t * dy) * (py - t * dy));
  }
  return (inside <= 0 ? inside : std::sqrt(nearest_squared)) - pebble.rounding;
}

}  // namespace copunctal
