#include "copunctal/view/apart.h"

#include <gtest/gtest.h>

#include "copunctal/base/random.h"

namespace copunctal {
namespace {

const Display& srgb() {
  static const Display display = *display_from("srgb");
  return display;
}

double between(const char* observer, const LinearRgb& a, const LinearRgb& b) {
  return ColoursApart(*observer_from(observer), srgb())(a, b);
}

TEST(Apart, ACentOfLuminanceIsOneForEverybody) {
  for (const char* name : {"normal", "protan:0", "deutan:5", "tritan", "rod-monochromat"}) {
    const double d = between(name, {0.5, 0.5, 0.5}, {0.505, 0.505, 0.505});
    EXPECT_NEAR(d, 0.99, 0.02) << name << ": 1 % less a little flare";
    EXPECT_EQ(between(name, {0.2, 0.3, 0.4}, {0.2, 0.3, 0.4}), 0);
    EXPECT_NEAR(between(name, {0.2, 0.3, 0.4}, {0.4, 0.1, 0.3}),
                between(name, {0.4, 0.1, 0.3}, {0.2, 0.3, 0.4}), 1e-12);
  }
}

// Along a dichromat's own confusion line nothing changes for it, and much for a normal.
TEST(Apart, OfOneConfusionLineIsNothingForItsDichromat) {
  const auto lms = lms_from_linear_rgb(fundamentals_of(Observer{}), srgb());
  const auto back = inverse(lms);
  for (const auto& [name, lost] : {std::pair{"protan:0", ConeExcitation{0.05, 0, 0}},
                                   {"deutan:0", {0, 0.05, 0}},
                                   {"tritan", {0, 0, 0.05}}}) {
    const LinearRgb a{0.4, 0.4, 0.4}, b = a + back(lost);
    EXPECT_LT(between(name, a, b), 0.05) << name;
    EXPECT_GT(between("normal", a, b), 1) << name;
  }
}

// What differs in one pigment of a normal differs less, the nearer the other one is to it.
TEST(Apart, ShrinksWithTheSeparationOfThePigments) {
  const auto back = inverse(lms_from_linear_rgb(fundamentals_of(Observer{}), srgb()));
  const LinearRgb a{0.4, 0.4, 0.4};
  for (const auto& [kind, lost] :
       {std::pair{"protan", ConeExcitation{0.02, 0, 0}}, {"deutan", {0, 0.02, 0}}}) {
    const LinearRgb b = a + back(lost);
    double before = between("normal", a, b);
    for (const char* nm : {":20", ":10", ":5", ":0"}) {
      const double now = between((kind + std::string(nm)).c_str(), a, b);
      EXPECT_LT(now, before) << kind << nm;
      before = now;
    }
  }
}

}  // namespace
}  // namespace copunctal
