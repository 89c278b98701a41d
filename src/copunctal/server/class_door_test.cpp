#include "copunctal/server/class_door.h"

#include <gtest/gtest.h>

#include <future>

using namespace copunctal;
using namespace std::chrono_literals;

namespace {

struct Door : testing::Test {
  std::int64_t now_ns = 1'000'000'000'000;
  ClassDoor door{kernel_random(), [this] { return now_ns; }};

  void SetUp() override {
    door.open({.address = "192.0.2.2", .port = 8471, .is_tls = false, .fingerprint = ""});
  }
  void wait(std::chrono::nanoseconds time) { now_ns += time.count(); }

  static Request from(const std::string& peer, const std::string& token = "") {
    Request request;
    request.arrival = {
        .is_local = false, .is_tls = false, .peer = peer, .address = "192.0.2.2", .port = 8471};
    if (!token.empty()) request.headers = {{"cookie", "sid=" + token}};
    return request;
  }
  std::string code() { return door.state().code; }
  /// A code that is not the right one.
  std::string wrong(int i) {
    std::string guess = code();
    for (std::size_t at = 0; at < 4; ++at, i /= 16)
      guess[at] = "0123456789ABCDEF"[(i % 16 + (guess[at] == '0' ? 1 : 0)) % 16];
    return guess == code() ? wrong(i + 1) : guess;
  }
  int status_of_join(const Request& request, const std::string& typed) {
    const auto joined = door.join(request, typed);
    return joined ? 200 : joined.error().status;
  }
  std::string token_of_new(const std::string& peer = "192.0.2.7") {
    return door.join(from(peer), code())->token;
  }
  Role role_of(const std::string& token) { return door.asker_of(from("192.0.2.7", token)).role; }
};

}  // namespace

TEST_F(Door, lets_in_who_has_the_code) {
  EXPECT_EQ(role_of(""), Role::nobody);
  const auto joined = door.join(from("192.0.2.7"), code());
  ASSERT_TRUE(joined);
  EXPECT_EQ(joined->device, 1);
  EXPECT_EQ(joined->lifetime, 8h);
  EXPECT_EQ(role_of(joined->token), Role::participant);
  EXPECT_EQ(role_of(std::string(64, '0')), Role::nobody);
  EXPECT_EQ(status_of_join(from("192.0.2.7"), wrong(1)), 403);
  EXPECT_EQ(status_of_join(from("192.0.2.7"), "short"), 422);
  EXPECT_EQ(door.state().devices.size(), 1U);
}

TEST_F(Door, knows_this_computer_without_a_code) {
  Request request;
  request.arrival = local_arrival(8471);
  EXPECT_EQ(door.asker_of(request).role, Role::instructor);
}

TEST_F(Door, ends_every_cookie_after_eight_hours) {
  const std::string early = token_of_new();
  wait(8h - 1s);
  const auto late = door.join(from("192.0.2.8"), code());
  ASSERT_TRUE(late);
  EXPECT_EQ(late->lifetime, 1s);
  EXPECT_EQ(role_of(early), Role::participant);
  const std::string last_code = code();
  wait(1s);
  EXPECT_EQ(role_of(early), Role::nobody);
  EXPECT_EQ(role_of(late->token), Role::nobody);
  EXPECT_FALSE(door.state().network);
  EXPECT_EQ(status_of_join(from("192.0.2.9"), last_code), 409);
  EXPECT_FALSE(door.make_new_code());
}

TEST_F(Door, refuses_guesses_and_says_for_how_long) {
  for (int i = 0; i < 5; ++i) EXPECT_EQ(status_of_join(from("192.0.2.66"), wrong(i)), 403) << i;
  wait(10s);
  const auto refused = door.join(from("192.0.2.66"), code());
  ASSERT_FALSE(refused);
  EXPECT_EQ(refused.error().status, 429) << "not even the right one is looked at";
  EXPECT_EQ(refused.error().retry_after_s, 50);
  EXPECT_EQ(status_of_join(from("192.0.2.7"), code()), 200);
  wait(50s);
  EXPECT_EQ(status_of_join(from("192.0.2.66"), code()), 200);
}

// Many join by one address in a minute, one of them slips now and then, and others guess.
TEST_F(Door, lets_three_hundred_in_behind_one_address_while_others_guess) {
  for (int guesser = 0; guesser < 200; ++guesser)
    (void)door.join(from("198.51.100." + std::to_string(guesser)), wrong(guesser));
  EXPECT_GE(door.state().wrong_codes, 100U);
  for (int person = 0; person < 300; ++person) {
    ASSERT_EQ(status_of_join(from("192.0.2.7"), code()), 200) << person;
    wait(100ms);
  }
  EXPECT_EQ(door.state().devices.size(), 300U);
}

