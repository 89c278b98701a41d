#include "copunctal/app/view_picture.h"

#include <cstring>
#include <filesystem>
#include <utility>
#include <vector>

#include <gtest/gtest.h>
#include <unistd.h>

#include "copunctal/app/audit_view.h"
#include "copunctal/display/write_profile.h"
#include "copunctal/image/picture_sink.h"
#include "copunctal/image/png.h"
#include "copunctal/image/sandboxed.h"

namespace copunctal {
namespace {

namespace fs = std::filesystem;

class ViewPicture : public testing::Test {
 protected:
  void SetUp() override {
    fs::remove_all(directory_);
    fs::create_directories(directory_);
  }
  void TearDown() override { fs::remove_all(directory_); }
  fs::path file(const char* name) const { return directory_ / name; }

 private:
  fs::path directory_ =
      fs::temp_directory_path() /
      (std::string("copunctal-view-") +
       testing::UnitTest::GetInstance()->current_test_info()->name() + std::to_string(getpid()));
};

Display with_power(double exponent) {
  Display display = *display_from("srgb");
  display.name = "power";
  display.curves.fill(*ToneCurve::power(exponent));
  return display;
}

constexpr int side = 48;

// All of the range but its darkest part, where a step of 8 bits is large.
DeepPicture deep_gradient() {
  DeepPicture picture(side, side);
  for (int y = 0; y < side; ++y)
    for (int x = 0; x < side; ++x) {
      const std::size_t at = 3 * static_cast<std::size_t>(y * side + x);
      picture.rgb[at] = static_cast<std::uint16_t>(20000 + 45535 * x / (side - 1));
      picture.rgb[at + 1] = static_cast<std::uint16_t>(20000 + 45535 * y / (side - 1));
      picture.rgb[at + 2] = static_cast<std::uint16_t>(65535 - 45535 * x / (side - 1));
    }
  return picture;
}

// The exact view of 16 bits errs by what 16 bits round off, on any curve, and its original is
// compressed once: what is written is the step of what was read.
TEST_F(ViewPicture, AnExactViewOfSixteenBitsErrsByTheirRoundingOnAnyCurve) {
  for (const Display& display : {*display_from("srgb"), with_power(1.8)}) {
    const Observer observer = *observer_from("deutan:0");
    const DeepPicture original = deep_gradient();
    ASSERT_TRUE(write_png(original, file("in.png"), profile_of(display)).has_value());
    const auto report =
        view_picture({.in = file("in.png"), .out = file("out.png"), .exact = true, .trusted = true},
                     observer, display);
    ASSERT_TRUE(report.has_value()) << report.error().message;
    EXPECT_EQ(report->bits, 16);
    EXPECT_EQ(report->share_out_of_range, 0);
    EXPECT_LT(report->error.reduced.largest, 0.01) << display.name;
    // From the files: as exact, and far below what 8 bits could do.
    const auto audit =
        audit_view(file("out-original.png"), file("out.png"), observer, display, {}, true);
    ASSERT_TRUE(audit.has_value());
    EXPECT_LT(audit->reduced.largest, 0.01) << display.name;
    EXPECT_GT(audit->floor.mean, 10 * audit->reduced.mean);
    const AffineStep step = *ViewMap::make(observer, display)->step_into_range();
    const auto source = open_picture(file("out-original.png"), {.trusted = true});
    ASSERT_TRUE(source.has_value());
    std::vector<std::uint8_t> row((*source)->header().stride());
    std::vector<std::uint16_t> codes(3 * side);
    for (int y = 0; y < side; ++y) {
      ASSERT_TRUE((*source)->read(row).has_value());
      deep_row(row, (*source)->header(), codes);
      for (std::size_t i = 0; i < codes.size(); ++i) {
        const ToneCurve& curve = display.curves[i % 3];
        const double light =
            curve.decoded(original.rgb[3 * side * static_cast<std::size_t>(y) + i] / 65535.0);
        ASSERT_NEAR(codes[i], 65535 * curve.encoded(step.scale * light + step.offset), 0.51)
            << display.name << " row " << y << " value " << i;
      }
    }
  }
}

TEST_F(ViewPicture, AnAuditComparesUprightPicturesAtTheirOwnDepth) {
  const Display display = *display_from("srgb");
  const Observer observer = *observer_from("protan:0");
  // The same picture upright and lying on its side with a tag that says so: no error but its own.
  PictureHeader header;
  header.width = 8;
  header.height = 4;
  header.bits = 16;
  std::vector<std::uint8_t> upright_rows, row(header.stride());
  const auto colour = [](int x, int y, int c) {
    return static_cast<std::uint16_t>(30000 + 3000 * x + 5000 * y + 500 * c);
  };
  const auto write = [&](const char* name, auto&& colour_at) {
    const auto sink = open_sink(file(name), header, {});
    ASSERT_TRUE(sink.has_value());
    for (int y = 0; y < header.height; ++y) {
      for (int x = 0; x < header.width; ++x)
        for (int c = 0; c < 3; ++c) {
          const std::uint16_t code = colour_at(x, y, c);
          std::memcpy(&row[2 * static_cast<std::size_t>(3 * x + c)], &code, 2);
        }
      ASSERT_TRUE((*sink)->write(row).has_value());
    }
    ASSERT_TRUE((*sink)->finish().has_value());
  };
  write("upright.tif", colour);
  // EXIF 6: row 0 is the right side, column 0 the top.
  std::swap(header.width, header.height);
  header.orientation = 6;
  row.resize(header.stride());
  write("lying.tif", [&](int x, int y, int c) { return colour(7 - y, x, c); });
  const auto same =
      audit_view(file("upright.tif"), file("lying.tif"), observer, display, file("map.png"), true);
  ASSERT_TRUE(same.has_value()) << same.error().message;
  EXPECT_EQ(same->reduced.largest, 0);
  EXPECT_EQ(same->pixels, 32U);
  EXPECT_TRUE(fs::exists(file("map.png")));
  // Half of an 8-bit code is an error of its own in 16 bits, and would be none in 8.
  write("brighter.tif", [&](int x, int y, int c) {
    return static_cast<std::uint16_t>(colour(7 - y, x, c) / 257 * 257 + 120);
  });
  write("darker.tif", [&](int x, int y, int c) {
    return static_cast<std::uint16_t>(colour(7 - y, x, c) / 257 * 257);
  });
  const auto half_a_code =
      audit_view(file("darker.tif"), file("brighter.tif"), observer, display, {}, true);
  ASSERT_TRUE(half_a_code.has_value());
  EXPECT_GT(half_a_code->reduced.mean, 0.02);
  EXPECT_LT(half_a_code->reduced.largest, 0.5);
}

}  // namespace
}  // namespace copunctal
