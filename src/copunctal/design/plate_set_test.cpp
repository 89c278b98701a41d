#include "copunctal/design/plate_set.h"

#include <csignal>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <functional>

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

/// One opener of another family, hashed.
PlateSet one_plate_of(SymbolFamily family, const char* symbol) {
  PlateSet set = one_plate();
  set.family = family;
  set.symbols = choose_symbols(family, set.seed);
  if (family == SymbolFamily::paths) set.fork_symbols = choose_symbols(SymbolFamily::rings, 7);
  set.plates.front().figures = {{symbol, Place::whole}};
  set.hash = set_hash(set);
  return set;
}

TEST_F(SavedSet, SaysItsFamilyUnlessItIsOfDigits) {
  EXPECT_EQ(set_json(one_plate()).find("family"), std::string::npos);
  EXPECT_EQ(set_json(one_plate()).find("fork_symbols"), std::string::npos);
  const std::string gap = choose_symbols(SymbolFamily::rings, 7).front();
  for (const auto& [family, symbol] : {std::pair{SymbolFamily::digits, "4"},
                                       {SymbolFamily::rings, gap.c_str()},
                                       {SymbolFamily::paths, "gate 2"}}) {
    const PlateSet set =
        family == SymbolFamily::digits ? one_plate() : one_plate_of(family, symbol);
    const fs::path place = directory / std::string(name_of(family));
    ASSERT_TRUE(save_set(set, place).has_value());
    const auto loaded = load_set(place);
    ASSERT_TRUE(loaded.has_value()) << loaded.error().message;
    EXPECT_EQ(loaded->family, family);
    EXPECT_EQ(loaded->symbols, set.symbols);
    EXPECT_EQ(loaded->fork_symbols, set.fork_symbols);
    EXPECT_EQ(set_json(*loaded), set_json(set));
    EXPECT_EQ(answer_row(*loaded, loaded->plates.front()), set.symbols);
    Plate fork = loaded->plates.front();
    fork.kind = PlateKind::fork;
    EXPECT_EQ(answer_family(*loaded, fork),
              family == SymbolFamily::paths ? SymbolFamily::rings : family);
  }
}

// Whoever writes a set by other means and hashes it gets no further than its symbols allow.
TEST_F(SavedSet, WhoseSymbolsCannotBeDrawnIsRefused) {
  const auto refusal_of = [&](const std::function<void(PlateSet&)>& spoil) {
    PlateSet set = one_plate_of(SymbolFamily::paths, "gate 2");
    spoil(set);
    set.hash = set_hash(set);
    fs::create_directories(directory / "spoilt");
    std::ofstream(directory / "spoilt" / "set.json") << set_json(set);
    const auto loaded = load_set(directory / "spoilt");
    if (loaded) return std::string();
    EXPECT_EQ(loaded.error().kind, Error::Kind::bad_input);
    EXPECT_EQ(loaded.error().place, directory / "spoilt" / "set.json");
    return loaded.error().message;
  };
  const auto names = [&](const std::string& message, const char* what) {
    return message.find(what) != std::string::npos;
  };
  EXPECT_EQ(refusal_of([](PlateSet&) {}), "");
  EXPECT_TRUE(names(refusal_of([](PlateSet& set) {
                      set.plates.front().figures.front().place = Place::upper_left;
                    }),
                    "'still water': the symbol 'gate 2' at upper-left would be 2.07 cells wide"));
  EXPECT_TRUE(
      names(refusal_of([](PlateSet& set) { set.plates.front().figures.front().symbol = "gate 5"; }),
            "shows 'gate 5', which is not in its answer row"));
  EXPECT_TRUE(names(refusal_of([](PlateSet& set) { set.plates.front().figures = {{"up"}}; }),
                    "shows 'up'"));
  EXPECT_TRUE(names(refusal_of([](PlateSet& set) {
                      set.symbols = {"1", "2", "4", "7"};
                    }),
                    "its answer row is not one of paths"));
  EXPECT_TRUE(names(refusal_of([](PlateSet& set) {
                      set.symbols = {"gate 2", "gate 1"};
                    }),
                    "its answer row is not one of paths"));
  EXPECT_TRUE(names(refusal_of([](PlateSet& set) { set.fork_symbols = {"down"}; }),
                    "its fork plates' answer row is not one of rings"));
}

}  // namespace
}  // namespace copunctal
