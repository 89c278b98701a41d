#include "copunctal/inference/strokes.h"

#include <cmath>
#include <numbers>

#include <gtest/gtest.h>

#include "copunctal/plate/gate_path.h"

namespace copunctal {
namespace {

Stroke along(const std::vector<Point>& line) {
  Stroke stroke;
  for (const Point p : line) stroke.push_back({p, 100.0 * static_cast<double>(stroke.size())});
  return stroke;
}

// By geometry: a line two beside the path covers what lies within sqrt(3^2 - 2^2) of its end.
TEST(Strokes, BesideAStraightPathAreAsFarOffAsTheyAre) {
  const auto score = scored({along({{0, 2}, {80, 2}})}, {{0, 0}, {100, 0}}, 3, 0.05);
  ASSERT_TRUE(score.has_value());
  EXPECT_NEAR(score->mean, 2, 1e-12);
  EXPECT_NEAR(score->root_mean_square, 2, 1e-12);
  EXPECT_NEAR(score->largest, 2, 1e-12);
  EXPECT_EQ(score->off_path, 0);
  EXPECT_NEAR(score->completeness, (80 + std::sqrt(5.0)) / 100, 1e-3);
  EXPECT_NEAR(score->hausdorff, std::sqrt(404.0), 1e-9);
  EXPECT_NEAR(score->length_ratio, 0.8, 1e-12);
  EXPECT_EQ(followed(*score), Followed::partly);
  EXPECT_EQ(score->total_ms, 100);
}

TEST(Strokes, OnAWiderArcAreItsDifferenceOfRadiiAway) {
  const auto arc = [](double radius) {
    std::vector<Point> line;
    for (int i = 0; i <= 2000; ++i) {
      const double a = std::numbers::pi * i / 2000;
      line.push_back({radius * std::cos(a), radius * std::sin(a)});
    }
    return line;
  };
  const auto score = scored({along(arc(53))}, arc(50), 3.5, 0.5);
  ASSERT_TRUE(score.has_value());
  EXPECT_NEAR(score->mean, 3, 2e-3);
  EXPECT_EQ(score->completeness, 1);
  EXPECT_NEAR(score->length_ratio, 1.06, 1e-6);
  EXPECT_EQ(followed(*score), Followed::wholly);
}

// The farthest point of the mirrored branch is nearest to the path at the fork or beyond it: with
// the branches at atan(30 / 50) on either side, |(50, -30)| sin(2 atan .6).
TEST(Strokes, AlongTheOtherBranchAreSeenToBe) {
  const std::vector<std::vector<Point>> branches = {{{0, 0}, {50, 0}, {100, 30}},
                                                    {{0, 0}, {50, 0}, {100, -30}}};
  const std::vector<Stroke> trace = {along(branches[1])};
  const auto score = scored(trace, branches[0], 3, 0.5);
  ASSERT_TRUE(score.has_value());
  EXPECT_NEAR(score->largest, std::hypot(50.0, 30.0) * std::sin(2 * std::atan(0.6)), 2e-3);
  EXPECT_NEAR(score->completeness, 0.493, 5e-3);
  EXPECT_NEAR(score->off_path, 0.507, 5e-3);
  EXPECT_NE(followed(*score), Followed::wholly);
  EXPECT_EQ(path_followed(trace, branches, 3, 0.5), 1U);
  EXPECT_EQ(path_followed({along({{0, 0}, {50, 0}})}, branches, 3, 0.5), std::nullopt);
}

TEST(Strokes, CountLiftsAndAreNothingWithoutACourse) {
  const std::vector<Point> path = {{0, 0}, {10, 0}};
  const auto score = scored({along({{0, 0}, {4, 0}}), along({{4, 0}, {10, 0}})}, path, 1, 0.1);
  ASSERT_TRUE(score.has_value());
  EXPECT_EQ(score->pen_lifts, 1U);
  EXPECT_EQ(score->completeness, 1);
  EXPECT_NEAR(score->length_ratio, 1, 1e-12);
  EXPECT_FALSE(scored({}, path, 1, 0.1).has_value());
  EXPECT_FALSE(scored({{}, along({{1, 1}})}, path, 1, 0.1).has_value());
}

// Reports may come at any rate: a course is the same however many points it has.
TEST(Strokes, AreJudgedByTheirCourseAlone) {
  std::vector<Point> many;
  for (int i = 0; i <= 1000; ++i) many.push_back({i * i / 10000.0, 1.5});
  const std::vector<Point> path = {{0, 0}, {100, 0}};
  const auto few = scored({along({{0, 1.5}, {100, 1.5}})}, path, 3, 0.5),
             dense = scored({along(many)}, path, 3, 0.5);
  ASSERT_TRUE(few && dense);
  EXPECT_NEAR(few->mean, dense->mean, 1e-12);
  EXPECT_NEAR(few->completeness, dense->completeness, 1e-12);
}

TEST(Strokes, ThroughEveryWayOfEveryShapeLeadToItsGate) {
  for (std::size_t shape = 0; shape < path_shapes; ++shape) {
    std::vector<std::vector<Point>> ways;
    for (const std::string& gate : gate_symbols()) ways.push_back(way_to(gate, shape));
    for (std::size_t g = 0; g < ways.size(); ++g) {
      // A hand's wobble, a quarter of the path's width.
      std::vector<Point> wobbly = ways[g];
      for (std::size_t i = 1; i + 1 < wobbly.size(); ++i)
        wobbly[i].x += (i % 2 == 0 ? 1 : -1) * path_width / 8;
      EXPECT_EQ(path_followed({along(wobbly)}, ways, path_width / 2, 0.005), g) << shape;
    }
  }
}

}  // namespace
}  // namespace copunctal
