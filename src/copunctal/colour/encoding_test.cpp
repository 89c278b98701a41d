#include "copunctal/colour/encoding.h"

#include <gtest/gtest.h>

namespace copunctal {
namespace {

// Codes of 25, 50 and 75 % drive under IEC 61966-2-1: 136.96, 187.52, 224.61.
TEST(Encoding, KnownCodes) {
  EXPECT_NEAR(255 * srgb_encoded(0.25), 136.96, 0.005);
  EXPECT_NEAR(255 * srgb_encoded(0.50), 187.52, 0.005);
  EXPECT_NEAR(255 * srgb_encoded(0.75), 224.61, 0.005);
}

TEST(Encoding, EveryCodeSurvivesTheRoundTrip) {
  for (int code = 0; code < 256; ++code)
    EXPECT_EQ(srgb_code(srgb_code_table()[static_cast<std::size_t>(code)]), code);
}

TEST(Encoding, ClippingIsSaidNotDone) {
  EXPECT_FALSE(in_gamut({1.01, 0, 0}));
  EXPECT_TRUE(in_gamut({1.01, 0, 0}, 0.02));
  EXPECT_EQ(clipped({1.5, -1, 0.5}).b, 0.5);
}

}  // namespace
}  // namespace copunctal
