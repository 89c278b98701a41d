#include "copunctal/colour/tone_curve.h"

#include <cmath>
#include <limits>

#include <gtest/gtest.h>

#include "copunctal/base/random.h"
#include "copunctal/colour/encoding.h"

namespace copunctal {
namespace {

// IEC 61966-2-1: code 188 of 255 is .5029 of full light, code 10 on the straight part is
// 10/255/12.92.
TEST(ToneCurve, TheDefaultIsSrgb) {
  const ToneCurve curve;
  EXPECT_TRUE(curve.is_srgb());
  EXPECT_NEAR(curve.decoded(188.0 / 255), 0.5029, 1e-4);
  EXPECT_NEAR(curve.decoded(10.0 / 255), 10.0 / 255 / 12.92, 1e-15);
  // The whole curve is nearest a power of 2.2 (common practice).
  EXPECT_NEAR(curve.nearest_exponent(), 2.2, 0.1);
}

// Law: decoded(encoded(x)) lies within half a 16-bit step for all 65,536 codes, for every shape.
TEST(ToneCurve, RoundTripsAllCodes) {
  std::vector<double> encoded, light;
  for (int i = 0; i <= 16; ++i) {
    encoded.push_back(i / 16.0);
    light.push_back(0.3 + 200 * std::pow(i / 16.0, 2.35));
  }
  for (const ToneCurve& curve : {ToneCurve(), *ToneCurve::power(2.4), *ToneCurve::power(0.45),
                                 *ToneCurve::sampled(encoded, light)}) {
    for (int code = 0; code < 65536; ++code) {
      const double x = code / 65535.0;
      ASSERT_NEAR(curve.encoded(curve.decoded(x)), x, 0.5 / 65535) << curve.words() << " " << code;
    }
    EXPECT_EQ(curve.decoded(0), 0);
    EXPECT_EQ(curve.decoded(1), 1);
    for (int code = 0; code < 256; ++code)
      EXPECT_EQ(curve.code(curve.code_table()[static_cast<std::size_t>(code)]), code);
  }
}

// A power of 2: code c over c - 1 is (c / (c - 1))^2; ten bits have steps a quarter as large.
TEST(ToneCurve, StepsAreAsCoarseAsTheBits) {
  const ToneCurve square = *ToneCurve::power(2);
  EXPECT_NEAR(square.step_at(128.0 / 255, 8), (128.0 / 127) * (128.0 / 127) - 1, 1e-12);
  EXPECT_NEAR(square.step_at(0.5, 8) / square.step_at(0.5, 10), 4, 0.05);
}

TEST(ToneCurve, MeasuredSamplesLoseTheirBlack) {
  const double encoded[] = {0, 0.5, 1}, light[] = {2, 27, 102};
  const auto curve = ToneCurve::sampled(encoded, light);
  EXPECT_DOUBLE_EQ(curve->decoded(0.5), 0.25);
  EXPECT_DOUBLE_EQ(curve->decoded(0.75), 0.625);
}

TEST(ToneCurve, ImpossibleOnesAreRefused) {
  constexpr double nan = std::numeric_limits<double>::quiet_NaN();
  for (const double gamma : {0.0, -1.0, 10.1, nan, std::numeric_limits<double>::infinity()})
    EXPECT_EQ(ToneCurve::power(gamma).error().kind, Error::Kind::bad_input);
  const auto refused = [](std::vector<double> encoded, std::vector<double> light) {
    const auto curve = ToneCurve::sampled(encoded, light);
    return !curve && curve.error().kind == Error::Kind::bad_input && !curve.error().remedy.empty();
  };
  EXPECT_TRUE(refused({0}, {0}));
  EXPECT_TRUE(refused({0, 0.5, 1}, {0, 0.6, 0.5}));
  EXPECT_TRUE(refused({0, 0.5, 0.5, 1}, {0, 0.2, 0.3, 1}));
  EXPECT_TRUE(refused({0.1, 1}, {0, 1}));
  EXPECT_TRUE(refused({0, 1}, {5, 5}));
  EXPECT_TRUE(refused({0, 0.5, 1}, {0, nan, 1}));
  EXPECT_TRUE(refused({0, 1}, {-1, 1}));
}

// Property: 1e5 random rising curves stay within 0..1 and round-trip.
TEST(ToneCurve, RandomCurvesStayInRange) {
  RandomStream random(8, 1);
  for (int i = 0; i < 100'000; ++i) {
    std::vector<double> encoded{0}, light{random.uniform(0, 10)};
    const int samples = 1 + static_cast<int>(random.uniform(0, 5));
    for (int k = 1; k < samples; ++k) {
      encoded.push_back(encoded.back() + (1 - encoded.back()) * random.uniform(0.01, 0.9));
      light.push_back(light.back() + random.uniform(0, 50));
    }
    encoded.push_back(1);
    light.push_back(light.back() + random.uniform(1e-6, 50));
    const auto curve = ToneCurve::sampled(encoded, light);
    ASSERT_TRUE(curve.has_value()) << i << ": " << curve.error().message;
    const double x = random.uniform(0, 1), y = curve->decoded(x);
    ASSERT_TRUE(y >= 0 && y <= 1) << i;
    ASSERT_NEAR(curve->decoded(curve->encoded(y)), y, 1e-12) << i;
  }
}

}  // namespace
}  // namespace copunctal
