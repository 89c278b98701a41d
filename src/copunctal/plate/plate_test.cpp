#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <set>

#include <gtest/gtest.h>

#include "copunctal/plate/draw.h"
#include "copunctal/plate/glyph.h"
#include "copunctal/plate/mosaic.h"

namespace copunctal {
namespace {

const Mosaic& sample() {
  static const Mosaic mosaic = mosaic_of(7);
  return mosaic;
}

Plate two_tone() {
  Plate plate;
  plate.seed = 7;
  plate.figures = {{"4", Place::whole}};
  plate.gap = {120, 120, 120};
  plate.codes = {{{10, 20, 30}, {40, 50, 60}}, {{200, 210, 220}, {230, 240, 250}}};
  return plate;
}

TEST(Glyph, ChosenSymbolsAreUnlikeEachOther) {
  std::set<std::vector<std::string>> sets;
  for (std::uint64_t seed = 0; seed < 20; ++seed) {
    const auto symbols = choose_symbols(SymbolFamily::digits, seed, 5);
    EXPECT_GE(symbols.size(), 4U);
    for (const auto& a : symbols)
      for (const auto& b : symbols)
        if (a != b) {
          EXPECT_LT(template_correlation(a, b), 0.5) << a << b;
        }
    sets.insert(symbols);
  }
  EXPECT_GT(sets.size(), 1U);
}

TEST(Glyph, KeepsWithinItsBox) {
  for (const std::string& symbol : digits())
    for (const auto& stroke : glyph_of(symbol).strokes)
      for (const Point p : stroke) {
        EXPECT_LE(std::abs(p.y), 0.415) << symbol;
        EXPECT_LE(std::abs(p.x), 0.305) << symbol;
      }
}

TEST(Field, FillsARoundedSquareNotADisc) {
  double top_left = 1;
  double area = 0;
  for (const Pebble& pebble : sample().pebbles) {
    area += pebble.area;
    top_left = std::min(top_left, std::hypot(pebble.centre.x, pebble.centre.y));
  }
  EXPECT_GE(sample().pebbles.size(),
            970U);  // of 1000: the smallest may close up between large ones
  // A disc would leave its bounding square's corner at a distance of .207, and fill at most .785.
  EXPECT_LT(top_left, 0.12);
  EXPECT_GT(area, 0.68);
}

TEST(Field, PebblesKeepTheirGap) {
  // Largest circle test on pairs: every pixel belongs to one pebble only.
  std::set<std::pair<int, int>> taken;
  for (const auto& pixels : sample().pixels)
    for (const Point p : pixels)
      EXPECT_TRUE(taken
                      .insert({static_cast<int>(p.x * membership_raster),
                               static_cast<int>(p.y * membership_raster)})
                      .second);
}

// What draws and counts within a pebble's box must miss none of it.
TEST(Field, APebbleLiesInItsBoxAndTouchesEverySide) {
  for (const Pebble& pebble : sample().pebbles) {
    const Box box = bounds_of(pebble);
    for (const Point p : {Point{box.left - 1e-9, pebble.centre.y},
                          {pebble.centre.x, box.top - 1e-9},
                          {box.right + 1e-9, pebble.centre.y},
                          {pebble.centre.x, box.bottom + 1e-9}})
      EXPECT_GT(distance_outside(pebble, p), 0);
    double left = 1, top = 1, right = 0, bottom = 0;
    for (const Point corner : pebble.core) {
      left = std::min(left, corner.x);
      top = std::min(top, corner.y);
      right = std::max(right, corner.x);
      bottom = std::max(bottom, corner.y);
      EXPECT_LE(distance_outside(pebble, {corner.x, corner.y}), 0);
    }
    EXPECT_NEAR(left - box.left, pebble.rounding, 1e-15);
    EXPECT_NEAR(box.right - right, pebble.rounding, 1e-15);
    EXPECT_NEAR(top - box.top, pebble.rounding, 1e-15);
    EXPECT_NEAR(box.bottom - bottom, pebble.rounding, 1e-15);
  }
}

// The distance of two convex polygons is met at a corner of one of them.
TEST(Field, OfEveryNumberOfCellsKeepsItsGapExactlyAndFillsItsSquare) {
  for (const int cells : {fewest_cells, 650, usual_cells, most_cells}) {
    const FieldOptions options = field_of(cells);
    const std::vector<Pebble> pebbles = packed_field(11, options);
    EXPECT_GE(pebbles.size(), static_cast<std::size_t>(cells * 97 / 100)) << cells;
    EXPECT_LE(pebbles.size(), static_cast<std::size_t>(cells));
    double nearest = 1, area = 0;
    for (const Pebble& one : pebbles) {
      area += one.area;
      for (const Pebble& other : pebbles) {
        if (&one == &other ||
            std::hypot(one.centre.x - other.centre.x, one.centre.y - other.centre.y) > 0.2)
          continue;
        for (const Point corner : one.core)
          nearest = std::min(nearest, distance_outside(other, corner) - one.rounding);
      }
    }
    EXPECT_GE(nearest, options.gap - 1e-9) << cells;
    EXPECT_LT(nearest, 1.001 * options.gap) << cells << ": pebbles that share an edge are so near";
    EXPECT_GT(area, 0.68) << cells;
  }
}

TEST(Field, TheSameSeedGivesTheSamePebbles) {
  const auto again = packed_field(7);
  ASSERT_EQ(again.size(), sample().pebbles.size());
  for (std::size_t i = 0; i < again.size(); ++i) {
    EXPECT_EQ(again[i].centre.x, sample().pebbles[i].centre.x);
    EXPECT_EQ(again[i].area, sample().pebbles[i].area);
  }
  EXPECT_NE(packed_field(8).front().centre.x, again.front().centre.x);
}

TEST(Mosaic, MembershipIsByMajorityAndNoPebbleIsCut) {
  const Assignment assignment = assign(sample(), two_tone().figures, 7, 2);
  const SymbolArea four("4", Place::whole);
  int inside = 0;
  for (std::size_t i = 0; i < sample().pebbles.size(); ++i) {
    int on = 0;
    for (const Point p : sample().pixels[i]) on += four.covers(p) ? 1 : 0;
    EXPECT_EQ(assignment.part[i] == 1, 2 * on > static_cast<int>(sample().pixels[i].size()));
    inside += assignment.part[i];
  }
  EXPECT_GT(inside, 80);
  EXPECT_LT(inside, 250);
}

TEST(Mosaic, LevelsAreDealtEvenlyInEveryPart) {
  const Assignment assignment = assign(sample(), two_tone().figures, 7, 8);
  for (int part = 0; part < 2; ++part) {
    std::array<int, 8> counts{};
    for (std::size_t i = 0; i < assignment.part.size(); ++i)
      if (assignment.part[i] == part) ++counts[assignment.level[i]];
    EXPECT_LE(*std::max_element(counts.begin(), counts.end()) -
                  *std::min_element(counts.begin(), counts.end()),
              1);
  }
}

TEST(Draw, ShowsTheCodesAsTheyAre) {
  const Plate plate = two_tone();
  const Picture picture = draw(plate, 640);
  std::map<Code, int> counts;
  for (std::size_t i = 0; i < picture.rgb.size(); i += 3)
    ++counts[{picture.rgb[i], picture.rgb[i + 1], picture.rgb[i + 2]}];
  int known = counts[plate.gap];
  for (const auto& part : plate.codes)
    for (const Code& code : part) {
      EXPECT_GT(counts[code], 1000);
      known += counts[code];
    }
  EXPECT_GT(known, 0.8 * 640 * 640);  // the rest are edges
  EXPECT_EQ(draw(plate, 640).rgb, picture.rgb);
}

}  // namespace
}  // namespace copunctal
