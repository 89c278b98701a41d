#include "copunctal/server/guess_limiter.h"

#include <gtest/gtest.h>

using namespace copunctal;
using namespace std::chrono_literals;

namespace {

std::string numbered(const char* what, int i) {
  return what + std::to_string(i);
}

}  // namespace

TEST(GuessLimiter, hears_five_wrong_codes_a_minute_from_an_address) {
  GuessLimiter limiter;
  for (int i = 0; i < 5; ++i) {
    EXPECT_EQ(limiter.wait_of("a", i * 1s), 0s) << i;
    limiter.count_wrong("a", numbered("code", i), i * 1s);
  }
  EXPECT_EQ(limiter.wait_of("a", 5s), 55s) << "until the first is a minute old";
  EXPECT_EQ(limiter.wait_of("a", 60s - 1ns), 1ns);
  EXPECT_EQ(limiter.wait_of("a", 60s), 0s);
  limiter.count_wrong("a", "another", 60s);
  EXPECT_EQ(limiter.wait_of("a", 60s), 1s) << "then until the second is";
  EXPECT_EQ(limiter.wait_of("b", 60s), 0s) << "others are heard";
}

TEST(GuessLimiter, counts_the_same_wrong_code_once) {
  GuessLimiter limiter;
  for (int i = 0; i < 50; ++i) limiter.count_wrong("a", "TYPED0IT", 1s);
  EXPECT_EQ(limiter.wrong_ones(1s), 1U);
  EXPECT_EQ(limiter.wait_of("a", 1s), 0s);
  limiter.count_wrong("b", "TYPED0IT", 1s);
  EXPECT_EQ(limiter.wrong_ones(1s), 2U);
}

TEST(GuessLimiter, with_a_hundred_in_all_hears_those_without_a_wrong_one) {
  GuessLimiter limiter;
  for (int i = 0; i < 99; ++i) limiter.count_wrong(numbered("address", i), "wrong", i * 100ms);
  EXPECT_EQ(limiter.wait_of("address0", 10s), 0s);
  limiter.count_wrong("address99", "wrong", 10s);
  for (int i = 0; i < 100; ++i) EXPECT_GT(limiter.wait_of(numbered("address", i), 10s), 0s) << i;
  EXPECT_EQ(limiter.wait_of("address99", 10s), 50s) << "until the first of all is a minute old";
  EXPECT_EQ(limiter.wait_of("somebody new", 10s), 0s);
  EXPECT_EQ(limiter.wait_of("address99", 60s), 0s) << "99 are left";
}

// What an attacker with 254 addresses gets to try in a class's eight hours, at full speed.
TEST(GuessLimiter, bounds_what_many_addresses_together_can_try) {
  GuessLimiter limiter;
  int tried = 0;
  constexpr int minutes = 60;
  for (auto now = 0s; now < minutes * 60s; now += 1s)
    for (int address = 0; address < 254; ++address) {
      const std::string name = numbered("", address);
      for (int i = 0; i < 6 && limiter.wait_of(name, now) == 0s; ++i)
        limiter.count_wrong(name, numbered("", tried++), now);
    }
  // A hundred, and one more from each of the addresses that had none; in each minute.
  EXPECT_LE(tried, (100 + 254) * minutes);
  EXPECT_GE(tried, 100 * minutes) << "the attack must be one";
  const double hit = tried * 8.0 / 1099511627776.0;  // eight hours, of 32^8 codes
  EXPECT_LT(hit, 2e-7);
}

TEST(GuessLimiter, forgets) {
  GuessLimiter limiter;
  for (int i = 0; i < 100'000; ++i) limiter.count_wrong(numbered("", i), "x", i * 10ms);
  EXPECT_EQ(limiter.wrong_ones(100'000 * 10ms), 5999U) << "no more than a minute's";
}
