#include "copunctal/plate/symbols.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <queue>
#include <set>

#include <gtest/gtest.h>

#include "copunctal/plate/draw.h"
#include "copunctal/plate/gate_path.h"
#include "copunctal/plate/mosaic.h"
#include "copunctal/plate/ring.h"

namespace copunctal {
namespace {

constexpr int side = membership_raster;

// The mean cell of a field of a thousand, measured: the field's area over its pebbles' number,
// where the field is what a rounded square of corner radius .14 covers of the raster.
double measured_cell() {
  int inside = 0;
  for (int y = 0; y < side; ++y)
    for (int x = 0; x < side; ++x) {
      const double dx = std::max(std::abs((x + 0.5) / side - 0.5) - 0.36, 0.0),
                   dy = std::max(std::abs((y + 0.5) / side - 0.5) - 0.36, 0.0);
      inside += std::hypot(dx, dy) <= 0.14;
    }
  return std::sqrt(inside / (1.0 * side * side) / 1000);
}

// A function, not a lambda on the spot, which g++ would try to evaluate while compiling.
double cell() {
  static const double measured = measured_cell();
  return measured;
}

// What a symbol covers of the raster on which membership is decided.
std::vector<bool> raster_of(std::string_view symbol, Place place, std::size_t path_shape = 0) {
  const SymbolArea area(symbol, place, path_shape);
  std::vector<bool> mask;
  for (int y = 0; y < side; ++y)
    for (int x = 0; x < side; ++x)
      mask.push_back(area.covers({(x + 0.5) / side, (y + 0.5) / side}));
  return mask;
}

bool at(const std::vector<bool>& mask, Point p) {
  const int x = static_cast<int>(p.x * side), y = static_cast<int>(p.y * side);
  return x >= 0 && y >= 0 && x < side && y < side &&
         mask[static_cast<std::size_t>(y) * side + static_cast<std::size_t>(x)];
}

TEST(Symbols, BelongToOneFamilyEachAndRowsAscend) {
  std::set<std::string> all;
  for (const auto& [symbols, family] : {std::pair{digits(), SymbolFamily::digits},
                                        {ring_symbols(false), SymbolFamily::rings},
                                        {ring_symbols(true), SymbolFamily::rings},
                                        {gate_symbols(), SymbolFamily::paths}}) {
    EXPECT_TRUE(std::is_sorted(symbols.begin(), symbols.end()));
    for (const std::string& symbol : symbols) {
      EXPECT_TRUE(all.insert(symbol).second) << symbol;
      EXPECT_EQ(family_of(symbol), family) << symbol;
    }
  }
  EXPECT_EQ(all.size(), 22U);
  for (const char* none : {"", "10", "Up", "gate 5", "up down"})
    EXPECT_FALSE(family_of(none).has_value()) << none;
  for (const SymbolFamily family : {SymbolFamily::digits, SymbolFamily::rings, SymbolFamily::paths})
    EXPECT_EQ(*family_from(name_of(family)), family);
  EXPECT_EQ(family_from("letters").error().kind, Error::Kind::usage);
}

TEST(Symbols, ARowOfRingsIsUprightOrTurnedAndARowOfPathsHasFourGates) {
  std::set<std::vector<std::string>> rows;
  for (std::uint64_t seed = 0; seed < 20; ++seed) {
    rows.insert(choose_symbols(SymbolFamily::rings, seed));
    EXPECT_EQ(choose_symbols(SymbolFamily::paths, seed), gate_symbols());
  }
  EXPECT_EQ(rows, (std::set{ring_symbols(false), ring_symbols(true)}));
}

// A quarter turn leaves the raster as it is, so gaps a quarter turn apart are alike by
// construction; what the correlations come to is printed.
TEST(Symbols, TemplatesOfRingsAndPathsAreAsAlikeAsTheirDesignSays) {
  for (const bool turned : {false, true}) {
    const auto& symbols = ring_symbols(turned);
    std::set<long> distinct;  // in millionths
    double largest = 0;
    for (std::size_t a = 0; a < 4; ++a)
      for (std::size_t b = a + 1; b < 4; ++b) {
        const double r = template_correlation(symbols[a], symbols[b]);
        distinct.insert(std::lround(1e6 * r));
        largest = std::max(largest, r);
      }
    std::printf("rings %s: correlation %.3f\n", turned ? "turned" : "upright", largest);
    EXPECT_LT(largest, 0.75);
    EXPECT_EQ(distinct.size(), 1U);  // gaps do not overlap, opposite or not
  }
  double largest = 0;
  for (std::size_t shape = 0; shape < path_shapes; ++shape)
    for (std::size_t a = 0; a < 4; ++a)
      for (std::size_t b = a + 1; b < 4; ++b)
        largest =
            std::max(largest, template_correlation(gate_symbols()[a], gate_symbols()[b], shape));
  std::printf("paths: correlation at most %.3f over %zu shapes\n", largest, path_shapes);
  EXPECT_LT(largest, 0.3);
}

TEST(Symbols, ARingsGapIsWiderThanItsStrokeOnTheRaster) {
  for (const bool turned : {false, true})
    for (const std::string& symbol : ring_symbols(turned))
      for (const Place place : {Place::whole, Place::upper_left, Place::lower_right}) {
        const auto mask = raster_of(symbol, place);
        const SymbolBox box = box_of(SymbolFamily::rings, place);
        const Point gap = gap_of(symbol), across{-gap.y, gap.x};
        constexpr double step = 0.25 / side;
        // Thickness opposite to the gap; the gap's width half way through the stroke.
        int on = 0, off = 0;
        for (double r = 0; r < box.height; r += step)
          on += at(mask, {box.centre.x - r * gap.x, box.centre.y - r * gap.y});
        const double middle = box.height * (0.5 - ring_stroke / 2);
        for (const double direction : {1.0, -1.0})
          for (double s = 0; s < box.height; s += step) {
            if (at(mask, {box.centre.x + middle * gap.x + direction * s * across.x,
                          box.centre.y + middle * gap.y + direction * s * across.y}))
              break;
            ++off;
          }
        EXPECT_GE(off, 1.1 * on) << symbol << " " << name_of(place);
        EXPECT_GE(on * step, least_stroke_in_cells * cell()) << symbol << " " << name_of(place);
        if (symbol == "up" || symbol == "up left")
          std::printf("%s, %s: stroke %.2f cells, gap %.2f cells, gap / stroke %.2f\n",
                      symbol.c_str(), std::string(name_of(place)).c_str(), on * step / cell(),
                      off * step / cell(), 1.0 * off / on);
      }
}

TEST(Symbols, RingsOfADiagonalKeepToTheirQuarters) {
  for (const char* symbol : {"up", "down", "left", "right"})
    for (const Place place : {Place::upper_left, Place::lower_right}) {
      const auto mask = raster_of(symbol, place);
      for (int y = 0; y < side; ++y)
        for (int x = 0; x < side; ++x)
          if (mask[static_cast<std::size_t>(y) * side + static_cast<std::size_t>(x)]) {
            EXPECT_EQ(x < side / 2, place == Place::upper_left);
            EXPECT_EQ(y < side / 2, place == Place::upper_left);
          }
    }
}

// A disc three cells wide rolls from the entrance through to the gate, and comes out at no other
// place.
TEST(Symbols, APathIsThreeCellsWideAllTheWay) {
  const int radius = static_cast<int>(std::ceil(1.5 * cell() * side));
  double least = 1e9;
  for (std::size_t shape = 0; shape < path_shapes; ++shape)
    for (const std::string& gate : gate_symbols()) {
      const auto mask = raster_of(gate, Place::whole, shape);
      const auto covered = [&](int x, int y) {
        return mask[static_cast<std::size_t>(y) * side + static_cast<std::size_t>(x)];
      };
      std::vector<Point> edge;  // pixels off the path that touch it
      for (int y = 0; y < side; ++y)
        for (int x = 0; x < side; ++x)
          if (!covered(x, y) &&
              ((x > 0 && covered(x - 1, y)) || (x < side - 1 && covered(x + 1, y)) ||
               (y > 0 && covered(x, y - 1)) || (y < side - 1 && covered(x, y + 1))))
            edge.push_back({x + 0.0, y + 0.0});
      const auto clearance = [&](Point p) {
        double squared = 1e9;
        for (const Point e : edge)
          squared = std::min(squared, (p.x - e.x) * (p.x - e.x) + (p.y - e.y) * (p.y - e.y));
        return std::sqrt(squared);
      };
      std::vector<bool> seen(mask.size());
      std::queue<std::pair<int, int>> open;
      std::set<std::string> ends;
      const int start = static_cast<int>(path_fork.x * side);
      open.emplace(start, side - 1);
      while (!open.empty()) {
        const auto [x, y] = open.front();
        open.pop();
        if (x < 0) ends.insert("left");
        if (x >= side) ends.insert("right");
        if (y < 0) ends.insert("above");
        if (x < 0 || y < 0 || x >= side || y >= side) continue;
        const std::size_t i = static_cast<std::size_t>(y) * side + static_cast<std::size_t>(x);
        if (seen[i] || !mask[i] || clearance({x + 0.0, y + 0.0}) < radius) continue;
        seen[i] = true;
        for (const auto& [nx, ny] : {std::pair{x - 1, y}, {x + 1, y}, {x, y - 1}, {x, y + 1}})
          open.emplace(nx, ny);
      }
      const std::string expected = gate == "gate 1" ? "left" : gate == "gate 4" ? "right" : "above";
      EXPECT_EQ(ends, std::set{expected}) << gate << ", shape " << shape;

      for (const Point p : way_to(gate, shape))
        if (p.x > 0.01 && p.x < 0.99 && p.y > 0.01 && p.y < 0.99)
          least = std::min(least, 2 * clearance({p.x * side, p.y * side}) / side / cell());
    }
  std::printf("paths: narrowest place at a bend %.2f cells; straight %.2f cells\n", least,
              stroke_in_cells(SymbolFamily::paths, Place::whole));
  EXPECT_GE(least, least_stroke_in_cells);
}

TEST(Symbols, PathsShareNothingBeyondTheEntrance) {
  double least_common = 1, most_common = 0;
  for (std::size_t shape = 0; shape < path_shapes; ++shape) {
    std::vector<std::vector<bool>> masks;
    for (const std::string& gate : gate_symbols())
      masks.push_back(raster_of(gate, Place::whole, shape));
    for (std::size_t a = 0; a < 4; ++a)
      for (std::size_t b = a + 1; b < 4; ++b) {
        int beyond = 0, common = 0, own = 0;
        for (int y = 0; y < side; ++y)
          for (int x = 0; x < side; ++x) {
            const std::size_t i = static_cast<std::size_t>(y) * side + static_cast<std::size_t>(x);
            own += masks[a][i];
            if (!masks[a][i] || !masks[b][i]) continue;
            ++common;
            const double px = (x + 0.5) / side, py = (y + 0.5) / side;
            beyond += py < path_fork.y &&
                      std::hypot(px - path_fork.x, py - path_fork.y) > path_fork_reach;
          }
        EXPECT_EQ(beyond, 0) << "gates " << a + 1 << " and " << b + 1 << ", shape " << shape;
        least_common = std::min(least_common, 1.0 * common / own);
        most_common = std::max(most_common, 1.0 * common / own);
      }
  }
  std::printf("paths: %.2f to %.2f of a path is the common entrance stretch\n", least_common,
              most_common);
  EXPECT_GT(least_common, 0);  // there is a common entrance
  EXPECT_LT(most_common, 0.4);
}

TEST(Symbols, EveryShapeComesUpAndNoTwoAreTheSame) {
  std::set<std::size_t> drawn;
  for (std::uint64_t seed = 0; seed < 100; ++seed) drawn.insert(path_shape_of(seed));
  EXPECT_EQ(drawn.size(), path_shapes);
  EXPECT_LT(*drawn.rbegin(), path_shapes);
  std::set<std::vector<bool>> fans;
  for (std::size_t shape = 0; shape < path_shapes; ++shape) {
    std::vector<bool> fan;
    for (const std::string& gate : gate_symbols())
      for (const bool covered : raster_of(gate, Place::whole, shape)) fan.push_back(covered);
    fans.insert(fan);
  }
  EXPECT_EQ(fans.size(), path_shapes);
}

TEST(Symbols, TooNarrowAStrokeIsRefusedWithTheNumber) {
  for (const char* symbol : {"up", "up left", "gate 3", "4"})
    EXPECT_TRUE(check_size(symbol, Place::whole).has_value()) << symbol;
  EXPECT_TRUE(check_size("left", Place::lower_left).has_value());
  const auto path = check_size("gate 3", Place::upper_left);
  ASSERT_FALSE(path.has_value());
  EXPECT_EQ(path.error().kind, Error::Kind::unsupported);
  // .065 of the field's side; a cell of a thousand is .0314 of it.
  EXPECT_EQ(path.error().message,
            "the symbol 'gate 3' at upper-left would be 2.07 cells wide of 1000 cells; 3 are "
            "needed");
  EXPECT_EQ(path.error().remedy, "use symbols of another family") << "no field is of so many cells";
  EXPECT_FALSE(check_size("left", Place::lower_left, 500).has_value());
  EXPECT_FALSE(check_size("gate 1", Place::whole, 400).has_value());
  // What the remedy names does, and one less does not.
  const auto digit = check_size("5", Place::upper_left, 400);
  ASSERT_FALSE(digit.has_value());
  EXPECT_EQ(digit.error().remedy, "make the field of 644 cells or more");
  EXPECT_TRUE(check_size("5", Place::upper_left, 644).has_value());
  EXPECT_FALSE(check_size("5", Place::upper_left, 643).has_value());
}

TEST(Symbols, DigitsChosenByHandAreRefusedWhereTheyAreAlike) {
  EXPECT_EQ(*chosen_digits({"7", "1", "4"}), (std::vector<std::string>{"1", "4", "7"}));
  const auto alike_ones = chosen_digits({"3", "5", "1"});
  ASSERT_FALSE(alike_ones.has_value());
  EXPECT_EQ(alike_ones.error().kind, Error::Kind::unsupported);
  EXPECT_NE(alike_ones.error().message.find("0.77"), std::string::npos)
      << alike_ones.error().message;
  // The remedy is a row that works.
  const std::string& remedy = alike_ones.error().remedy;
  const auto named = symbols_from(remedy.substr(remedy.find("digits")));
  ASSERT_TRUE(named.has_value()) << remedy;
  EXPECT_EQ(named->digits.size(), 3U);
  for (const std::vector<std::string>& wrong :
       {std::vector<std::string>{"4"}, {"4", "4"}, {"4", "up"}, {"4", "10"}, {}})
    EXPECT_EQ(chosen_digits(wrong).error().kind, Error::Kind::usage);
  EXPECT_FALSE(symbols_from("rings:up,down").has_value());
  EXPECT_EQ(symbols_from("paths")->family, SymbolFamily::paths);
}

TEST(Symbols, StrokesInCellsAreThoseOnTheRaster) {
  const auto mask = raster_of("up", Place::whole);
  int on = 0;
  for (int y = side / 2; y < side; ++y) on += at(mask, {0.5, (y + 0.5) / side});
  EXPECT_NEAR(stroke_in_cells(SymbolFamily::rings, Place::whole), on / (side * cell()), 0.1);
}

// Size carries no cue: over seeds, pebbles of the figure are as large as those of the ground, in
// every family.
class FamilySizes : public testing::TestWithParam<std::pair<const char*, Place>> {};
TEST_P(FamilySizes, SizeSaysNothingOfTheFigure) {
  const auto [symbol, place] = GetParam();
  double z_sum = 0, ratio = 0;
  constexpr int seeds = 8;
  for (std::uint64_t seed = 0; seed < seeds; ++seed) {
    const Mosaic mosaic = mosaic_of(100 + seed);
    const auto belongs = members(mosaic, symbol, place, path_shape_of(seed));
    std::array<double, 2> n{}, sum{}, squares{};
    for (std::size_t i = 0; i < belongs.size(); ++i) {
      const double a = mosaic.pebbles[i].area;
      ++n[belongs[i]];
      sum[belongs[i]] += a;
      squares[belongs[i]] += a * a;
    }
    ASSERT_GT(n[1], 30);
    const std::array<double, 2> mean = {sum[0] / n[0], sum[1] / n[1]};
    const double error = std::sqrt((squares[0] / n[0] - mean[0] * mean[0]) / n[0] +
                                   (squares[1] / n[1] - mean[1] * mean[1]) / n[1]);
    z_sum += (mean[1] - mean[0]) / error;
    ratio += mean[1] / mean[0] / seeds;
  }
  std::printf("%s, %s: mean area figure / ground %.3f, z %.2f\n", symbol,
              std::string(name_of(place)).c_str(), ratio, z_sum / std::sqrt(seeds));
  EXPECT_LT(std::abs(z_sum) / std::sqrt(seeds), 3.5);
}
INSTANTIATE_TEST_SUITE_P(All, FamilySizes,
                         testing::Values(std::pair{"4", Place::whole},
                                         std::pair{"up", Place::whole},
                                         std::pair{"down left", Place::upper_right},
                                         std::pair{"gate 1", Place::whole},
                                         std::pair{"gate 3", Place::whole}));

Plate plate_of(const char* symbol, std::uint64_t seed) {
  Plate plate;
  plate.seed = seed;
  plate.figures = {{symbol, Place::whole}};
  plate.gap = {129, 129, 129};
  plate.codes = {{{90, 120, 60}}, {{120, 90, 60}}};
  return plate;
}

// The pixels outside the field, in order.
std::vector<Code> margin_of(const Picture& picture) {
  const double edge = picture.width * field_margin;
  std::vector<Code> codes;
  for (int y = 0; y < picture.height; ++y)
    for (int x = 0; x < picture.width; ++x)
      if (x < edge - 1 || y < edge - 1 || x > picture.width - edge || y > picture.width - edge) {
        const std::size_t i = 3 * static_cast<std::size_t>(y * picture.width + x);
        codes.push_back({picture.rgb[i], picture.rgb[i + 1], picture.rgb[i + 2]});
      }
  return codes;
}

TEST(Draw, GateMarksAreTheSameOnEveryPathAndOnNothingElse) {
  const auto marks = margin_of(draw(plate_of("gate 1", 5), 640));
  EXPECT_EQ(margin_of(draw(plate_of("gate 4", 6), 640)), marks);
  EXPECT_NE(path_shape_of(5), path_shape_of(6));
  // Dark ink, at least as much of it as a triangle of 20 x 12 pixels for each of five marks.
  EXPECT_GT(std::count_if(marks.begin(), marks.end(), [](const Code& c) { return c[1] < 40; }),
            5 * 120);
  for (const char* other : {"4", "up"})
    for (const Code& code : margin_of(draw(plate_of(other, 5), 640)))
      EXPECT_EQ(code, (Code{129, 129, 129})) << other;
}

TEST(Draw, GateMarksStandInTheMargin) {
  ASSERT_EQ(gate_marks().size(), 5U);
  constexpr int steps = 400;
  int inked = 0;
  for (int y = -40; y < steps + 40; ++y)
    for (int x = -40; x < steps + 40; ++x) {
      const Point p{(x + 0.5) / steps, (y + 0.5) / steps};
      if (!on_gate_mark(p)) continue;
      ++inked;
      constexpr double margin = field_margin / (1 - 2 * field_margin);
      const bool in_field = p.x > 0 && p.x < 1 && p.y > 0 && p.y < 1;
      EXPECT_FALSE(in_field);
      EXPECT_TRUE(p.x > -margin && p.y > -margin && p.x < 1 + margin && p.y < 1 + margin);
    }
  EXPECT_GT(inked, 100);
}

}  // namespace
}  // namespace copunctal
