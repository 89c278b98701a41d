#include "copunctal/base/text.h"

#include <gtest/gtest.h>

namespace copunctal {
namespace {

TEST(Text, NumbersSurviveTheRoundTrip) {
  for (const double value : {0.1, 1.0 / 3, 28.0, 1e-300, -0.0, 123456789.125})
    EXPECT_EQ(number_from(shortest(value)), value);
}

TEST(Text, RefusesWhatIsNotWhollyANumber) {
  for (const char* text : {"", "1,5", "1.5x", "nan", "inf", "1e999", "0x10", "--1"})
    EXPECT_FALSE(number_from(text)) << text;
  EXPECT_EQ(number_from(" +1.5 "), 1.5);
}

TEST(Text, WholeNumbersAreDigitsOnly) {
  EXPECT_EQ(whole_number_from("18446744073709551615"), 18446744073709551615ULL);
  for (const char* text : {"", "-1", "1.0", "18446744073709551616", " 1"})
    EXPECT_FALSE(whole_number_from(text)) << text;
}

TEST(Text, SplitKeepsEmptyParts) {
  EXPECT_EQ(split("a,,b,", ',').size(), 4U);
  EXPECT_EQ(split("", ',').size(), 1U);
}

}  // namespace
}  // namespace copunctal
