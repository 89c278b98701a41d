#include "copunctal/app/preflight.h"

#include <gtest/gtest.h>

using namespace copunctal;

namespace {

constexpr double server_ms = 1.8e12;

/// A phone as it should be.
DeviceLook good_phone() {
  DeviceLook look;
  look.is_secure_context = true;
  look.window_px = {390, 844};
  look.device_pixel_ratio = 2;
  look.refresh_hz = 60;
  look.frame_spread_ms = 0.4;
  look.dropped_frames = 0;
  look.gamut = "srgb";
  look.codes = CodesRead{3072, 0, 0};
  look.has_storage = true;
  look.clock_ms = server_ms + 500;
  return look;
}

DisplayFinding of(const DeviceLook& look, const std::string& what,
                  const std::string& transport = "tls") {
  for (const DisplayFinding& finding : findings_of(look, transport, server_ms))
    if (finding.what == what) return finding;
  throw std::runtime_error("no finding " + what);
}

}  // namespace

TEST(Preflight, of_a_good_device_finds_nothing_to_mend) {
  EXPECT_EQ(worst_of(findings_of(good_phone(), "tls", server_ms)), FindingState::fine);
}

TEST(Preflight, says_when_a_plate_does_not_fit) {
  DeviceLook look = good_phone();
  look.device_pixel_ratio = 1;  // 390 device pixels for a plate of 640
  const DisplayFinding found = of(look, "plate");
  EXPECT_EQ(found.state, FindingState::mend);
  EXPECT_NE(found.words.find("only 390 of the 640"), std::string::npos) << found.words;
  // Lying on its side, the answer row has no room below: 640 / 2 + 170 > 390.
  look = good_phone();
  look.window_px = {844, 390};
  EXPECT_EQ(of(look, "plate").state, FindingState::note);
  // 640 / 3 CSS pixels of .0213 degrees are 4.5 degrees.
  look = good_phone();
  look.device_pixel_ratio = 3;
  EXPECT_EQ(of(look, "plate").state, FindingState::note);
  EXPECT_NE(of(look, "plate").words.find("4.5 degrees"), std::string::npos);
}

TEST(Preflight, knows_power_saving_by_its_thirty_frames) {
  DeviceLook look = good_phone();
  look.refresh_hz = 30.1;
  EXPECT_EQ(of(look, "refresh").state, FindingState::mend);
  look.refresh_hz = 60;
  look.dropped_frames = 7;  // of 120 due in two seconds, more than a twentieth
  EXPECT_EQ(of(look, "refresh").state, FindingState::note);
  look.dropped_frames = 6;
  EXPECT_EQ(of(look, "refresh").state, FindingState::fine);
  look.refresh_hz.reset();
  look.frame_spread_ms.reset();
  look.dropped_frames.reset();
  EXPECT_EQ(of(look, "refresh").state, FindingState::note);
}

TEST(Preflight, says_what_else_is_wrong_and_what_to_do) {
  DeviceLook look = good_phone();
  look.codes = CodesRead{3072, 12, 2};
  EXPECT_EQ(of(look, "codes").state, FindingState::mend);
  EXPECT_NE(of(look, "codes").words.find("12 of 3072"), std::string::npos);
  look.codes.reset();
  EXPECT_EQ(of(look, "codes").state, FindingState::mend);
  look.pinch_zoom = 1.5;
  EXPECT_EQ(of(look, "zoom").state, FindingState::mend);
  look = good_phone();
  look.device_pixel_ratio = 1.1;
  EXPECT_EQ(of(look, "zoom").state, FindingState::note);
  look.device_pixel_ratio = 1.25;  // a display's own scale, not a zoom
  EXPECT_EQ(of(look, "zoom").state, FindingState::fine);
  look = good_phone();
  look.colour_depth = 16;
  EXPECT_EQ(of(look, "colour").state, FindingState::mend);
  look.has_storage = false;
  EXPECT_EQ(of(look, "storage").state, FindingState::note);
  look.clock_ms = server_ms - 3'600'000;
  EXPECT_EQ(of(look, "clock").state, FindingState::note);
  EXPECT_NE(of(look, "clock").words.find("60 minutes slow: harmless"), std::string::npos);
  look.is_secure_context = false;
  EXPECT_EQ(of(look, "reach", "plain").state, FindingState::note);
}

TEST(Preflight, keeps_one_look_and_the_same_words_for_a_device) {
  DeviceList list(kernel_random());
  std::vector<int> told;
  list.tell([&](const CheckedDevice& device) { told.push_back(device.device); });
  const auto first = list.keep(2, "tls", good_phone(), server_ms);
  ASSERT_TRUE(first);
  ASSERT_TRUE(list.keep(1, "plain", good_phone(), server_ms));
  const auto again = list.keep(2, "plain", good_phone(), server_ms);
  EXPECT_EQ(first->pseudonym, again->pseudonym);
  ASSERT_EQ(list.devices().size(), 2U);
  EXPECT_EQ(list.devices()[1].transport, "plain");
  EXPECT_NE(list.devices()[0].pseudonym, list.devices()[1].pseudonym);
  EXPECT_EQ(told, (std::vector{2, 1, 2}));
}

TEST(Preflight, refuses_a_look_that_cannot_be_meant) {
  DeviceList list(kernel_random());
  const auto refused = [&](auto spoil) {
    DeviceLook look = good_phone();
    spoil(look);
    const auto kept = list.keep(1, "tls", look, server_ms);
    return !kept && kept.error().kind == Error::Kind::bad_input;
  };
  EXPECT_TRUE(refused([](DeviceLook& look) { look.window_px = {0, 844}; }));
  EXPECT_TRUE(refused([](DeviceLook& look) { look.device_pixel_ratio = -1; }));
  EXPECT_TRUE(refused([](DeviceLook& look) { look.refresh_hz.reset(); }));
  EXPECT_TRUE(refused([](DeviceLook& look) { look.gamut = "all"; }));
  EXPECT_TRUE(refused([](DeviceLook& look) { look.codes = CodesRead{1, 2, 0}; }));
  EXPECT_TRUE(refused([](DeviceLook& look) { look.clock_ms = -1; }));
  EXPECT_TRUE(list.devices().empty());
}
