#include "copunctal/server/join_code.h"

#include <gtest/gtest.h>

#include <map>
#include <set>

using namespace copunctal;

TEST(JoinCode, is_eight_symbols_of_thirty_two_each_as_probable) {
  EXPECT_EQ(std::set<char>(join_alphabet.begin(), join_alphabet.end()).size(), 32U);
  for (const char confusing : {'I', 'L', 'O', 'U'})
    EXPECT_EQ(join_alphabet.find(confusing), std::string_view::npos);
  const RandomBytes random = kernel_random();
  std::map<char, int> counts;
  std::set<std::string> seen;
  constexpr int codes = 4000;
  for (int i = 0; i < codes; ++i) {
    const std::string code = new_join_code(random);
    ASSERT_EQ(code.size(), join_code_size);
    EXPECT_TRUE(seen.insert(code).second) << "40 bits: one in 137,000 runs repeats any";
    for (const char c : code) ++counts[c];
  }
  ASSERT_EQ(counts.size(), join_alphabet.size());
  // Chi square with 31 degrees of freedom: above 83 in one of a million runs.
  const double expected = codes * 8 / 32.0;
  double chi_square = 0;
  for (const auto& [c, n] : counts) chi_square += (n - expected) * (n - expected) / expected;
  EXPECT_LT(chi_square, 83);
}

// All forty bits reach the code: no two patterns of bytes with one bit set give the same.
TEST(JoinCode, uses_every_bit) {
  std::set<std::string> codes;
  for (std::size_t bit = 0; bit < 40; ++bit)
    codes.insert(new_join_code([bit](std::span<std::byte> bytes) {
      for (std::size_t i = 0; i < bytes.size(); ++i)
        bytes[i] = std::byte(i == bit / 8 ? 1U << (bit % 8) : 0U);
    }));
  EXPECT_EQ(codes.size(), 40U);
}

TEST(JoinCode, is_read_as_people_type_it) {
  EXPECT_EQ(join_code_from("7K3M-9QXT"), "7K3M9QXT");
  EXPECT_EQ(join_code_from(" 7k3m 9qxt "), "7K3M9QXT");
  EXPECT_EQ(join_code_from("oOiIlL00"), "00111100");
  for (const char* other : {"", "7K3M9QX", "7K3M9QXTA", "7K3M9QXU", "7K3M9QX!", "7K3M_9QXT",
                            "7K3M9QX\xC3\xA9", "7K3M\n9QXT"})
    EXPECT_FALSE(join_code_from(other)) << other;
  EXPECT_FALSE(join_code_from(std::string(100'000, '7')));
  EXPECT_EQ(join_code_from(shown_code("7K3M9QXT")), "7K3M9QXT");
}

TEST(JoinCode, secrets_are_the_same_or_not) {
  EXPECT_TRUE(is_same_secret("", ""));
  EXPECT_TRUE(is_same_secret("7K3M9QXT", "7K3M9QXT"));
  for (const char* other : {"8K3M9QXT", "7K3M9QX0", "7K3M9QX", "7K3M9QXTT", ""})
    EXPECT_FALSE(is_same_secret("7K3M9QXT", other)) << other;
}
