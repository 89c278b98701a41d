#include "copunctal/image/png.h"

#include <cstdlib>
#include <filesystem>
#include <fstream>

#include <gtest/gtest.h>
#include <sys/resource.h>

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
  const auto read = read_png(directory / "a.png");
  ASSERT_TRUE(read.has_value());
  EXPECT_EQ(read->width, 37);
  EXPECT_EQ(read->rgb, picture.rgb);
  EXPECT_EQ(files(), 1U);
}

TEST_F(Png, TransformTouchesEveryRow) {
  ASSERT_TRUE(write_png(gradient(), directory / "a.png").has_value());
  const auto header =
      transform_png(directory / "a.png", directory / "b.png", [](std::span<std::uint8_t> row) {
        for (std::uint8_t& code : row) code = static_cast<std::uint8_t>(255 - code);
      });
  ASSERT_TRUE(header.has_value());
  const auto read = read_png(directory / "b.png");
  ASSERT_TRUE(read.has_value());
  const Picture original = gradient();
  for (std::size_t i = 0; i < original.rgb.size(); ++i)
    ASSERT_EQ(read->rgb[i], 255 - original.rgb[i]);
}

TEST_F(Png, DamagedFilesAreNamedAndNothingIsLeft) {
  ASSERT_TRUE(write_png(gradient(), directory / "a.png").has_value());
  fs::resize_file(directory / "a.png", fs::file_size(directory / "a.png") / 2);
  std::ofstream(directory / "text.png") << "not a picture";
  for (const char* name : {"a.png", "text.png", "missing.png"}) {
    const auto result =
        transform_png(directory / name, directory / "out.png", [](std::span<std::uint8_t>) {});
    ASSERT_FALSE(result.has_value()) << name;
    EXPECT_EQ(result.error().kind, Error::Kind::bad_input);
    EXPECT_NE(result.error().message.find(name), std::string::npos);
  }
  EXPECT_EQ(files(), 2U);  // the two inputs
}

// Files made to exhaust a reader: headers that claim terabytes, chunks that claim gigabytes, a
// bomb.
TEST_F(Png, HostileFilesAreRefusedCheaply) {
  int files_seen = 0;
  for (const auto& entry : fs::directory_iterator(COPUNCTAL_SOURCE_DIR "/test/hostile")) {
    if (entry.path().extension() != ".png") continue;
    ++files_seen;
    rusage before{}, after{};
    getrusage(RUSAGE_SELF, &before);
    const auto result =
        transform_png(entry.path(), directory / "out.png", [](std::span<std::uint8_t>) {});
    getrusage(RUSAGE_SELF, &after);
    ASSERT_FALSE(result.has_value()) << entry.path();
    EXPECT_EQ(result.error().kind, Error::Kind::bad_input) << entry.path();
    EXPECT_LT(after.ru_maxrss - before.ru_maxrss, 64 * 1024) << entry.path() << ": KiB more";
  }
  EXPECT_GE(files_seen, 6);
  EXPECT_EQ(files(), 0U);
}

TEST_F(Png, WhereItCannotBeWrittenIsAnError) {
  const auto result = write_png(gradient(), directory / "no" / "such" / "a.png");
  ASSERT_FALSE(result.has_value());
  EXPECT_EQ(result.error().kind, Error::Kind::io);
}

}  // namespace
}  // namespace copunctal
