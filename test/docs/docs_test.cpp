// The documents against the program: nothing it offers goes unsaid, nothing said is stale.
#include <algorithm>
#include <cmath>
#include <filesystem>
#include <regex>
#include <set>
#include <sstream>

#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

#include "copunctal/app/debrief.h"
#include "copunctal/app/run_sitting.h"
#include "copunctal/app/run_sitting_sample_set.h"
#include "copunctal/base/files.h"
#include "copunctal/design/plate_set.h"
#include "copunctal/server/site.h"
#include "copunctal/store/scratch_directory.h"
#include "copunctal/store/store.h"
#include "kept_practicals.h"
#include "program.h"

namespace copunctal {
namespace {

namespace fs = std::filesystem;
using Json = nlohmann::json;

std::string document(const std::string& path) {
  const auto text = read_file(fs::path(COPUNCTAL_SOURCE_DIR) / path);
  EXPECT_TRUE(text.has_value()) << path << " cannot be read";
  return text.value_or("");
}

bool mentions(const std::string& text, std::string_view words) {
  return text.find(words) != std::string::npos;
}

/// README.md and every page below docs/, by path from the repository's root.
std::vector<std::string> all_documents() {
  const fs::path root = COPUNCTAL_SOURCE_DIR;
  std::vector<std::string> pages = {"README.md"};
  for (const auto& entry : fs::recursive_directory_iterator(root / "docs"))
    if (entry.path().extension() == ".md")
      pages.push_back(fs::relative(entry.path(), root).string());
  std::sort(pages.begin(), pages.end());
  return pages;
}

// What a help text offers: words of its three lists.
struct Offers {
  std::vector<std::string> options, arguments, commands;
};

Offers offers_of(const std::string& help) {
  Offers offers;
  std::vector<std::string>* list = nullptr;
  bool of_options = false;
  std::istringstream lines(help);
  for (std::string line; std::getline(lines, line);) {
    if (!line.starts_with("  ")) {
      of_options = line == "Options:";
      list = of_options               ? &offers.options
             : line == "Positionals:" ? &offers.arguments
             : line == "Subcommands:" ? &offers.commands
                                      : nullptr;
      continue;
    }
    if (list == nullptr || line.size() < 3 || line[2] == ' ') continue;
    std::string word = line.substr(2, line.find(' ', 2) - 2);
    if (word == "-h,--help") word = "--help";
    list->push_back(word);
  }
  return offers;
}

/// Every command that does something, found through the helps themselves: "plates make".
std::vector<std::string> commands_below(const std::vector<std::string>& words = {}) {
  std::vector<std::string> ask = words;
  ask.emplace_back("--help");
  const Ran help = run_program(ask);
  EXPECT_EQ(help.code, 0);
  const Offers offers = offers_of(help.out);
  std::vector<std::string> found;
  if (offers.commands.empty()) {
    std::string name;
    for (const std::string& word : words) name += (name.empty() ? "" : " ") + word;
    found.push_back(name);
  }
  for (const std::string& command : offers.commands) {
    std::vector<std::string> deeper = words;
    deeper.push_back(command);
    for (std::string& name : commands_below(deeper)) found.push_back(std::move(name));
  }
  return found;
}

std::vector<std::string> words_of(const std::string& text) {
  std::istringstream stream(text);
  std::vector<std::string> words;
  for (std::string word; stream >> word;) words.push_back(word);
  return words;
}

Ran help_of(const std::string& command) {
  std::vector<std::string> words = words_of(command);
  words.emplace_back("--help");
  return run_program(words);
}

/// A command's part of docs/commands.md, or nothing.
std::string section_of(const std::string& command) {
  const std::string text = document("docs/commands.md"), head = "## `copunctal " + command + "`\n";
  const auto begin = text.find(head);
  if (begin == std::string::npos) return {};
  return text.substr(begin, text.find("\n## ", begin) - begin);
}

/// The first cells of a section's table rows: what it lists, not what it merely mentions.
std::string listed_in(const std::string& section) {
  std::string cells;
  std::istringstream lines(section);
  for (std::string line; std::getline(lines, line);)
    if (line.starts_with("| ")) cells += line.substr(0, line.find(" |", 1)) + "\n";
  return cells;
}

TEST(Commands, EveryCommandAndEveryOptionIsDocumented) {
  const auto commands = commands_below();
  ASSERT_GE(commands.size(), 8U);
  for (const std::string& command : commands) {
    const std::string section = section_of(command);
    EXPECT_FALSE(section.empty()) << "docs/commands.md has no heading for " << command;
    const std::string listed = listed_in(section);
    const Offers offers = offers_of(help_of(command).out);
    EXPECT_TRUE(std::count(offers.options.begin(), offers.options.end(), "--help")) << command;
    for (const std::string& option : offers.options) {
      if (option == "--help") continue;
      EXPECT_TRUE(mentions(listed, "`" + option + "`") || mentions(listed, "`" + option + " "))
          << command << " " << option;
    }
    for (const std::string& argument : offers.arguments)
      EXPECT_TRUE(mentions(listed, "`" + argument + "`")) << command << " " << argument;
  }
}

TEST(Commands, NoOptionIsDocumentedThatIsNotThere) {
  const std::regex row_option("^\\| .*"), option_name("`(--?[a-z][a-z-]*)[ `]");
  for (const std::string& command : commands_below()) {
    const Offers offers = offers_of(help_of(command).out);
    std::istringstream lines(section_of(command));
    for (std::string line; std::getline(lines, line);) {
      if (!std::regex_match(line, row_option)) continue;
      const std::string first = line.substr(0, line.find('|', 1));
      for (std::sregex_iterator at(first.begin(), first.end(), option_name), end; at != end; ++at)
        EXPECT_TRUE(std::count(offers.options.begin(), offers.options.end(), (*at)[1].str()))
            << command << " has no " << (*at)[1];
    }
  }
  const std::regex heading("## `copunctal ([a-z ]+)`");
  const std::string text = document("docs/commands.md");
  const auto commands = commands_below();
  for (std::sregex_iterator at(text.begin(), text.end(), heading), end; at != end; ++at)
    EXPECT_TRUE(std::count(commands.begin(), commands.end(), (*at)[1].str())) << (*at)[1];
}

TEST(Routes, EveryRouteIsDocumented) {
  const ScratchDirectory scratch;
  auto store = Store::open(scratch.path(), "2030-01-02T03:04:05.678Z");
  ASSERT_TRUE(store.has_value());
  auto desk =
      SittingDesk::open(**store, sample_set(), system_clocks(), kernel_random(),
                        [](const PlateSet&) -> Result<std::shared_ptr<const ReadingTables>> {
                          return fail(Error::Kind::bad_input, "no tables in this test");
                        });
  ASSERT_TRUE(desk.has_value());
  static constexpr std::string_view page = "<!doctype html>";
  const std::vector<EmbeddedFile> files = {
      {"index.html", "text/html; charset=utf-8", std::as_bytes(std::span(page))}};
  PlateWorkshop workshop(scratch.path() / "sets", PlateSet{});
  const Site site(**desk, files, {}, &workshop);
  const std::string text = document("docs/api.md");
  std::size_t of_the_api = 0;
  for (const std::string& route : site.routes()) {
    const std::string path = route.substr(route.find(' ') + 1);
    if (path == "/index.html") continue;  // the file behind the pages' addresses
    const bool is_page = !path.starts_with("/api/");
    if (!is_page) ++of_the_api;
    // Pages by address, routes by method and address; a route's text may end in a query.
    EXPECT_TRUE(is_page ? mentions(text, "`" + path + "`")
                        : mentions(text, "`" + route + "`") || mentions(text, "`" + route + "?"))
        << "docs/api.md does not name " << route;
  }
  EXPECT_GE(of_the_api, 10U);
}

TEST(Sources, EveryTableIsNamedOnASciencePage) {
  const Ran ran = run_program({"sources", "--json"});
  ASSERT_EQ(ran.code, 0);
  std::string pages;
  for (const std::string& page : all_documents())
    if (page.starts_with("docs/science/")) pages += document(page);
  const Json tables = Json::parse(ran.out).at("tables");
  ASSERT_GE(tables.size(), 15U);
  for (const Json& table : tables) {
    const std::string name = table.at("name");
    EXPECT_TRUE(mentions(pages, "`" + name + "`")) << name << " is on no page of docs/science";
  }
}

/// The keys of a value, recursively, with the kind of every leaf. An array is the set of its
/// elements' structures, so that it may be cut without changing.
std::string structure_of(const Json& value) {
  if (value.is_object()) {
    std::string text = "{";
    for (const auto& [key, inner] : value.items()) text += key + ":" + structure_of(inner) + ",";
    return text + "}";
  }
  if (value.is_array()) {
    std::set<std::string> kinds;
    for (const Json& inner : value) kinds.insert(structure_of(inner));
    std::string text = "[";
    for (const std::string& kind : kinds) text += kind + "|";
    return text + "]";
  }
  return value.is_number() ? "number" : value.type_name();
}

void expect_as_documented(const std::string& name, const std::string& live) {
  const std::string path = "docs/examples/" + name + ".json";
  const Json example = Json::parse(document(path), nullptr, false),
             printed = Json::parse(live, nullptr, false);
  ASSERT_FALSE(example.is_discarded()) << path << " is no JSON";
  ASSERT_FALSE(printed.is_discarded()) << name << " printed no JSON: " << live;
  EXPECT_EQ(structure_of(example), structure_of(printed)) << path;
  EXPECT_TRUE(mentions(document("docs/commands.md"), "(examples/" + name + ".json)")) << path;
}

TEST(Examples, HaveTheKeysTheProgramPrints) {
  expect_as_documented("plates-make", made_set().said);
  expect_as_documented(
      "set",
      files_below(made_set().directory / "seven").at(made_set().directory / "seven" / "set.json"));
  const Ran predicted = run_program({"plates", "predict", "seven", "--population", "10", "--json"},
                                    made_set().directory);
  EXPECT_EQ(predicted.code, 0);
  expect_as_documented("plates-predict", predicted.out);
  expect_as_documented("view", made_view().viewed.out);
  const Ran audited =
      run_program({"audit", made_view().original, made_view().view, "--as", "deutan:0", "--json"});
  EXPECT_EQ(audited.code, 0);
  expect_as_documented("audit", audited.out);
  expect_as_documented(
      "observer-table",
      run_program({"observer", "table", "--kind", "protan:6", "--age", "85", "--json"}).out);
  expect_as_documented(
      "observer-describe",
      run_program({"observer", "describe", "--kind", "protan:6,age=85", "--json"}).out);
  expect_as_documented(
      "display-describe",
      run_program({"display", "describe", "srgb/wled,lux=200,black=.2", "--json"}).out);
  expect_as_documented("display-list", run_program({"display", "list", "--json"}).out);
  expect_as_documented("sources", run_program({"sources", "--json"}).out);
}

TEST(Examples, OfPracticalsHaveTheKeysTheProgramPrints) {
  const OwnDirectory own;
  kept_practicals(own.path() / "data").reset();
  const auto expect = [&](const std::string& command, std::vector<std::string> more) {
    more.insert(more.begin(), {"practical", command});
    more.insert(more.end(), {"--data", "data", "--json"});
    const Ran ran = run_program(more, own.path());
    EXPECT_EQ(ran.code, 0) << command << ": " << ran.err;
    expect_as_documented("practical-" + command, ran.out);
  };
  expect("list", {});
  expect("export", {sample_id(1), "-o", "term.json", "--csv", "tables"});
  expect("backup", {});
  expect("delete", {sample_id(1), "--yes"});
  expect("import", {"term.json"});
  expect("restore", {(*fs::directory_iterator(own.path() / "data/backups")).path()});
  expect("log", {"--verify"});

  const auto set = load_set(made_set().directory / "seven");
  ASSERT_TRUE(set.has_value());
  std::string table = "pseudonym,plate,reading,eye,seconds\n";
  for (std::size_t plate = 1; plate + 2 < set->plates.size(); ++plate)
    table += "calm ferry," + std::to_string(plate) + "," +
             set->plates[plate - 1].figures[0].symbol + ",both,2.5\n";
  ASSERT_TRUE(write_file(table, own.path() / "answers.csv"));
  const Ran scored = run_program(
      {"score", "answers.csv", "--set", made_set().directory / "seven", "--json"}, own.path());
  EXPECT_EQ(scored.code, 0) << scored.err;
  expect_as_documented("score", scored.out);
}

TEST(Examples, OfPreflightAndRehearsalHaveTheKeysTheProgramPrints) {
  const OwnDirectory own;
  const Ran looked = run_program(
      {"preflight", "--port", "0", "--for", "1", "--json", "--data", "data"}, own.path());
  EXPECT_EQ(looked.code, 0) << looked.err;
  expect_as_documented("preflight", looked.out);
  EXPECT_FALSE(fs::exists(own.path() / "data")) << "nothing is stored";
  const Ran rehearsed =
      run_program({"rehearse", "--alone", "--people", "6", "--for", "0", "--set",
                   (made_set().directory / "seven").string(), "--data", "data", "--json"},
                  own.path());
  EXPECT_EQ(rehearsed.code, 0) << rehearsed.err;
  expect_as_documented("rehearse", rehearsed.out);
  EXPECT_FALSE(fs::exists(own.path() / "data" / "rehearsal")) << "nothing is left";
}

TEST(Examples, EveryCommandWithJsonHasOne) {
  std::set<std::string> wanted = {"set"};
  for (const std::string& command : commands_below())
    if (mentions(help_of(command).out, "--json")) {
      std::string name = command;
      std::replace(name.begin(), name.end(), ' ', '-');
      wanted.insert(name);
    }
  std::set<std::string> there;
  for (const auto& entry : fs::directory_iterator(fs::path(COPUNCTAL_SOURCE_DIR) / "docs/examples"))
    there.insert(entry.path().stem());
  EXPECT_EQ(there, wanted);
}

TEST(Formats, TheObserverTableIsTheCsvThatIsDocumented) {
  const Ran ran = run_program({"observer", "table", "--kind", "deutan:0"});
  ASSERT_EQ(ran.code, 0);
  std::istringstream lines(ran.out);
  std::vector<std::string> rows;
  bool headed = false;
  for (std::string line; std::getline(lines, line);) {
    if (line.starts_with("#")) {
      EXPECT_FALSE(headed);
      continue;
    }
    if (!headed) {
      EXPECT_EQ(line, "nm,L,M,S");
      headed = true;
      continue;
    }
    rows.push_back(line);
  }
  ASSERT_EQ(rows.size(), 441U);
  EXPECT_TRUE(rows.front().starts_with("390,"));
  EXPECT_TRUE(rows.back().starts_with("830,"));
}

TEST(Formats, TheHashOfASetIsTheOneDocumented) {
  // As docs/commands.md says: the same object without its hash, keys in order, no white space.
  const std::string text =
      files_below(made_set().directory / "seven").at(made_set().directory / "seven" / "set.json");
  auto json = nlohmann::ordered_json::parse(text);
  const std::string hash = json.at("hash");
  EXPECT_EQ(json.dump(1) + "\n", text);
  json.erase("hash");
  const OwnDirectory own;
  ASSERT_TRUE(write_file(json.dump(), own.path() / "plain.json").has_value());
  // The system's own checksum program, so that the claim does not rest on our code.
  const std::string sum_file = own.path() / "sum";
  const std::string command =
      "sha256sum '" + (own.path() / "plain.json").string() + "' > '" + sum_file + "'";
  ASSERT_EQ(std::system(command.c_str()), 0);  // NOLINT(cert-env33-c,concurrency-mt-unsafe)
  EXPECT_EQ(read_file(sum_file)->substr(0, 64), hash);
}

TEST(Readme, NamesBothCommandsAndShowsItsPictures) {
  const std::string text = document("README.md");
  EXPECT_TRUE(mentions(text, "./dev run"));
  EXPECT_TRUE(mentions(text, "./dev test"));
  EXPECT_TRUE(mentions(text, "(docs/pictures/plate.png)"));
  EXPECT_TRUE(mentions(text, "(docs/pictures/outcome.png)"));
}

TEST(IntendedUse, IsInTheReadmeAndInEveryOutputThatSpeaksOfEyes) {
  const std::string sentence(intended_use());
  // Line breaks of a document do not matter.
  const auto in_one_line = [](std::string text) {
    std::replace(text.begin(), text.end(), '\n', ' ');
    return text;
  };
  EXPECT_TRUE(mentions(in_one_line(document("README.md")), sentence));
  EXPECT_TRUE(mentions(in_one_line(document("docs/commands.md")), sentence));
  for (const std::string& command : commands_below())
    EXPECT_TRUE(mentions(help_of(command).out, sentence)) << command << " --help";
  EXPECT_TRUE(mentions(made_set().said, sentence));
  EXPECT_TRUE(mentions(made_view().viewed.out, sentence));
  for (const bool as_json : {false, true}) {
    std::vector<std::string> words = {"plates", "predict", "seven", "--population", "10"};
    if (as_json) words.emplace_back("--json");
    EXPECT_TRUE(mentions(run_program(words, made_set().directory).out, sentence));
    words = {"audit", made_view().original, made_view().view, "--as", "deutan:0"};
    if (as_json) words.emplace_back("--json");
    EXPECT_TRUE(mentions(run_program(words).out, sentence));
    for (std::vector<std::string> described :
         {std::vector<std::string>{"observer", "describe", "--kind", "protan:6"},
          std::vector<std::string>{"display", "describe", "srgb"}}) {
      if (as_json) described.emplace_back("--json");
      EXPECT_TRUE(mentions(run_program(described).out, sentence));
    }
    words = {"observer", "table", "--kind", "protan:6"};
    if (as_json) words.emplace_back("--json");
    EXPECT_TRUE(mentions(run_program(words).out, (as_json ? "\"" : "\n# ") + sentence));
  }
}

// The table of docs/science/design.md, as printed by `plates predict` with 400 observers.
TEST(Figures, ThePredictedReadingsOnTheDesignPageAreTheProgramsOwn) {
#ifdef COPUNCTAL_IS_SLOW
  GTEST_SKIP() << "takes minutes under the sanitizers";
#endif
  const Ran ran = run_program({"plates", "predict", "seven"}, made_set().directory);
  ASSERT_EQ(ran.code, 0);
  const std::string page = document("docs/science/design.md");
  const std::regex number("-?[0-9]*\\.[0-9]{2,3}");
  const auto numbers_in = [&](const std::string& line) {
    std::vector<double> numbers;
    for (std::sregex_iterator at(line.begin(), line.end(), number), end; at != end; ++at)
      numbers.push_back(std::stod(at->str()));
    return numbers;
  };
  int compared = 0;
  std::istringstream lines(ran.out);
  for (std::string line; std::getline(lines, line);) {
    const std::vector<double> live = numbers_in(line);
    if (live.size() != 10) continue;
    const std::string name(line.substr(0, line.find("  ")));
    const auto at = page.find("| " + name + " |");
    ASSERT_NE(at, std::string::npos) << "docs/science/design.md has no row for " << name;
    const std::vector<double> said = numbers_in(page.substr(at, page.find('\n', at) - at));
    ASSERT_EQ(said.size(), live.size()) << name;
    // Bit-identity is promised per machine type only; a code that differs by one moves these a
    // little.
    for (std::size_t i = 0; i < live.size(); ++i)
      EXPECT_NEAR(said[i], live[i], 0.0061) << name << ", column " << i + 1;
    ++compared;
  }
  EXPECT_EQ(compared, 22);
}

// Figures on the science pages are drawn by the program, and redrawn when it changes: any --plot
// command of a page's figure, into docs/pictures.
TEST(Figures, TheSciencePagesShowWhatTheProgramDraws) {
  const std::vector<std::pair<std::string, std::vector<std::string>>> figures = {
      {"observer-protan-6.svg", {"observer", "describe", "--kind", "protan:6"}},
      {"observer-normal.svg", {"observer", "describe", "--kind", "normal"}},
      {"observer-deutan.svg", {"observer", "describe", "--kind", "deutan:0"}},
      {"population-protan-6.svg",
       {"observer", "describe", "--kind", "protan:6", "--individuals", "12"}},
      {"observer-formulae.svg", {"observer", "describe", "--kind", "normal,templates=formulae"}},
      {"display-p3-wled.svg", {"display", "describe", "display-p3/wled"}}};
  const OwnDirectory own;
  for (const auto& [name, words] : figures) {
    std::vector<std::string> command = words;
    command.insert(command.end(), {"--plot", name});
    ASSERT_EQ(run_program(command, own.path()).code, 0) << name;
    EXPECT_EQ(document("docs/pictures/" + name), read_file(own.path() / name).value_or(""))
        << "draw docs/pictures/" << name << " again";
    // Nothing is overwritten unasked, and only SVG is written.
    EXPECT_EQ(run_program(command, own.path()).code, 3);
    command.emplace_back("--force");
    EXPECT_EQ(run_program(command, own.path()).code, 0);
  }
  EXPECT_EQ(run_program({"display", "describe", "srgb", "--plot", "x.png"}, own.path()).code, 2);
}

// The table of docs/science/rayleigh.md against the program.
TEST(Figures, TheRayleighTableIsTheProgramsOwn) {
  const std::string page = document("docs/science/rayleigh.md");
  for (const std::string name : {"normal", "protan:10", "protan:6", "deutan:7"}) {
    const Ran ran = run_program({"observer", "describe", "--kind", name, "--json"});
    ASSERT_EQ(ran.code, 0);
    const Json match = Json::parse(ran.out).at("rayleigh");
    const auto at = page.find("| " + name + " | ");
    ASSERT_NE(at, std::string::npos) << name;
    const std::string row = page.substr(at, page.find('\n', at) - at);
    const std::regex number("[0-9]*\\.[0-9]+");
    std::vector<double> said;
    for (std::sregex_iterator found(row.begin(), row.end(), number), end; found != end; ++found)
      said.push_back(std::stod(found->str()));
    ASSERT_EQ(said.size(), 4U) << row;
    EXPECT_NEAR(said[0], match.at("x").get<double>(), 5e-4) << row;
    EXPECT_NEAR(said[1], match.at("range").at(0).get<double>(), 5e-4) << row;
    EXPECT_NEAR(said[2], match.at("range").at(1).get<double>(), 5e-4) << row;
    EXPECT_NEAR(said[3], match.at("quotient").get<double>(), 5e-3) << row;
  }
}

TEST(Documents, EveryLinkLeadsSomewhere) {
  const std::regex link("\\]\\(([^)#]+)(#[^)]*)?\\)");
  int links = 0;
  for (const std::string& page : all_documents()) {
    const std::string text = document(page);
    for (std::sregex_iterator at(text.begin(), text.end(), link), end; at != end; ++at) {
      const std::string to = (*at)[1];
      if (to.starts_with("http")) continue;
      const fs::path target = fs::path(COPUNCTAL_SOURCE_DIR) / fs::path(page).parent_path() / to;
      EXPECT_TRUE(fs::exists(target)) << page << " links to " << to;
      ++links;
    }
  }
  EXPECT_GT(links, 20);
}

TEST(Documents, EverySourceFileTheyNameIsThere) {
  const std::regex path("`((src|test|data|web|tools|bench|docs)/[A-Za-z0-9_./-]+)`");
  for (const std::string& page : all_documents()) {
    const std::string text = document(page);
    for (std::sregex_iterator at(text.begin(), text.end(), path), end; at != end; ++at) {
      const std::string named = fs::path(COPUNCTAL_SOURCE_DIR) / (*at)[1].str();
      // A test program may be named without its ending.
      EXPECT_TRUE(fs::exists(named) || fs::exists(named + ".cpp")) << page << " names " << (*at)[1];
    }
  }
}

// The documents speak of the project alone, and of eyes without judging anybody.
TEST(Documents, SayNothingTheyShouldNot) {
  const std::regex unwanted(
      R"(/work/|/tmp/|\bsessions?\b|\bhelpers?\b|\bassistants?\b|\bagents?\b|\bprompts?\b)"
      R"(|colou?r.?blind|you are a (prot|deut|trit)|\bsuffer|\bpatients?\b|TODO|FIXME)"
      R"(|[a-z]ize\b|[a-z]izes\b|\bcolor\b|\bcolors\b|\bgray\b|\bbehavior\b)",
      std::regex::icase);
  // Names of others and words that are not the ending: journals, size, prize.
  // A web framework has sessions too.
  const std::regex fine(
      R"(routing, sessions and templates|Color Res|\bsizes?\b|[a-z_-]*size\b|Color Research)",
      std::regex::icase);
  for (const std::string& page : all_documents()) {
    std::istringstream lines(document(page));
    int number = 0;
    for (std::string line; std::getline(lines, line);) {
      ++number;
      const std::string left = std::regex_replace(line, fine, "");
      std::smatch found;
      EXPECT_FALSE(std::regex_search(left, found, unwanted))
          << page << ":" << number << ": '" << found.str() << "'";
    }
  }
}

// "Screening" stands in the intended-use sentence, where it is ruled out, and nowhere else.
TEST(Documents, PromiseNoScreening) {
  for (const std::string& page : all_documents()) {
    std::string text = document(page);
    std::replace(text.begin(), text.end(), '\n', ' ');
    for (auto at = text.find("creening"); at != std::string::npos;
         at = text.find("creening", at + 1)) {
      const std::string before = text.substr(at > 31 ? at - 31 : 0, at > 31 ? 31 : at);
      EXPECT_TRUE(mentions(before, "not for diagnosis") || mentions(before, "Not for diagnosis"))
          << page << ": ..." << text.substr(at > 40 ? at - 40 : 0, 60);
    }
  }
}

}  // namespace
}  // namespace copunctal
