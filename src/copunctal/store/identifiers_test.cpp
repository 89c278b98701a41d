#include "copunctal/store/identifiers.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <array>
#include <set>

using namespace copunctal;

TEST(Identifiers, spell_their_bytes_in_hexadecimal) {
  const RandomBytes counting = [](std::span<std::byte> bytes) {
    for (std::size_t i = 0; i < bytes.size(); ++i) bytes[i] = static_cast<std::byte>(0x10 * i + i);
  };
  EXPECT_EQ(new_id(counting), "00112233445566778899aabbccddeeff");
}

TEST(Identifiers, are_recognised_by_form) {
  EXPECT_TRUE(is_id("00112233445566778899aabbccddeeff"));
  EXPECT_FALSE(is_id("00112233445566778899aabbccddeef"));
  EXPECT_FALSE(is_id("00112233445566778899aabbccddeeff0"));
  EXPECT_FALSE(is_id("00112233445566778899AABBCCDDEEFF"));
  EXPECT_FALSE(is_id("00112233445566778899aabbccddee/f"));
  EXPECT_FALSE(is_id(""));
}

TEST(Identifiers, from_the_kernel_never_repeat_and_use_every_bit) {
  const RandomBytes random = kernel_random();
  std::set<std::string> seen;
  std::array<int, 16> digits{};
  for (int i = 0; i < 10'000; ++i) {
    const std::string id = new_id(random);
    EXPECT_TRUE(seen.insert(id).second);
    for (const char c : id) ++digits[static_cast<std::size_t>(c <= '9' ? c - '0' : c - 'a' + 10)];
  }
  // 320,000 digits, 20,000 of each expected, standard deviation 137: six of them either way.
  EXPECT_GT(*std::min_element(digits.begin(), digits.end()), 20'000 - 6 * 137);
  EXPECT_LT(*std::max_element(digits.begin(), digits.end()), 20'000 + 6 * 137);
}
