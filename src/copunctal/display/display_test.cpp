#include "copunctal/display/display.h"

#include <algorithm>
#include <cmath>
#include <fstream>
#include <numbers>

#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

#include "copunctal/display/confusion.h"

namespace copunctal {
namespace {

Display known(std::string_view name) {
  return *display_from(name);
}

// Fundamentals straight from the published table, so that only the display is on trial.
Fundamentals tabulated() {
  const Table& published = table("lms_cie2006_2deg");
  return {spectrum_from<EnergySensitivityKind>(published, "L"),
          spectrum_from<EnergySensitivityKind>(published, "M"),
          spectrum_from<EnergySensitivityKind>(published, "S")};
}

// RGB to XYZ of IEC 61966-2-1, as derived from its chromaticities (five decimals).
TEST(Display, SrgbHasItsPublishedMatrix) {
  const double published[3][3] = {
      {0.41239, 0.35758, 0.18048}, {0.21264, 0.71517, 0.07219}, {0.01933, 0.11919, 0.95053}};
  for (const char* name : {"srgb/oled", "srgb/wled", "srgb/qd", "srgb/crt"}) {
    const auto map = xyz_from_linear_rgb(known(name));
    for (std::size_t i = 0; i < 3; ++i)
      for (std::size_t j = 0; j < 3; ++j)
        EXPECT_NEAR(map.rows[i][j], published[i][j], 6e-6) << name;
  }
}

// The red of Display P3 has z = 0, which no spectrum reaches: 2e-4 is what remains.
TEST(Display, DisplayP3HasItsPublishedMatrix) {
  const double published[3][3] = {
      {0.48657, 0.26567, 0.19822}, {0.22897, 0.69174, 0.07929}, {0, 0.04511, 1.04394}};
  for (const std::string& name : display_names()) {
    if (!name.starts_with("display-p3")) continue;
    const auto map = xyz_from_linear_rgb(known(name));
    for (std::size_t i = 0; i < 3; ++i)
      for (std::size_t j = 0; j < 3; ++j)
        EXPECT_NEAR(map.rows[i][j], published[i][j], 2e-4) << name;
  }
}

TEST(Display, NoPrimaryHasNegativePower) {
  for (const std::string& name : display_names())
    for (const Power& primary : known(name).primaries)
      EXPECT_GE(*std::min_element(primary.values.begin(), primary.values.end()), -1e-12) << name;
}

// Reference values made with another program from the same tables: tolerance 2e-5 as stored there.
TEST(Display, ConeMatrixAgreesWithTheReference) {
  std::ifstream file(COPUNCTAL_SOURCE_DIR "/data/checks/display_to_cone.json");
  const auto reference = nlohmann::json::parse(file);
  const auto check = [&](const char* display, const char* key, double tolerance) {
    const auto map = lms_from_linear_rgb(tabulated(), known(display));
    for (std::size_t i = 0; i < 3; ++i)
      for (std::size_t j = 0; j < 3; ++j)
        EXPECT_NEAR(map.rows[i][j],
                    reference[key]["LMS_from_linear_RGB_white_normalised"][i][j].get<double>(),
                    tolerance)
            << display << " row " << i << " column " << j;
  };
  check("srgb/oled", "oled_template_to_sRGB", 2e-5);
  // The tube's 5 nm bands may be joined in more than one way.
  check("srgb/crt", "crt_b_monitor_to_sRGB", 4e-4);
}

// Slopes at D65 over six measured and synthetic displays: protan -9.9..-10.5, deutan -33.4..-34.5,
// tritan -112.2..-112.6 degrees; the published points (Smith & Pokorny 1975 in Judd-Vos xy:
// .7465,.2535 and 1.40,-.40 and .1748,0) give -10.0, -33.8, -112.7.
TEST(Display, ConfusionLinesRunAtThePublishedAngles) {
  for (const char* name : {"srgb/oled", "srgb/wled", "srgb/qd", "srgb/crt"}) {
    const ObserverOnDisplay normal(Observer{}, known(name));
    EXPECT_NEAR(normal.line_angle_deg(MissingCone::l, Diagram::xy), -10.0, 0.7) << name;
    EXPECT_NEAR(normal.line_angle_deg(MissingCone::m, Diagram::xy), -33.8, 0.7) << name;
    EXPECT_NEAR(normal.line_angle_deg(MissingCone::s, Diagram::xy), -112.7, 0.7) << name;
  }
}

TEST(Display, WhiteExcitesEveryConeByOne) {
  for (const char* name : {"normal", "protan:5", "deutan:0", "normal,age=70"}) {
    const auto map = lms_from_linear_rgb(fundamentals_of(*observer_from(name)), known("srgb"));
    const ConeExcitation white = map({1, 1, 1});
    EXPECT_NEAR(white.l, 1, 1e-14);
    EXPECT_NEAR(white.m, 1, 1e-14);
    EXPECT_NEAR(white.s, 1, 1e-14);
  }
}

TEST(Display, UnknownNamesAreUsageErrors) {
  for (const char* name : {"", "srbg", "srgb/", "srgb/plasma", "display-p3/oled/x"}) {
    const auto display = display_from(name);
    ASSERT_FALSE(display.has_value()) << name;
    EXPECT_EQ(display.error().kind, Error::Kind::usage);
  }
  EXPECT_EQ(known("srgb").name, "srgb/oled");
}

}  // namespace
}  // namespace copunctal
