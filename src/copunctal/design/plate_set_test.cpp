#include "copunctal/design/plate_set.h"

#include <csignal>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <functional>
#include <map>
#include <optional>
#include <set>

#include <gtest/gtest.h>
#include <sys/resource.h>

#include "copunctal/design/make_set.h"
#include "copunctal/design/plan.h"

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

TEST(Practical, OfAnyNumberOfPlatesHasEveryKind) {
  for (std::size_t count = fewest_plates; count <= most_plates; ++count) {
    PlateSet set;
    set.seed = count;
    set.symbols = {"1", "2", "4", "7"};
    std::map<PlateKind, std::size_t> kinds;
    std::map<Aim, std::size_t> aims;
    std::set<std::string> names;
    for (const Plan& plan : planned(set, count)) {
      ++kinds[plan.plate.kind];
      names.insert(plan.plate.name);
      if (plan.plate.kind == PlateKind::vanishing) ++aims[plan.plate.aim];
    }
    std::size_t all = 0;
    for (const auto& [kind, n] : kinds) all += n;
    EXPECT_EQ(all, count);
    EXPECT_EQ(names.size(), count) << "a name comes twice";
    EXPECT_GE(kinds[PlateKind::opener], 1U);
    EXPECT_GE(kinds[PlateKind::fork], 2U);
    EXPECT_GE(kinds[PlateKind::tritan], 1U);
    EXPECT_GE(aims[Aim::dichromat], 3U);
    if (count == usual_plates) {
      EXPECT_EQ(kinds[PlateKind::opener], 2U);
      EXPECT_EQ(kinds[PlateKind::fork], 4U);
      EXPECT_EQ(kinds[PlateKind::tritan], 2U);
      EXPECT_EQ(aims[Aim::dichromat], 6U);
      EXPECT_EQ(aims[Aim::five_nm], 2U);
      EXPECT_EQ(aims[Aim::ten_nm], 2U);
    }
  }
  EXPECT_EQ(plates_in(2.4), usual_plates);
  EXPECT_EQ(plates_in(0.1), fewest_plates);
  EXPECT_EQ(plates_in(60), most_plates);
}

TEST(Practical, ThatCannotBeMeantIsRefusedBeforeWork) {
  const auto kind_of = [](std::string_view purpose, const MakeOptions& options) {
    const auto wish = check_wish(purpose, options);
    return wish ? std::optional<Error::Kind>() : wish.error().kind;
  };
  EXPECT_EQ(kind_of("practical", {}), std::nullopt);
  EXPECT_EQ(kind_of("practical", {.cells = fewest_cells - 1}), Error::Kind::usage);
  EXPECT_EQ(kind_of("practical", {.cells = most_cells + 1}), Error::Kind::usage);
  EXPECT_EQ(kind_of("practical", {.cells = -5}), Error::Kind::usage);
  EXPECT_EQ(kind_of("practical", {.plates = most_plates + 1}), Error::Kind::usage);
  EXPECT_EQ(kind_of("ladder", {.plates = 9}), Error::Kind::usage);
  EXPECT_EQ(kind_of("exhibits", {.family = SymbolFamily::paths}), Error::Kind::unsupported);
  EXPECT_EQ(kind_of("quiz", {}), Error::Kind::usage);
}

TEST_F(SavedSet, KeepsItsNumberOfCells) {
  PlateSet set = one_plate();
  set.cells = set.plates.front().cells = 650;
  set.hash = set_hash(set);
  ASSERT_TRUE(save_set(set, directory / "set").has_value());
  const auto loaded = load_set(directory / "set");
  ASSERT_TRUE(loaded.has_value()) << loaded.error().message;
  EXPECT_EQ(loaded->cells, 650);
  EXPECT_EQ(loaded->plates.front().cells, 650);
  EXPECT_NE(set_hash(one_plate()), set.hash);
  // A field of so many cells was not written by this program.
  set.cells = set.plates.front().cells = 5000;
  set.hash = set_hash(set);
  ASSERT_TRUE(save_set(set, directory / "huge").has_value());
  const auto huge = load_set(directory / "huge");
  ASSERT_FALSE(huge.has_value());
  EXPECT_NE(huge.error().message.find("5000 cells"), std::string::npos) << huge.error().message;
}

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
