#include "copunctal/plate/field.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

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

// Sites in square bins, for finding neighbours.
class Bins {
 public:
  explicit Bins(const std::vector<Site>& sites)
      : side_(std::max(1, static_cast<int>(std::sqrt(static_cast<double>(sites.size()))))),
        bins_(static_cast<std::size_t>(side_) * static_cast<std::size_t>(side_)) {
    for (std::size_t i = 0; i < sites.size(); ++i)
      bins_[index(bin(sites[i].at.x), bin(sites[i].at.y))].push_back(i);
  }

  struct Neighbour {
    double squared_distance;
    std::size_t site;
  };
  // Sites within three bins, nearest first.
  void near(const std::vector<Site>& sites, std::size_t self, std::vector<Neighbour>& found) const {
    found.clear();
    const Point p = sites[self].at;
    constexpr int reach = 3;
    const int bx = bin(p.x), by = bin(p.y);
    for (int y = std::max(0, by - reach); y <= std::min(side_ - 1, by + reach); ++y)
      for (int x = std::max(0, bx - reach); x <= std::min(side_ - 1, bx + reach); ++x)
        for (const std::size_t i : bins_[index(x, y)]) {
          const double dx = sites[i].at.x - p.x, dy = sites[i].at.y - p.y;
          if (i != self) found.push_back({dx * dx + dy * dy, i});
        }
    std::sort(found.begin(), found.end(), [](const Neighbour& a, const Neighbour& b) {
      return a.squared_distance < b.squared_distance ||
             (a.squared_distance == b.squared_distance && a.site < b.site);
    });
  }

 private:
  int bin(double v) const { return std::clamp(static_cast<int>(v * side_), 0, side_ - 1); }
  std::size_t index(int x, int y) const {
    return static_cast<std::size_t>(y) * static_cast<std::size_t>(side_) +
           static_cast<std::size_t>(x);
  }

  int side_;
  std::vector<std::vector<std::size_t>> bins_;
};

// Everything nearer (in power distance) to site i than to any other, inside the outline.
Polygon power_cell(const std::vector<Site>& sites, const Bins& bins, std::size_t i,
                   const Polygon& outline, double heaviest, std::vector<Bins::Neighbour>& near) {
  Polygon cell = outline;
  const Site& own = sites[i];
  const auto farthest_corner = [&] {
    double squared = 0;
    for (const Point p : cell)
      squared = std::max(squared,
                         (p.x - own.at.x) * (p.x - own.at.x) + (p.y - own.at.y) * (p.y - own.at.y));
    return std::sqrt(squared);
  };
  double reach = farthest_corner();
  bins.near(sites, i, near);
  for (const auto& [squared, j] : near) {
    if (squared == 0) continue;
    // Beyond this distance no site, however heavy, cuts the cell any more.
    const double distance = std::sqrt(squared);
    if ((squared + own.weight - heaviest) / (2 * distance) > reach) break;
    const Site& other = sites[j];
    const Point n{other.at.x - own.at.x, other.at.y - own.at.y};
    const double bisector = (squared + own.weight - other.weight) / 2;
    if (bisector / distance > reach) continue;
    clip(cell, n, n.x * own.at.x + n.y * own.at.y + bisector);
    if (cell.size() < 3) return {};
    reach = farthest_corner();
  }
  return cell;
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

std::vector<Pebble> packed_field(std::uint64_t seed, const FieldOptions& options) {
  expects(options.cells >= 50);
  RandomStream random(seed, 20);
  const Polygon outline = rounded_square(options.corner);
  std::vector<Site> sites = scattered(random, options.cells, outline);

  std::vector<Polygon> cells(sites.size());
  std::vector<Bins::Neighbour> near;
  constexpr int relaxations = 40;
  for (int step = 0; step <= relaxations; ++step) {
    const Bins bins(sites);
    double heaviest = sites.front().weight;
    for (const Site& site : sites) heaviest = std::max(heaviest, site.weight);
    for (std::size_t i = 0; i < sites.size(); ++i)
      cells[i] = power_cell(sites, bins, i, outline, heaviest, near);
    if (step == relaxations) break;
    for (std::size_t i = 0; i < sites.size(); ++i) {
      Site& site = sites[i];
      const double area = cells[i].empty() ? 0 : area_of(cells[i]);
      if (area > 0) site.at = centroid_of(cells[i]);
      // A cell too small gains weight; half a step keeps it stable. No weight before the sites
      // spread.
      if (step >= 5) site.weight += 0.25 * (site.target_area - area);
    }
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
