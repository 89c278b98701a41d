#include "copunctal/display/write_profile.h"

#include <cmath>

#include <gtest/gtest.h>
#include <lcms2.h>

#include "copunctal/display/read_profile.h"

namespace copunctal {
namespace {

// Written with Little CMS, read with our own reader, which is checked against other profiles.
TEST(WrittenProfile, GivesTheDisplayBack) {
  for (const char* name : {"srgb", "display-p3/wled", "srgb/crt,gamma=2.2", "rec2020/lines"}) {
    const Display display = *display_from(name);
    const auto again = display_from_profile(profile_of(display), "again.icc", "oled");
    ASSERT_TRUE(again.has_value()) << name << ": " << again.error().message;
    for (std::size_t p = 0; p < 3; ++p) {
      EXPECT_NEAR(again->chromaticities[p].x, display.chromaticities[p].x, 2e-4) << name;
      EXPECT_NEAR(again->chromaticities[p].y, display.chromaticities[p].y, 2e-4) << name;
      for (const double v : {0.02, 0.1, 0.5, 0.9})
        EXPECT_NEAR(again->curves[p].decoded(v), display.curves[p].decoded(v), 1e-4) << name;
    }
    EXPECT_NEAR(again->white.x, display.white.x, 2e-4) << name;
    EXPECT_NEAR(again->white.y, display.white.y, 2e-4) << name;
  }
}

TEST(WrittenProfile, IsTheSameBytesForTheSameDisplay) {
  const Display display = *display_from("srgb");
  const std::string bytes = profile_of(display);
  EXPECT_EQ(bytes, profile_of(display));
  EXPECT_NE(bytes, profile_of(*display_from("display-p3")));
  cmsHPROFILE profile =
      cmsOpenProfileFromMem(bytes.data(), static_cast<cmsUInt32Number>(bytes.size()));
  ASSERT_NE(profile, nullptr);
  tm date{};
  EXPECT_TRUE(cmsGetHeaderCreationDateTime(profile, &date));
  EXPECT_EQ(date.tm_year, 122);
  EXPECT_EQ(date.tm_mon, 4);
  cmsCloseProfile(profile);
}

}  // namespace
}  // namespace copunctal
