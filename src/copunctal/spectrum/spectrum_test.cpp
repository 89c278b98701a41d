#include "copunctal/spectrum/spectrum.h"

#include <cmath>

#include <gtest/gtest.h>

namespace copunctal {
namespace {

// A natural spline reproduces a straight line exactly.
TEST(Spectrum, SplineKeepsAStraightLine) {
  const std::vector<double> x = {400, 410, 425, 500}, y = {1, 2, 3.5, 11};
  const CubicSpline spline(x, y);
  for (const double at : {400.0, 403.0, 424.9, 460.0, 500.0})
    EXPECT_NEAR(spline(at), (at - 390) / 10, 1e-12);
}

// Four-point accuracy on a smooth function: error of a cubic spline is O(h^4).
TEST(Spectrum, SplineFollowsASmoothFunction) {
  std::vector<double> x, y;
  for (int nm = 380; nm <= 780; nm += 5) {
    x.push_back(nm);
    y.push_back(std::sin(nm / 40.0));
  }
  const CubicSpline spline(x, y);
  for (double at = 420; at < 740; at += 1.3) EXPECT_NEAR(spline(at), std::sin(at / 40), 2e-6);
}

TEST(Spectrum, OneNanometreTablesPassUnchanged) {
  const auto y = spectrum_from<MatchingFunctionKind>(table("xyz1931"), "y");
  EXPECT_EQ(y.at(555), 1.0);  // ISO/CIE 11664-1
  EXPECT_EQ(y.at(510), 0.503);
}

TEST(Spectrum, OutsideTheTableIsWhatWasAsked) {
  const auto d65 = spectrum_from<PowerKind>(table("illum_D65"), "spd");
  EXPECT_EQ(d65.at(560), 100.0);  // ISO/CIE 11664-2
  EXPECT_EQ(d65.at(781), 0.0);
}

}  // namespace
}  // namespace copunctal
