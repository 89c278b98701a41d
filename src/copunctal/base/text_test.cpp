#include "copunctal/base/text.h"

#include <bit>
#include <clocale>
#include <cmath>
#include <locale>

#include <gtest/gtest.h>

#include "copunctal/base/random.h"

namespace copunctal {
namespace {

TEST(Text, NumbersSurviveTheRoundTrip) {
  for (const double value : {0.1, 1.0 / 3, 28.0, 1e-300, -0.0, 123456789.125})
    EXPECT_EQ(number_from(shortest(value)), value);
}

// Law: every finite double survives; 10^6 random bit patterns, subnormal numbers among them.
TEST(Text, AMillionDoublesSurviveTheRoundTrip) {
  RandomStream random(17, 2);
  for (int i = 0; i < 1'000'000; ++i) {
    const auto value = std::bit_cast<double>(random.bits64());
    if (!std::isfinite(value)) continue;
    const auto back = number_from(shortest(value));
    ASSERT_TRUE(back.has_value()) << shortest(value);
    ASSERT_EQ(std::bit_cast<std::uint64_t>(*back), std::bit_cast<std::uint64_t>(value));
  }
}

// A decimal comma, as in Germany, reaches no number of ours.
TEST(Text, NoLocaleChangesANumber) {
  struct Comma : std::numpunct<char> {
    char do_decimal_point() const override { return ','; }
    char do_thousands_sep() const override { return '.'; }
    std::string do_grouping() const override { return "\3"; }
  };
  const std::locale before = std::locale::global(std::locale(std::locale(), new Comma));
  // The C library's too, where the machine has that locale.
  const std::string c_before = std::setlocale(LC_ALL, nullptr);
  (void)std::setlocale(LC_ALL, "de_DE.UTF-8");
  EXPECT_EQ(shortest(12345.5), "12345.5");
  EXPECT_EQ(decimals(12345.5, 2), "12345.50");
  EXPECT_EQ(number_from("12345.5"), 12345.5);
  EXPECT_FALSE(number_from("12345,5"));
  (void)std::setlocale(LC_ALL, c_before.c_str());
  std::locale::global(before);
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

TEST(Text, CountsCharactersNotBytes) {
  EXPECT_EQ(characters_in(""), 0U);
  EXPECT_EQ(characters_in("Übung"), 5U);
  EXPECT_EQ(characters_in("–€😀"), 3U);
  EXPECT_FALSE(has_control_character("Übung – 😀"));
  for (const char* text : {"a\nb", "\t", "\x7f", "\x1b[0m"})
    EXPECT_TRUE(has_control_character(text));
}

TEST(Text, SplitKeepsEmptyParts) {
  EXPECT_EQ(split("a,,b,", ',').size(), 4U);
  EXPECT_EQ(split("", ',').size(), 1U);
}

}  // namespace
}  // namespace copunctal
