#include "copunctal/base/random.h"

#include <cmath>

#include <gtest/gtest.h>

namespace copunctal {
namespace {

using Block = std::array<std::uint32_t, 4>;

// Known answers of the Random123 distribution, philox4x32 with 10 rounds (Salmon et al. 2011).
TEST(Random, PhiloxGivesThePublishedKnownAnswers) {
  EXPECT_EQ(philox4x32({0, 0, 0, 0}, {0, 0}),
            (Block{0x6627e8d5, 0xe169c58d, 0xbc57ac4c, 0x9b00dbd8}));
  constexpr std::uint32_t ones = 0xffffffff;
  EXPECT_EQ(philox4x32({ones, ones, ones, ones}, {ones, ones}),
            (Block{0x408f276d, 0x41c83b0e, 0xa20bc7c6, 0x6d5451fd}));
  EXPECT_EQ(philox4x32({0x243f6a88, 0x85a308d3, 0x13198a2e, 0x03707344}, {0xa4093822, 0x299f31d0}),
            (Block{0xd16cfe09, 0x94fdcceb, 0x5001e420, 0x24126ea1}));
}

// Quantiles of the standard normal as in any statistics handbook.
TEST(Random, NormalQuantileMatchesHandbookValues) {
  EXPECT_NEAR(normal_quantile(0.5), 0, 1e-15);
  EXPECT_NEAR(normal_quantile(0.975), 1.959963984540054, 1e-12);
  EXPECT_NEAR(normal_quantile(0.001), -3.090232306167813, 1e-12);
  for (double p = 1e-9; p < 1; p = p < 0.4 ? p * 3 : p + 0.0137)
    EXPECT_NEAR(normal_cdf(normal_quantile(p)), p, 1e-13) << p;
}

TEST(Random, NormalHasTheMomentsOfANormal) {
  RandomStream stream(1, 2, 3);
  constexpr int n = 200'000;
  double sum = 0, squares = 0, fourth = 0;
  for (int i = 0; i < n; ++i) {
    const double z = stream.normal();
    sum += z;
    squares += z * z;
    fourth += z * z * z * z;
  }
  EXPECT_NEAR(sum / n, 0, 4 / std::sqrt(n));  // 4 standard errors
  EXPECT_NEAR(squares / n, 1, 4 * std::sqrt(2.0 / n));
  EXPECT_NEAR(fourth / n, 3, 4 * std::sqrt(96.0 / n));
}

TEST(Random, BelowIsEvenAndStaysBelow) {
  RandomStream stream(9);
  std::array<int, 7> counts{};
  for (int i = 0; i < 70'000; ++i) ++counts[stream.below(7)];
  for (const int count : counts) EXPECT_NEAR(count, 10'000, 4 * std::sqrt(10'000 * 6 / 7.0));
}

TEST(Random, StreamsWithDifferentLabelsDiffer) {
  EXPECT_NE(RandomStream(1, 0).bits64(), RandomStream(1, 1).bits64());
  EXPECT_NE(RandomStream(1, 0, 1).bits64(), RandomStream(1, 1, 0).bits64());
  EXPECT_EQ(RandomStream(1, 5, 6, 7).bits64(), RandomStream(1, 5, 6, 7).bits64());
}

}  // namespace
}  // namespace copunctal
