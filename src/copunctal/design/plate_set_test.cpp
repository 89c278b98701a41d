#include "copunctal/design/plate_set.h"

#include <csignal>
#include <cstdlib>
#include <filesystem>
#include <fstream>

#include <gtest/gtest.h>
#include <sys/resource.h>

namespace copunctal {
namespace {

namespace fs = std::filesystem;

/// One plate, large enough that its picture takes more than a few KiB.
PlateSet one_plate() {
  PlateSet set;
  set.seed = 7;
  set.symbols = {"1", "2", "4", "7"};
  set.size_px = 256;
  Plate plate;
  plate.name = "still water";
  plate.kind = PlateKind::opener;
  plate.seed = 100;
  plate.figures = {{"4", Place::whole}};
  plate.gap = {40, 40, 40};
  plate.codes = {{{118, 126, 84}, {134, 142, 98}}, {{158, 112, 84}, {174, 128, 98}}};
  set.plates = {plate};
  set.hash = set_hash(set);
  return set;
}

class SavedSet : public testing::Test {
 protected:
  void SetUp() override {
    std::string pattern = (fs::temp_directory_path() / "copunctal-set-XXXXXX").string();
    ASSERT_NE(mkdtemp(pattern.data()), nullptr);
    directory = pattern;
  }
  void TearDown() override { fs::remove_all(directory); }
  bool is_bare() const { return fs::is_empty(directory); }
  fs::path directory;
};

TEST_F(SavedSet, ItsTargetIsCheckedWithoutATrace) {
  EXPECT_TRUE(check_target(directory / "new").has_value());
  EXPECT_TRUE(check_target(directory / "deep" / "down" / "new").has_value());
  EXPECT_TRUE(check_target(directory / "new/").has_value());
  EXPECT_TRUE(is_bare());
  EXPECT_TRUE(check_target(directory).has_value());  // empty, so that it may become the set
  EXPECT_TRUE(fs::is_directory(directory));
  std::ofstream(directory / "file") << "in the way";
  for (const char* name : {"file", "."}) {
    const auto taken = check_target(directory / name);
    ASSERT_FALSE(taken.has_value()) << name;
    EXPECT_EQ(taken.error().kind, Error::Kind::bad_input);
  }
  const auto below_a_file = check_target(directory / "file" / "new");
  ASSERT_FALSE(below_a_file.has_value());
  EXPECT_EQ(below_a_file.error().kind, Error::Kind::io);
  EXPECT_EQ(below_a_file.error().place, directory / "file" / "new");
  EXPECT_EQ(below_a_file.error().message.find(".part"), std::string::npos);
}

// As on a full disk: the picture cannot be written whole.
TEST_F(SavedSet, ThatCannotBeWrittenNamesThePlaceAskedForAndLeavesNothing) {
  rlimit before{};
  ASSERT_EQ(getrlimit(RLIMIT_FSIZE, &before), 0);
  rlimit small = before;
  small.rlim_cur = 4096;
  const auto old = std::signal(SIGXFSZ, SIG_IGN);
  ASSERT_EQ(setrlimit(RLIMIT_FSIZE, &small), 0);
  const auto saved = save_set(one_plate(), directory / "new");
  ASSERT_EQ(setrlimit(RLIMIT_FSIZE, &before), 0);
  static_cast<void>(std::signal(SIGXFSZ, old));
  ASSERT_FALSE(saved.has_value());
  EXPECT_EQ(saved.error().kind, Error::Kind::io);
  const std::string picture = directory / "new" / "plates" / "still water.png";
  EXPECT_EQ(saved.error().place, picture);
  EXPECT_EQ(saved.error().message.find(picture + ": cannot be written"), 0U)
      << saved.error().message;
  EXPECT_NE(saved.error().message.find("File too large"), std::string::npos)
      << saved.error().message;
  EXPECT_TRUE(is_bare());
  EXPECT_TRUE(save_set(one_plate(), directory / "new").has_value());
  EXPECT_EQ(load_set(directory / "new")->hash, one_plate().hash);
}

}  // namespace
}  // namespace copunctal
