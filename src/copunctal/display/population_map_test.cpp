#include "copunctal/display/population_map.h"

#include <cmath>
#include <iostream>

#include <gtest/gtest.h>

#include "copunctal/observer/population.h"

namespace copunctal {
namespace {

double largest_difference(const LinearMap<LinearRgb, ConeExcitation>& a,
                          const LinearMap<LinearRgb, ConeExcitation>& b) {
  double largest = 0;
  for (std::size_t i = 0; i < 3; ++i)
    for (std::size_t j = 0; j < 3; ++j)
      largest = std::max(largest, std::abs(a.rows[i][j] - b.rows[i][j]));
  return largest;
}

// Against the double twin, the integral over the whole 1 nm grid: 2e-4 of white, a fifth of what an
// unknown panel leaves open (display/tolerance.h).
TEST(PopulationMap, IsTheIntegralForEveryKindAndDisplay) {
  for (const char* name : {"srgb/oled", "srgb/wled", "display-p3/qd", "srgb/crt"})
    for (const char* kind : {"normal", "protan:5", "protan:0", "deutan:7", "tritan"}) {
      const Observer centre = *observer_from(kind);
      const Display display = *display_from(name);
      const PopulationMap fast(centre, display);
      double largest = 0;
      for (std::uint32_t i = 0; i < 500; ++i) {
        const Observer one = individual(centre, 21, i);
        largest = std::max(
            largest,
            largest_difference(fast(one), lms_from_linear_rgb(fundamentals_of(one), display)));
      }
      std::cout << name << " " << kind << ": largest difference " << largest << "\n";
      EXPECT_LE(largest, 2e-4) << name << " " << kind;
      EXPECT_GT(largest, 0) << "the twin is another computation";
    }
}

TEST(PopulationMap, FarShiftsAndFormulaeGoToTheTwin) {
  const Display display = *display_from("srgb");
  Observer far = *observer_from("normal,shift-l=14");
  EXPECT_EQ(largest_difference(PopulationMap(Observer{}, display)(far),
                               lms_from_linear_rgb(fundamentals_of(far), display)),
            0);
}

TEST(PopulationMap, AConeWithoutPigmentHasARowOfZeros) {
  const Observer tritan = *observer_from("tritan");
  const auto map = PopulationMap(tritan, *display_from("srgb"))(tritan);
  for (const double entry : map.rows[2]) EXPECT_EQ(entry, 0);
}

}  // namespace
}  // namespace copunctal
