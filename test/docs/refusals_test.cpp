// Bad input at the command line: the exit code, what is said, and that nothing is left behind.
#include <cstdlib>
#include <filesystem>

#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

#include "copunctal/base/files.h"
#include "program.h"

namespace copunctal {
namespace {

namespace fs = std::filesystem;

/// A directory with a plate, its view, a damaged picture, a plain file and copies of a set.
class Refusals : public testing::Test {
 protected:
  void SetUp() override {
    fs::copy_file(made_view().original, at("plate.png"));
    fs::copy_file(made_view().view, at("view.png"));
    const std::string picture = *read_file(at("plate.png"));
    ASSERT_TRUE(write_file(picture.substr(0, picture.size() / 2), at("cut.png")).has_value());
    std::string flipped = picture;
    flipped[picture.size() / 2] = static_cast<char>(flipped[picture.size() / 2] ^ 0x40);
    ASSERT_TRUE(write_file(flipped, at("flipped.png")).has_value());
    ASSERT_TRUE(write_file("words, not pixels\n", at("plain.txt")).has_value());
    ASSERT_TRUE(write_file("words, not pixels\n", at("plain.svg")).has_value());
    fs::copy(made_set().directory / "seven", at("edited"), fs::copy_options::recursive);
    std::string set = *read_file(at("edited/set.json"));
    const auto digit = set.find_first_of("12345678", set.find("\"codes\""));
    ++set[digit];
    ASSERT_TRUE(write_file(set, at("edited/set.json")).has_value());
    fs::create_directories(at("cut"));
    ASSERT_TRUE(write_file(set.substr(0, set.size() / 2), at("cut/set.json")).has_value());
  }
  fs::path at(const std::string& name) const { return own_.path() / name; }

  /// Runs, expects the code, all the words and none of the `unsaid` on standard error, an empty
  /// standard output, and every file as it was.
  void refuses(int code, const std::vector<std::string>& arguments,
               const std::vector<std::string>& words,
               const std::vector<std::string>& unsaid = {}) const {
    std::string said;
    for (const std::string& argument : arguments) said += " " + argument;
    const auto before = files_below(own_.path());
    const Ran ran = run_program(arguments, own_.path());
    EXPECT_EQ(ran.code, code) << said << "\n" << ran.err;
    EXPECT_EQ(ran.out, "") << said;
    for (const std::string& word : words)
      EXPECT_NE(ran.err.find(word), std::string::npos)
          << said << " does not say '" << word << "': " << ran.err;
    for (const std::string& word : unsaid)
      EXPECT_EQ(ran.err.find(word), std::string::npos) << said << " says '" << word << "'";
    // What is wrong, then what to do.
    EXPECT_NE(ran.err.find('\n'), ran.err.size() - 1) << said << " says no remedy: " << ran.err;
    EXPECT_EQ(files_below(own_.path()), before) << said;
  }

