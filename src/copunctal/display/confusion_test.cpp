#include "copunctal/display/confusion.h"

#include <cmath>

#include <gtest/gtest.h>
#include <Eigen/Dense>

#include "copunctal/base/random.h"

namespace copunctal {
namespace {

// Copunctal points from Smith & Pokorny's own cones in Judd-Vos space: their cones are a matrix of
// Judd-Vos XYZ, recovered here by least squares from the tables; the columns of its inverse are the
// usual published points .7465 .2535, 1.400 -.400, .1748 0 (from memory).
TEST(Confusion, SmithAndPokornysConesMeetWherePublished) {
  const Table& cones = table("lms_smith_pokorny");
  const Table& xyz = table("xyz_judd_vos");
  const auto n = static_cast<Eigen::Index>(cones.rows());
  Eigen::MatrixXd c(n, 3), x(n, 3);
  for (Eigen::Index i = 0; i < n; ++i) {
    const auto row = static_cast<std::size_t>(i);
    c.row(i) << cones.column("L")[row], cones.column("M")[row], cones.column("S")[row];
    x.row(i) << xyz.column("x")[row], xyz.column("y")[row], xyz.column("z")[row];
  }
  const Eigen::Matrix3d cones_from_xyz = x.colPivHouseholderQr().solve(c).transpose();
  const Eigen::Matrix3d back = cones_from_xyz.inverse();
  const double published[3][2] = {{.7465, .2535}, {1.400, -.400}, {.1748, 0}};
  for (Eigen::Index k = 0; k < 3; ++k) {
    const double sum = back.col(k).sum();
    EXPECT_NEAR(back(0, k) / sum, published[k][0], 1.5e-3) << k;
    EXPECT_NEAR(back(1, k) / sum, published[k][1], 1.5e-3) << k;
  }
}

// CIE 170-2:2015 in x_F y_F: protan .7384 .2616, deutan 1.3267 -.3267, tritan .1586 0, from the
// standard's matrix alone.
TEST(Confusion, TheStandardsMatrixMeetsWhereItMust) {
  const auto map = xyz_f_from_lms({2});
  const auto point = [&](const ConeExcitation& one) { return chromaticity_of(map(one)); };
  EXPECT_NEAR(point({1, 0, 0}).x, .7384, 1e-4);
  EXPECT_NEAR(point({1, 0, 0}).y, .2616, 1e-4);
  EXPECT_NEAR(point({0, 1, 0}).x, 1.3267, 1e-4);
  EXPECT_NEAR(point({0, 1, 0}).y, -.3267, 1e-4);
  EXPECT_NEAR(point({0, 0, 1}).x, .1586, 1e-4);
  EXPECT_NEAR(point({0, 0, 1}).y, 0, 1e-4);
}

// Law: two lights on one confusion line, scaled alike in the remaining cones, excite these alike.
TEST(Confusion, LightsOnALineAreOneLightToTheRemainingCones) {
  const Display display = *display_from("display-p3/wled");
  RandomStream random(4, 4);
  for (const char* name : {"normal", "normal,age=70,field=10", "protan:0,macula=0.5"}) {
    const ObserverOnDisplay on(*observer_from(name), display);
    const auto xyz = xyz_from_linear_rgb(display);
    for (const MissingCone cone : {MissingCone::l, MissingCone::m, MissingCone::s})
      for (int i = 0; i < 200; ++i) {
        const LinearRgb a{random.uniform(.2, .8), random.uniform(.2, .8), random.uniform(.2, .8)};
        ConeExcitation step;
        (cone == MissingCone::l ? step.l : cone == MissingCone::m ? step.m : step.s) = .05;
        const LinearRgb b = a + inverse(on.normal_lms())(step);
        const Chromaticity p = chromaticity_of(xyz(a)), q = chromaticity_of(xyz(b));
        const Place2 meet = *on.copunctal(cone, Diagram::xy);
        // Three points in a line: no area.
        EXPECT_NEAR((q.x - p.x) * (meet.y - p.y) - (q.y - p.y) * (meet.x - p.x), 0, 1e-12);
      }
  }
}

TEST(Confusion, MacLeodBoyntonPointsAreAtTheCorners) {
  const ObserverOnDisplay on(Observer{}, *display_from("srgb"));
  const auto protan = on.copunctal(MissingCone::l, Diagram::macleod_boynton),
             deutan = on.copunctal(MissingCone::m, Diagram::macleod_boynton);
  EXPECT_NEAR(protan->x, 1, 1e-12);
  EXPECT_NEAR(protan->y, 0, 1e-12);
  EXPECT_NEAR(deutan->x, 0, 1e-12);
  EXPECT_FALSE(on.copunctal(MissingCone::s, Diagram::macleod_boynton).has_value());
  const Place2 white = on.place_of(on.display().white, Diagram::macleod_boynton);
  EXPECT_NEAR(white.x, on.l_weight(), 1e-6);
  EXPECT_NEAR(white.y, 1, 1e-6);
}

// V_F of the primaries, computed with another program for sRGB panels: .222, .69, .084 to .090.
TEST(Confusion, LuminanceWeightsAreWhereComputedElsewhere) {
  const auto weights = ObserverOnDisplay(Observer{}, *display_from("srgb")).luminance_weights();
  EXPECT_NEAR(weights[0], .222, 2e-3);
  EXPECT_NEAR(weights[1], .69, 5e-3);
  EXPECT_NEAR(weights[2], .087, 4e-3);
  EXPECT_NEAR(weights[0] + weights[1] + weights[2], 1, 1e-12);
}

// Neutral points against the display's own white, computed with another program from the model
// observer: 491.9, 498.3, 567.3 nm; against D65 491.0, 497.4, 566.8.
TEST(Confusion, NeutralPointsOnADisplay) {
  const Display display = *display_from("srgb/oled");
  const auto neutral = [&](const char* name, const Power& white) {
    return *ObserverOnDisplay(*observer_from(name), display).neutral(white);
  };
  const Power own = white_of(display), d65 = illuminant("illum_D65");
  EXPECT_NEAR(neutral("protan:0", own), 491.9, 0.7);
  EXPECT_NEAR(neutral("deutan:0", own), 498.3, 0.7);
  EXPECT_NEAR(neutral("tritan", own), 567.3, 0.7);
  EXPECT_NEAR(neutral("protan:0", d65), 491.0, 0.7);
  EXPECT_NEAR(neutral("deutan:0", d65), 497.4, 0.7);
  EXPECT_NEAR(neutral("tritan", d65), 566.8, 0.7);
  EXPECT_FALSE(ObserverOnDisplay(Observer{}, display).neutral(own).has_value());
}

TEST(Confusion, LinesAreCutToTheirRectangle) {
  const auto line = clipped_line({.5, .5}, Place2{2, .5}, {0, 0}, {1, 1});
  ASSERT_TRUE(line.has_value());
  EXPECT_NEAR((*line)[0].x, 0, 1e-15);
  EXPECT_NEAR((*line)[1].x, 1, 1e-15);
  EXPECT_NEAR((*line)[1].y, .5, 1e-15);
  const auto vertical = clipped_line({.5, .5}, std::nullopt, {0, 0}, {1, 1});
  EXPECT_NEAR((*vertical)[0].x, .5, 1e-15);
  EXPECT_FALSE(clipped_line({2, 2}, Place2{3, 2}, {0, 0}, {1, 1}).has_value());
  EXPECT_FALSE(clipped_line({.5, .5}, Place2{.5, .5}, {0, 0}, {1, 1}).has_value());
}

}  // namespace
}  // namespace copunctal
