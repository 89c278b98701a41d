#include "copunctal/image/png.h"

#include <cstdlib>
#include <filesystem>

#include <gtest/gtest.h>

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

TEST_F(Png, WhereItCannotBeWrittenIsAnError) {
  const auto result = write_png(gradient(), directory / "no" / "such" / "a.png");
  ASSERT_FALSE(result.has_value());
  EXPECT_EQ(result.error().kind, Error::Kind::io);
}

}  // namespace
}  // namespace copunctal
