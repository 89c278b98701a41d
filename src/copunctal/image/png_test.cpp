#include "copunctal/image/png.h"

#include <array>
#include <cstdio>
#include <cstdlib>
#include <filesystem>

#include <gtest/gtest.h>
#include <png.h>

#include "copunctal/base/files.h"
#include "copunctal/image/sandboxed.h"

namespace copunctal {
namespace {

namespace fs = std::filesystem;

class Png : public testing::Test {
 protected:
  void SetUp() override {
    std::string pattern = (fs::temp_directory_path() / "copunctal-png-XXXXXX").string();
    ASSERT_NE(mkdtemp(pattern.data()), nullptr);
    directory = pattern;
  }
  void TearDown() override { fs::remove_all(directory); }
  std::size_t files() const {
    return static_cast<std::size_t>(
        std::distance(fs::directory_iterator(directory), fs::directory_iterator()));
  }
  fs::path directory;
};

Picture gradient() {
  Picture picture(37, 23);
  for (std::size_t i = 0; i < picture.rgb.size(); ++i)
    picture.rgb[i] = static_cast<std::uint8_t>(i * 7);
  return picture;
}

TEST_F(Png, CodesSurviveTheFile) {
  const Picture picture = gradient();
  ASSERT_TRUE(write_png(picture, directory / "a.png").has_value());
  const auto read = read_picture(directory / "a.png", {.trusted = true});
  ASSERT_TRUE(read.has_value());
  EXPECT_EQ(read->width, 37);
  EXPECT_EQ(read->rgb, picture.rgb);
  EXPECT_EQ(files(), 1U);
}

// libpng reads back what is said in it.
TEST_F(Png, SaysItsTexts) {
  const std::array<PngText, 2> texts = {
      {{"Title", "Where it errs"}, {"Description", "18 % \u2013 “all”"}}};
  ASSERT_TRUE(write_png(gradient(), directory / "a.png", {}, texts).has_value());
  png_structp png = png_create_read_struct(PNG_LIBPNG_VER_STRING, nullptr, nullptr, nullptr);
  ASSERT_NE(png, nullptr);
  png_infop info = png_create_info_struct(png);
  const File file(std::fopen((directory / "a.png").c_str(), "rb"));
  png_init_io(png, file.get());
  png_read_info(png, info);
  png_textp lines = nullptr;
  int count = 0;
  png_get_text(png, info, &lines, &count);
  ASSERT_EQ(count, 2);
  for (std::size_t i = 0; i < texts.size(); ++i) {
    EXPECT_EQ(lines[i].key, texts[i].keyword);
    EXPECT_EQ(lines[i].text, texts[i].text);
  }
  png_destroy_read_struct(&png, &info, nullptr);
}

TEST_F(Png, WhereItCannotBeWrittenIsAnError) {
  const auto result = write_png(gradient(), directory / "no" / "such" / "a.png");
  ASSERT_FALSE(result.has_value());
  EXPECT_EQ(result.error().kind, Error::Kind::io);
}

}  // namespace
}  // namespace copunctal
