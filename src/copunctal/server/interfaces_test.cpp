#include "copunctal/server/interfaces.h"

#include <gtest/gtest.h>

#include <algorithm>

using namespace copunctal;

namespace {

const NetworkAddress lo{"lo", "127.0.0.1"}, cable{"eth0", "192.0.2.2"},
    air{"wlan0", "198.51.100.3"}, second{"wlan0", "198.51.100.4"};

std::string address_of(const std::vector<NetworkAddress>& all, std::string_view wish) {
  const auto chosen = chosen_address(all, wish);
  return chosen ? chosen->address : "";
}

}  // namespace

TEST(Interfaces, the_only_one_needs_no_name) {
  EXPECT_EQ(address_of({lo, cable}, ""), "192.0.2.2");
}

TEST(Interfaces, are_chosen_by_name_or_address) {
  EXPECT_EQ(address_of({lo, cable, air}, "wlan0"), "198.51.100.3");
  EXPECT_EQ(address_of({lo, cable, air}, "192.0.2.2"), "192.0.2.2");
  EXPECT_EQ(address_of({lo, air, second}, "198.51.100.4"), "198.51.100.4");
  EXPECT_EQ(address_of({lo}, "127.0.0.2"), "127.0.0.2") << "for a rehearsal";
}

TEST(Interfaces, that_cannot_be_told_apart_are_listed) {
  for (const auto& [all, wish] : std::vector<std::pair<std::vector<NetworkAddress>, std::string>>{
           {{lo, cable, air}, ""},
           {{lo, cable, air, second}, "wlan0"},
           {{lo, cable, air}, "eth1"},
           {{lo, cable, air}, "192.0.2.99"},
           {{lo, cable, air}, "0.0.0.0"},
           {{lo, cable, air}, "127.0.0.1"},
           {{lo, cable, air}, "lo"},
           {{lo, cable, air}, "::1"},
           {{lo, cable, air}, "127.1"}}) {
    const auto chosen = chosen_address(all, wish);
    ASSERT_FALSE(chosen) << wish;
    EXPECT_EQ(chosen.error().kind, Error::Kind::usage);
    EXPECT_NE(chosen.error().message.find("eth0 192.0.2.2, wlan0 198.51.100.3"), std::string::npos)
        << chosen.error().message;
    EXPECT_EQ(chosen.error().message.find("127.0.0.1,"), std::string::npos);
    EXPECT_NE(chosen.error().remedy.find("--interface"), std::string::npos);
  }
  EXPECT_NE(chosen_address({lo}, "").error().message.find("no network"), std::string::npos);
}

TEST(Interfaces, of_this_machine_hold_its_loopback) {
  const auto all = network_addresses();
  ASSERT_TRUE(all);
  EXPECT_TRUE(std::any_of(all->begin(), all->end(),
                          [](const NetworkAddress& one) { return one.address == "127.0.0.1"; }));
}