 private:
  OwnDirectory own_;
};

TEST_F(Refusals, UnknownNamesAndOptionsAreUsage) {
  const std::vector<std::string> make = {"plates", "make", "-o", "new", "--for"};
  const auto made_with = [&](const std::string& purpose, const std::string& display,
                             const std::string& seed) {
    std::vector<std::string> words = make;
    words.insert(words.end(), {purpose, "--display", display, "--seed", seed});
    return words;
  };
  refuses(2, made_with("practical", "srbg", "7"), {"'srbg'", "srgb/oled"});
  refuses(2, made_with("party", "srgb", "7"), {"'party'", "practical"}, {"Making"});
  for (const char* seed : {"seven", "-3", "1e3", "7.5", "", "9007199254740992"})
    refuses(2, made_with("practical", "srgb", seed), {"seed", "whole number"});
  for (const char* symbols : {"letters", "ring", "Digits", ""}) {
    std::vector<std::string> words = made_with("practical", "srgb", "7");
    words.insert(words.end(), {"--symbols", symbols});
    refuses(2, words, {"'" + std::string(symbols) + "'", "digits, rings or paths"}, {"Making"});
  }
  refuses(2, {"view", "plate.png", "-o", "new.png", "--as", "protanope"}, {"protanope", "protan"});
  refuses(2, {"view", "plate.png", "-o", "new.png", "--as", "protan:29"}, {"29", "28"});
  refuses(2, {"view", "plate.png", "-o", "new.png", "--as", "deutan:0", "--display", "tube"},
          {"'tube'"});
  refuses(2, {"view", "plate.png", "-o", "new.png", "--as", "deutan:0", "--method", "best"},
          {"'best'", "half-planes"});
  refuses(2, {"view", "plate.png", "-o", "new.png", "--as", "deutan:9", "--method", "plane"},
          {"plane", "deutan:9"});
  refuses(2, {"view", "plate.png", "view.png", "-o", "new.png", "--as", "deutan:0"},
          {"new.png", "directory"});
  refuses(2, {"audit", "--method", "best", "--as", "deutan:5"},
          {"'best'", "deutan:5", "substitution:unclipped"});
  refuses(2, {"audit", "--method", "plane", "--grid", "1", "--as", "deutan:0"}, {"--grid", "64"});
  refuses(2, {"audit", "plate.png", "view.png", "--method", "plane", "--as", "deutan:0"},
          {"--method", "VIEW"});
  refuses(2, {"audit", "plate.png", "--as", "deutan:0"}, {"VIEW"});
  refuses(2, {"observer", "table", "--kind", "normal", "--age", "500"}, {"age"});
  refuses(2, {"display", "list", "--colour"}, {"--colour", "--help"});
  refuses(2, {"plates", "predict", "edited", "--population", "3"}, {"--population", "10"});
  refuses(2, {"plates", "make", "--for", "practical"}, {"--display", "--help"});
  refuses(2, {}, {"--help"});
  refuses(2, {"fly"}, {"'fly'", "serve", "plates", "--help"});
  refuses(2, {"plates", "burn"}, {"'plates burn'", "make", "predict", "--help"});
  refuses(2, {"sources", "nothing"}, {"'nothing'", "copunctal sources"});
}

TEST_F(Refusals, ShowingAndDrawingSayWhatIsWrongBeforeTheyDraw) {
  const std::string set = made_set().directory / "seven";
  refuses(3, {"plates", "show", set, "--plate", "old iland", "-o", "new.svg"},
          {"'old iland'", "old island"});
  refuses(3, {"plates", "predict", set, "--fails", "old iland"}, {"'old iland'", "old island"});
  refuses(2, {"plates", "show", set, "-o", "new.pdf"}, {"new.pdf", ".svg"});
  refuses(2, {"plates", "show", set, "--apart", "-o", "new.svg"}, {"--apart", "--plate"});
  refuses(2, {"plates", "show", set, "--as", "protan", "-o", "new.svg"}, {"--as", "--apart"});
  refuses(2,
          {"plates", "show", set, "--plate", "old island", "--apart", "--as", "protan:99", "-o",
           "new.svg"},
          {"99"});
  refuses(3, {"plates", "show", set, "--plate", "old island", "-o", "plain.svg"},
          {"exists", "--force"});
  refuses(3, {"plates", "show", "edited", "-o", "new.svg"}, {"edited"});
  refuses(2, {"plates", "draw", set, "-o", "new.svg"}, {"--plate", ".pdf"});
  refuses(2, {"plates", "draw", set, "-o", "new.gif"}, {"new.gif", ".png"});
  refuses(2, {"plates", "draw", set, "--plate", "old island", "-o", "new"}, {".png"});
  refuses(2, {"plates", "draw", set, "-o", "new.pdf", "--bits", "12"}, {"--bits"});
  refuses(2, {"plates", "draw", set, "-o", "new.pdf", "--width-mm", "500"}, {"--width-mm"});
  refuses(2, {"plates", "draw", set, "-o", "new", "--answer-sheet"}, {".pdf"});
  refuses(3, {"plates", "draw", set, "-o", "new.pdf", "--printer-profile", "plain.txt"},
          {"plain.txt", "ICC"});
  refuses(3, {"plates", "draw", set, "-o", "new.pdf", "--printer-profile", "nothing.icc"},
          {"nothing.icc"});
  refuses(4, {"plates", "draw", set, "--answer-sheet", "-o", "nowhere/new.pdf"},
          {"nowhere/new.pdf"});
  refuses(3, {"plates", "draw", set, "-o", "edited"}, {"edited", "exists"});
}

TEST_F(Refusals, SetsOnLoanAndForOtherPurposes) {
  const auto made_with = [](const std::string& purpose, const std::vector<std::string>& more) {
    std::vector<std::string> words = {"plates", "make",      "-o",   "new",    "--for",
                                      purpose,  "--display", "srgb", "--seed", "7"};
    words.insert(words.end(), more.begin(), more.end());
    return words;
  };
  refuses(4, made_with("practical", {"--loan", "rod-monochromat"}), {"monochromat", "protan"});
  refuses(2, made_with("practical", {"--loan", "protan:99"}), {"99"});
  refuses(4, made_with("exhibits", {"--symbols", "paths"}), {"two paths", "rings"});
}

TEST_F(Refusals, NoOptionTakesANumberThatIsNone) {
  const std::vector<std::vector<std::string>> numeric = {
      {"audit", "plate.png", "view.png", "--as", "deutan:0", "--fail-above"},
      {"observer", "table", "--kind", "protan", "--separation"},
      {"observer", "table", "--kind", "normal", "--age"},
      {"observer", "table", "--kind", "normal", "--field"},
      {"observer", "table", "--kind", "normal", "--density-l"},
      {"observer", "table", "--kind", "normal", "--density-m"},
      {"observer", "table", "--kind", "normal", "--density-s"},
      {"plates", "predict", "edited", "--population"},
      {"plates", "make", "-o", "new", "--for", "practical", "--display", "srgb", "--seed"},
      {"serve", "--data", "new", "--port"},
      {"serve", "--data", "new", "--port", "0", "--seed"}};
  for (const auto& words : numeric)
    for (const char* number : {"nan", "NaN", "inf", "-inf", "infinity", "1e999", "0x1p1", "two"}) {
      std::vector<std::string> with_number = words;
      with_number.emplace_back(number);
      refuses(2, with_number, {"'" + std::string(number) + "'", "number"});
    }
  refuses(2, {"serve", "--data", "new", "--port", "65536"}, {"--port", "'65536'", "65535"});
  refuses(2, {"serve", "--data", "new", "--port", "-1"}, {"--port", "'-1'", "65535"});
}

TEST_F(Refusals, AServerChecksItsOptionsBeforeItMakesAnything) {
  const auto serves_with = [&](const std::string& option, const std::string& value) {
    return std::vector<std::string>{"serve", "--data", "new/data", "--port", "0", option, value};
  };
  refuses(2, serves_with("--seed", "seven"), {"'seven'", "seed", "whole number"});
  refuses(2, serves_with("--display", "tube"), {"'tube'", "srgb/oled"});
  refuses(3, serves_with("--set", "missing"), {"missing", "no such set"});
  refuses(3, serves_with("--set", "edited"), {"edited/set.json", "was edited"});
  refuses(2, serves_with("--interface", "eth9"), {"--interface goes with", "--lan"});
  const auto lets_a_class_in = [&](const std::string& how, const std::string& interface) {
    return std::vector<std::string>{"serve", "--data",      "new/data", "--port",
                                    "0",     "--interface", interface,  how};
  };
  for (const char* how : {"--lan", "--lan-plain"})
    for (const char* interface : {"nowhere9", "203.0.113.77", "0.0.0.0", "127.0.0.1", "::1"})
      refuses(2, lets_a_class_in(how, interface), {interface, "there is:", "--interface"});
  refuses(2, {"serve", "--data", "new/data", "--lan", "--lan-plain"}, {"--lan-plain", "--lan"});
}

TEST_F(Refusals, ASeparationBelongsToTheKind) {
  const auto table_of = [&](const std::string& kind) {
    return std::vector<std::string>{"observer", "table", "--kind", kind, "--separation", "5"};
  };
  const Ran joined = run_program(table_of("protan,age=50"), at(""));
  EXPECT_EQ(joined.code, 0) << joined.err;
  EXPECT_EQ(joined.out, run_program({"observer", "table", "--kind", "protan:5,age=50"}, "/").out);
  refuses(2, table_of("protan:6"), {"'protan:6'", "separation", "leave out --separation"});
  for (const char* kind : {"normal", "tritan", "normal,age=50", "rod-monochromat"})
    refuses(2, table_of(kind), {kind, "only protan and deutan", "leave out --separation"});
  refuses(2, {"observer", "table", "--kind", "deutan", "--separation", "29"}, {"'29'", "28"});
}

TEST_F(Refusals, AViewIsWrittenInTheFormatOfItsName) {
  for (const char* name : {"new.gif", "new.svg", "new", ".png"})
    refuses(2, {"view", "plate.png", "-o", name, "--as", "deutan:0"}, {name, "format", ".png"});
  for (const char* name : {"new.PNG", "new.jpg", "new.JPEG", "new.tif", "new.webp"}) {
    const Ran ran = run_program({"view", "plate.png", "-o", name, "--as", "deutan:0"}, at(""));
    EXPECT_EQ(ran.code, 0) << ran.err;
    EXPECT_TRUE(fs::exists(at(name)));
    // What was written is read again, and is a view but for what the format loses.
    const Ran audit =
        run_program({"audit", "plate.png", name, "--as", "deutan:0", "--json"}, at(""));
    ASSERT_EQ(audit.code, 0) << audit.err;
    EXPECT_LT(nlohmann::json::parse(audit.out).at("reduced_de00").at("mean"), 2) << name;
  }
  refuses(2, {"view", "plate.png", "-o", "plate.png", "--as", "deutan:0", "--force"},
          {"plate.png", "original itself"});
  refuses(2, {"view", "plate.png", "-o", "exact.png", "--as", "tritan", "--exact"},
          {"half-planes", "line"});
}

TEST_F(Refusals, DirectoriesAndPatternsGiveUniqueNames) {
  fs::create_directories(at("in/deep"));
  fs::create_directories(at("to"));
  fs::copy_file(at("plate.png"), at("in/a.png"));
  fs::copy_file(at("plate.png"), at("in/b.png"));
  fs::copy_file(at("plate.png"), at("in/deep/a.png"));
  const Ran ran =
      run_program({"view", "in", "in/deep/*.png", "-o", "to", "--as", "deutan:0"}, at(""));
  ASSERT_EQ(ran.code, 0) << ran.err;
  for (const char* name : {"to/a.png", "to/b.png", "to/a-2.png"})
    EXPECT_TRUE(fs::exists(at(name))) << name;
  refuses(3, {"view", "in", "-o", "to", "--as", "deutan:0"}, {"to/a.png", "exists", "--force"});
  refuses(3, {"view", "in/none-*.png", "-o", "to", "--as", "deutan:0"}, {"none-*", "matches no"});
  const Ran exact =
      run_program({"view", "in/a.png", "-o", "to/e.png", "--as", "protan:0", "--exact"}, at(""));
  ASSERT_EQ(exact.code, 0) << exact.err;
  EXPECT_TRUE(fs::exists(at("to/e-original.png")));
}

TEST_F(Refusals, WhatIsNoPictureIsCalledThat) {
  ASSERT_TRUE(write_file("", at("empty.png")).has_value());
  ASSERT_TRUE(write_file("\xFF\xD8\xFF\xE0 not opened any further", at("photo.png")).has_value());
  for (const char* picture : {"plain.txt", "empty.png"})
    refuses(3, {"view", picture, "-o", "new.png", "--as", "deutan:0"},
            {picture, "no PNG, JPEG", "save it as"}, {"Read Error"});
  refuses(3, {"view", "photo.png", "-o", "new.png", "--as", "deutan:0"}, {"photo.png", "JPEG"});
  refuses(3, {"view", "edited", "-o", "new.png", "--as", "deutan:0"}, {"edited", "directory"},
          {"Read Error"});
  refuses(3, {"view", "cut.png", "-o", "new.png", "--as", "deutan:0"}, {"cut.png", "ends before"},
          {"Read Error"});
}

TEST_F(Refusals, MissingDamagedAndEditedFilesAreBadInput) {
  for (const char* picture : {"missing.png", "cut.png", "flipped.png", "plain.txt", "edited"}) {
    refuses(3, {"view", picture, "-o", "new.png", "--as", "deutan:0"}, {picture});
    refuses(3, {"audit", "plate.png", picture, "--as", "deutan:0"}, {picture});
  }
  refuses(3, {"view", "plate.png", "-o", "view.png", "--as", "deutan:0"},
          {"view.png", "exists", "--force"});
  refuses(3, {"plates", "predict", "missing"}, {"missing", "no such set", "plates make"});
  refuses(3, {"plates", "predict", "edited"}, {"edited/set.json", "was edited", "plates make"});
  refuses(3, {"plates", "predict", "cut"}, {"cut/set.json", "not a set"});
  refuses(3, {"plates", "predict", "plain.txt"}, {"plain.txt"});
  refuses(
      3,
      {"plates", "make", "--for", "practical", "--display", "srgb", "--seed", "7", "-o", "edited"},
      {"edited", "exists"}, {"Making"});
}

TEST_F(Refusals, PicturesOfDifferentSizeAreNotAudited) {
  // One grey pixel, by the PNG specification.
  const std::string dot(
      "\x89PNG\r\n\x1a\n\0\0\0\rIHDR\0\0\0\1\0\0\0\1\x08\0\0\0\0\x3a\x7e\x9b\x55"
      "\0\0\0\nIDAT\x78\x9c\x63\x68\0\0\0\x82\0\x81\x77\xcd\x72\xb6\0\0\0\0IEND\xae\x42\x60\x82",
      67);
  ASSERT_TRUE(write_file(dot, at("dot.png")).has_value());
  ASSERT_EQ(run_program({"audit", "dot.png", "dot.png", "--as", "tritan"}, at("")).code, 0);
  refuses(3, {"audit", "plate.png", "dot.png", "--as", "tritan"}, {"640 x 640", "1 x 1"});
}

TEST_F(Refusals, WhatCannotBeWrittenIsTheWorldsFault) {
  refuses(4, {"view", "plate.png", "-o", "plain.txt/new.png", "--as", "deutan:0"},
          {"plain.txt/new.png", "cannot be written", "writable"});
  refuses(4, {"view", "plate.png", "-o", "nowhere/new.png", "--as", "deutan:0"},
          {"nowhere/new.png", "cannot be written"});
  refuses(4, {"serve", "--data", "plain.txt/data", "--port", "0"}, {"plain.txt", "writ"});
  for (const char* target : {"plain.txt/new", "/proc/new", "/proc/new/set"})
    refuses(
        4,
        {"plates", "make", "--for", "practical", "--display", "srgb", "--seed", "7", "-o", target},
        {std::string(target) + ": cannot be made", "writable"}, {"Making", ".part"});
}

// Every command that prints, and what the option parser prints, into a device that is always full.
TEST_F(Refusals, AFullStandardOutputIsTheWorldsFault) {
  if (!fs::exists("/dev/full")) GTEST_SKIP() << "no /dev/full on this machine";
  const std::vector<std::vector<std::string>> commands = {
      {"observer", "table", "--kind", "normal"},
      {"observer", "table", "--kind", "normal", "--json"},
      {"plates", "predict", made_set().directory / "seven", "--population", "10"},
      {"plates", "make", "--for", "exhibits", "--display", "srgb", "--seed", "7", "--cells", "650",
       "-o", "new", "--json"},
      {"view", "plate.png", "-o", "new.png", "--as", "deutan:0", "--json"},
      {"audit", "plate.png", "view.png", "--as", "deutan:0"},
      {"audit", "plate.png", "view.png", "--as", "deutan:0", "--json"},
      {"display", "list"},
      {"sources"},
      {"serve", "--data", "data", "--port", "0", "--set", made_set().directory / "seven"},
      {"--help"},
      {"plates", "make", "--help"},
      {"--version"}};
  for (const auto& words : commands) {
    std::string said;
    for (const std::string& word : words) said += " " + word;
    const Ran ran = run_program(words, at(""), "/dev/full");
    EXPECT_EQ(ran.code, 4) << said << "\n" << ran.err;
    for (const char* word : {"standard output", "cannot be written", "No space left", "space and"})
      EXPECT_NE(ran.err.find(word), std::string::npos)
          << said << " does not say '" << word << "': " << ran.err;
  }
}

TEST_F(Refusals, AnAuditAboveItsLimitExitsWithOne) {
  const std::vector<std::string> audit = {"audit", "plate.png", "view.png",
                                          "--as",  "deutan:0",  "--json"};
  const auto limited = [&](const std::string& limit) {
    std::vector<std::string> words = audit;
    words.insert(words.end(), {"--fail-above", limit});
    return run_program(words, at(""));
  };
  const Ran free = run_program(audit, at(""));
  ASSERT_EQ(free.code, 0);
  const double mean = nlohmann::json::parse(free.out).at("reduced_de00").at("mean");
  ASSERT_GT(mean, 0.001);  // eight bits alone cost something
  const Ran above = limited(std::to_string(mean / 2)), below = limited(std::to_string(mean * 2));
  EXPECT_EQ(above.code, 1);
  EXPECT_EQ(nlohmann::json::parse(above.out).at("above_limit"), true);
  EXPECT_EQ(below.code, 0);
  EXPECT_EQ(nlohmann::json::parse(below.out).at("above_limit"), false);
}

TEST_F(Refusals, AReplacementIsMadeOnlyWhenAsked) {
  const std::string before = *read_file(at("view.png"));
  const Ran ran =
      run_program({"view", "plate.png", "-o", "view.png", "--as", "tritan", "--force"}, at(""));
  EXPECT_EQ(ran.code, 0) << ran.err;
  EXPECT_NE(*read_file(at("view.png")), before);
}

// Taken away from the programs it belongs with.
TEST_F(Refusals, OfAProgramThatLiesAlone) {
  fs::copy_file(COPUNCTAL_PROGRAM, at("copunctal"));
  const std::string command =
      "'" + at("copunctal").string() + "' practical list 2> '" + at("said").string() + "'";
  const int status = std::system(command.c_str());  // NOLINT(cert-env33-c): a path of our own
  EXPECT_EQ(WEXITSTATUS(status), 4);
  const std::string said = *read_file(at("said"));
  for (const char* word : {"copunctal-serve", "No such file", "build again"})
    EXPECT_NE(said.find(word), std::string::npos) << said;
}

}  // namespace
}  // namespace copunctal