TEST_F(Door, counts_guesses_sent_at_once) {
  std::vector<std::future<int>> statuses;
  for (int i = 0; i < 40; ++i)
    statuses.push_back(std::async(
        std::launch::async, [this, i] { return status_of_join(from("192.0.2.66"), wrong(i)); }));
  int heard = 0;
  for (auto& status : statuses) heard += status.get() == 403 ? 1 : 0;
  EXPECT_EQ(heard, 5);
}

TEST_F(Door, with_a_new_code_keeps_who_has_joined) {
  const std::string token = token_of_new(), old_code = code();
  const auto state = door.make_new_code();
  ASSERT_TRUE(state);
  EXPECT_NE(state->code, old_code);
  EXPECT_EQ(status_of_join(from("192.0.2.8"), old_code), 403);
  EXPECT_EQ(status_of_join(from("192.0.2.8"), state->code), 200);
  EXPECT_EQ(role_of(token), Role::participant);
}

TEST_F(Door, can_be_locked) {
  const std::string token = token_of_new();
  EXPECT_FALSE(door.set_joining(false)->is_joining_open);
  EXPECT_EQ(status_of_join(from("192.0.2.8"), code()), 403);
  EXPECT_EQ(role_of(token), Role::participant);
  EXPECT_TRUE(door.set_joining(true)->is_joining_open);
  EXPECT_EQ(status_of_join(from("192.0.2.8"), code()), 200);
}

TEST_F(Door, keeps_each_ones_sitting_to_themselves) {
  const std::string one = token_of_new(), other = token_of_new();
  const Asker first = door.asker_of(from("192.0.2.7", one)),
              second = door.asker_of(from("192.0.2.7", other));
  EXPECT_TRUE(second.may_have("sitting")) << "nobody's yet";
  first.takes("sitting");
  second.takes("sitting");
  EXPECT_TRUE(first.may_have("sitting"));
  EXPECT_FALSE(second.may_have("sitting"));
  EXPECT_EQ(door.state().devices.at(0).sittings, 1U);
  EXPECT_EQ(door.state().devices.at(1).sittings, 0U);
}

TEST_F(Door, gives_who_joins_again_a_new_cookie_and_their_sittings) {
  const std::string old_token = token_of_new();
  door.asker_of(from("192.0.2.7", old_token)).takes("sitting");
  const auto again = door.join(from("192.0.2.7", old_token), code());
  ASSERT_TRUE(again);
  EXPECT_NE(again->token, old_token);
  EXPECT_EQ(again->device, 1);
  EXPECT_EQ(role_of(old_token), Role::nobody);
  EXPECT_TRUE(door.asker_of(from("192.0.2.7", again->token)).may_have("sitting"));
}

TEST_F(Door, ends_a_device_and_frees_its_sittings) {
  const std::string one = token_of_new(), other = token_of_new();
  const Asker ended = door.asker_of(from("192.0.2.7", one));
  ended.takes("sitting");
  ASSERT_TRUE(door.end_device(1));
  EXPECT_EQ(role_of(one), Role::nobody);
  EXPECT_EQ(role_of(other), Role::participant);
  EXPECT_TRUE(door.asker_of(from("192.0.2.7", other)).may_have("sitting"));
  ended.takes("sitting");  // a request that was under way meanwhile
  EXPECT_TRUE(door.asker_of(from("192.0.2.7", other)).may_have("sitting"));
  EXPECT_EQ(door.end_device(1).error().status, 404);
}

TEST_F(Door, has_room_for_two_thousand_devices) {
  for (std::size_t i = 0; i < ClassDoor::most_devices; ++i) (void)token_of_new();
  EXPECT_EQ(status_of_join(from("192.0.2.7"), code()), 503);
  ASSERT_TRUE(door.end_device(5));
  EXPECT_EQ(status_of_join(from("192.0.2.7"), code()), 200);
}

TEST_F(Door, that_was_never_opened_lets_nobody_in) {
  ClassDoor closed{kernel_random(), [this] { return now_ns; }};
  EXPECT_EQ(closed.join(from("192.0.2.7"), "").error().status, 409);
  EXPECT_EQ(closed.join(from("192.0.2.7"), "00000000").error().status, 409);
  EXPECT_EQ(closed.asker_of(from("192.0.2.7", std::string(64, '0'))).role, Role::nobody);
  EXPECT_EQ(closed.state().code, "");
}
