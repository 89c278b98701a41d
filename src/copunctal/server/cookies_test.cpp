#include "copunctal/server/cookies.h"

#include <gtest/gtest.h>

#include <set>

using namespace copunctal;

namespace {

const std::string token(64, 'a'), other(64, 'b');

std::optional<std::string> token_of(const std::string& cookie, bool is_tls = false) {
  Request request;
  request.arrival.is_tls = is_tls;
  request.headers = {{"cookie", cookie}};
  return token_in(request);
}

}  // namespace

TEST(Cookies, tokens_are_new_each_time) {
  std::set<std::string> tokens;
  for (int i = 0; i < 10'000; ++i) {
    const std::string one = new_token(kernel_random());
    EXPECT_EQ(one.size(), 64U);
    EXPECT_TRUE(tokens.insert(one).second);
    EXPECT_EQ(token_of("sid=" + one), one);
  }
}

TEST(Cookies, are_found_by_their_name) {
  EXPECT_EQ(token_of("sid=" + token), token);
  EXPECT_EQ(token_of("a=b; sid=" + token + ";c=d"), token);
  EXPECT_EQ(token_of("__Host-sid=" + token, true), token);
  EXPECT_FALSE(token_of("sid=" + token, true)) << "a plain page cannot plant one for TLS";
  EXPECT_FALSE(token_of("__Host-sid=" + token)) << "nor the other way round";
}

TEST(Cookies, out_of_form_or_planted_beside_another_are_none) {
  for (const std::string& cookie :
       {std::string(), std::string("sid"), std::string("sid="), "sid=" + token.substr(1),
        "sid=" + token + "a", "sid=" + std::string(64, 'A'), "sid=\"" + token + "\"",
        "xsid=" + token, "SID=" + token, "sid=" + token + "; sid=" + other,
        "sid=" + token + "; sid=" + token, std::string(";;;="), "sid=" + std::string(64, ' ')})
    EXPECT_FALSE(token_of(cookie)) << cookie;
  Request twice;
  twice.headers = {{"cookie", "sid=" + token}, {"cookie", "a=b"}};
  EXPECT_FALSE(token_in(twice));
  EXPECT_FALSE(token_in({}));
}

TEST(Cookies, are_kept_from_scripts_and_other_sites) {
  Arrival arrival;
  using namespace std::chrono_literals;
  EXPECT_EQ(cookie_giving(token, arrival, 8h),
            "sid=" + token + "; Path=/; HttpOnly; SameSite=Strict; Max-Age=28800");
  arrival.is_tls = true;
  EXPECT_EQ(cookie_giving(token, arrival, 8h),
            "__Host-sid=" + token + "; Path=/; HttpOnly; SameSite=Strict; Max-Age=28800; Secure");
}
