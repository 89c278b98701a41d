#include "copunctal/display/keep_display.h"

#include <string>

#include <gtest/gtest.h>

namespace copunctal {
namespace {

TEST(KeptDisplay, EveryKindOfDisplayComesBackBitForBit) {
  for (const char* description :
       {"srgb", "display-p3/wled", "rec2020/lines", "srgb/crt,gamma=2.1,peak=180,black=.3,lux=120",
        "/usr/share/color/icc/colord/AdobeRGB1998.icc"}) {
    const auto display = display_from(description);
    ASSERT_TRUE(display.has_value()) << description;
    const std::string text = kept_display(*display);
    const auto again = display_kept(text);
    ASSERT_TRUE(again.has_value()) << description << ": " << again.error().message;
    EXPECT_EQ(kept_display(*again), text);
    for (std::size_t p = 0; p < 3; ++p) {
      EXPECT_EQ(again->primaries[p].values, display->primaries[p].values);
      EXPECT_EQ(again->curves[p].code_table(), display->curves[p].code_table());
    }
    EXPECT_EQ(again->status, display->status);
    EXPECT_EQ(again->known, display->known);
  }
}

TEST(KeptDisplay, MeasuredCurvesComeBack) {
  Display display = *display_from("srgb");
  const std::vector<double> encoded = {0, 0.1, 0.35, 0.8, 1}, light = {0.2, 0.9, 11, 60, 100.3};
  display.curves[1] = *ToneCurve::sampled(encoded, light);
  const auto again = display_kept(kept_display(display));
  ASSERT_TRUE(again.has_value());
  EXPECT_EQ(again->curves[1].code_table(), display.curves[1].code_table());
  EXPECT_TRUE(again->curves[0].is_srgb());
}

TEST(KeptDisplay, ANameIsEnoughOnlyForWhatItSays) {
  EXPECT_TRUE(is_named(*display_from("display-p3/qd,lux=50")));
  Display other = *display_from("srgb");
  other.primaries[0][200] *= 1.01;
  EXPECT_FALSE(is_named(other)) << "it still calls itself " << other.name;
  EXPECT_FALSE(is_named(*display_from("/usr/share/color/icc/colord/AdobeRGB1998.icc")));
}

TEST(KeptDisplay, WhatIsNoDisplayIsRefused) {
  const std::string good = kept_display(*display_from("srgb"));
  const auto with = [&](std::string_view what, std::string_view instead) {
    std::string text = good;
    const auto at = text.find(what);
    EXPECT_NE(at, std::string::npos) << what;
    return text.replace(at, what.size(), instead);
  };
  for (const std::string& bad :
       {std::string("{}"), std::string("not json"), with("\"assumed\"", "\"guessed\""),
        with("\"peak_cd_m2\":200", "\"peak_cd_m2\":-1"), with("\"bits\":8", "\"bits\":9"),
        with("\"curves\":[\"srgb\"", "\"curves\":[{\"power\":0}"),
        with("\"curves\":[\"srgb\"", "\"curves\":[{\"encoded\":[0,1],\"light\":[0]}")}) {
    const auto display = display_kept(bad);
    ASSERT_FALSE(display.has_value()) << bad.substr(0, 80);
    EXPECT_EQ(display.error().kind, Error::Kind::bad_input);
  }
}

TEST(KeptDisplay, PagesReadWidePrimariesAsSuch) {
  EXPECT_EQ(colour_space_of(*display_from("display-p3/oled,peak=300")), "display-p3");
  EXPECT_EQ(colour_space_of(*display_from("srgb/crt")), "srgb");
  EXPECT_EQ(colour_space_of(*display_from("/usr/share/color/icc/colord/AdobeRGB1998.icc")), "srgb");
}

}  // namespace
}  // namespace copunctal
