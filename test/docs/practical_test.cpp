// Looking after practicals, and answers from paper, at the command line.
#include <unistd.h>

#include <algorithm>
#include <filesystem>
#include <map>

#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

#include "copunctal/app/debrief.h"
#include "copunctal/app/practical_tables.h"
#include "copunctal/base/csv.h"
#include "copunctal/base/files.h"
#include "copunctal/design/plate_set.h"
#include "kept_practicals.h"
#include "program.h"

namespace copunctal {
namespace {

namespace fs = std::filesystem;
using Json = nlohmann::json;

class Keeping : public testing::Test {
 protected:
  void SetUp() override { store_ = kept_practicals(at("data")); }
  void stop_the_server() { store_.reset(); }
  fs::path at(const std::string& name) const { return own_.path() / name; }

  Ran run(std::vector<std::string> words, const std::string& data = "data") const {
    words.insert(words.end(), {"--data", data});
    return run_program(words, own_.path());
  }
  /// What is kept, and every file but the database's own: a refusal may take the lock, and may have
  /// wiped again what was removed before.
  std::map<std::string, std::string> all_there() const {
    std::map<std::string, std::string> all;
    for (const auto& [name, bytes] : files_below(own_.path()))
      if (!name.starts_with(at("data/copunctal.").string())) all[name] = bytes;
    all["list"] = run({"practical", "list"}).out;
    all["log"] = run({"practical", "log"}).out;
    return all;
  }
  /// Runs, expects the code, all the words on standard error, an empty standard output, and
  /// everything as it was.
  void refuses(int code, const std::vector<std::string>& words,
               const std::vector<std::string>& said) const {
    const auto before = all_there();
    const Ran ran = run_program(words, own_.path());
    std::string command;
    for (const std::string& word : words) command += " " + word;
    EXPECT_EQ(ran.code, code) << command << "\n" << ran.err;
    EXPECT_EQ(ran.out, "") << command;
    for (const std::string& word : said)
      EXPECT_NE(ran.err.find(word), std::string::npos)
          << command << " does not say '" << word << "': " << ran.err;
    EXPECT_NE(ran.err.find('\n'), ran.err.size() - 1) << command << " says no remedy: " << ran.err;
    EXPECT_TRUE(all_there() == before) << command << " changed something";
  }

 private:
  OwnDirectory own_;
  std::unique_ptr<Store> store_;
};

std::string set_of_seven() {
  return made_set().directory / "seven";
}

}  // namespace

TEST_F(Keeping, CarriesAPracticalToAnotherDirectoryByteForByte) {
  stop_the_server();
  ASSERT_EQ(run({"practical", "export", sample_id(1), "-o", "a.json"}).code, 0);
  const Ran imported = run({"practical", "import", "a.json", "--json"}, "new/data");
  ASSERT_EQ(imported.code, 0) << imported.err;
  EXPECT_EQ(Json::parse(imported.out).at("added").at("sittings"), 2);
  ASSERT_EQ(run({"practical", "export", sample_id(1), "-o", "b.json"}, "new/data").code, 0);
  EXPECT_EQ(*read_file(at("a.json")), *read_file(at("b.json")));
  const Ran again = run({"practical", "import", "a.json", "--json"}, "new/data");
  ASSERT_EQ(again.code, 0) << again.err;
  EXPECT_TRUE(Json::parse(again.out).at("added").empty());
  const Ran listed = run({"practical", "list", "--json"}, "new/data");
  EXPECT_EQ(Json::parse(listed.out).at("practicals").size(), 1U);
}

TEST_F(Keeping, BesideAServerReadsAndRefusesTheRestWithItsNumber) {
  for (const std::vector<std::string>& words :
       {std::vector<std::string>{"practical", "list"},
        {"practical", "export", sample_id(1), "-o", "a.json", "--csv", "tables"},
        {"practical", "backup", "-o", "copy.db"},
        {"practical", "log", "--verify"}}) {
    const Ran ran = run(words);
    EXPECT_EQ(ran.code, 0) << words[1] << ": " << ran.err;
    EXPECT_NE(ran.out.find(intended_use()), std::string::npos) << words[1];
  }
  const std::string number = std::to_string(getpid());
  for (const std::vector<std::string>& words :
       {std::vector<std::string>{"practical", "import", "a.json", "--data", "data"},
        {"practical", "delete", sample_id(1), "--yes", "--data", "data"},
        {"practical", "restore", "copy.db", "--data", "data"}}) {
    const Ran ran = run_program(words, at(""));
    EXPECT_EQ(ran.code, 4) << words[1] << ": " << ran.err;
    EXPECT_NE(ran.err.find(number), std::string::npos) << ran.err;
  }
}

TEST_F(Keeping, RemovesOnlyWhenToldTwice) {
  stop_the_server();
  const Ran asked = run({"practical", "delete", sample_id(1)});
  EXPECT_EQ(asked.code, 2);
  EXPECT_NE(asked.err.find("sittings 2"), std::string::npos) << asked.err;
  EXPECT_NE(asked.err.find("--yes"), std::string::npos);
  EXPECT_EQ(Json::parse(run({"practical", "list", "--json"}).out).at("practicals").size(), 2U);
  ASSERT_EQ(run({"practical", "backup"}).code, 0);
  const Ran done =
      run({"practical", "delete", sample_id(1), "--sitting", sample_id(11), "--yes", "--json"});
  ASSERT_EQ(done.code, 0) << done.err;
  EXPECT_EQ(Json::parse(done.out).at("removed").at("answers"), 2);
  EXPECT_EQ(Json::parse(done.out).at("backups").size(), 1U);
  EXPECT_EQ(read_file(at("data/copunctal.db"))->find(sample_id(11)), std::string::npos);
  EXPECT_NE(read_file(at("data/copunctal.db"))->find(sample_id(12)), std::string::npos);
}

TEST_F(Keeping, ALogThatWasTamperedWithExitsWithOne) {
  stop_the_server();
  ASSERT_EQ(run({"practical", "backup"}).code, 0);
  const Ran whole = run({"practical", "log", "--verify", "--json"});
  ASSERT_EQ(whole.code, 0) << whole.err;
  const Json log = Json::parse(whole.out);
  EXPECT_EQ(log.at("holds"), true);
  EXPECT_EQ(log.at("head"), log.at("entries").back().at("sha256"));
  EXPECT_EQ(run({"practical", "log", "--verify", "--head", log.at("head")}).code, 0);
  const Ran other = run({"practical", "log", "--verify", "--head", std::string(64, 'a'), "--json"});
  EXPECT_EQ(other.code, 1);
  EXPECT_EQ(Json::parse(other.out).at("holds"), false);
  // One byte of one row, in the file itself.
  std::string bytes = *read_file(at("data/copunctal.db"));
  const auto place = bytes.find("schema 0 to ");
  ASSERT_NE(place, std::string::npos);
  bytes[place + 7] = '1';
  ASSERT_TRUE(write_file(bytes, at("data/copunctal.db")));
  const Ran broken = run({"practical", "log", "--verify"});
  EXPECT_EQ(broken.code, 1);
  EXPECT_NE(broken.out.find("row 1 is not what it was"), std::string::npos) << broken.out;
}

// Every file of the tables is in the dictionary, column by column, and every column is explained.
TEST_F(Keeping, TheTablesAreTheirDictionarys) {
  stop_the_server();
  ASSERT_EQ(run({"practical", "export", sample_id(1), "--csv", "tables"}).code, 0);
  const Json package = Json::parse(*read_file(at("tables/datapackage.json")));
  EXPECT_NE(package.at("description").get<std::string>().find(intended_use()), std::string::npos);
  EXPECT_NE(package.at("description").get<std::string>().find("apostrophe"), std::string::npos);
  std::size_t files = 1;
  for (const Json& resource : package.at("resources")) {
    ++files;
    const std::string name = resource.at("name");
    const auto rows = csv_from(*read_file(at("tables") / resource.at("path").get<std::string>()),
                               name, {.field_characters = 4096});
    ASSERT_TRUE(rows.has_value()) << rows.error().message;
    const Json& fields = resource.at("schema").at("fields");
    ASSERT_EQ(rows->front().fields.size(), fields.size()) << name;
    for (std::size_t i = 0; i < fields.size(); ++i) {
      EXPECT_EQ(rows->front().fields[i], fields[i].at("name")) << name;
      EXPECT_NE(fields[i].at("description"), fields[i].at("name"))
          << "docs: app/practical_tables.cpp has no description of " << name << "."
          << fields[i].at("name");
    }
    if (name == "practicals") {
      EXPECT_EQ(rows->at(1).fields[1], "'=quiet, harbour");
    }
    if (name == "wide") {
      ASSERT_EQ(rows->size(), 3U);
      std::vector<std::string> readings(rows->at(1).fields.end() - 2, rows->at(1).fields.end());
      EXPECT_EQ(readings, (std::vector<std::string>{"none", "4+7"}));
    }
  }
  EXPECT_EQ(files_below(at("tables")).size(), files);
}

TEST_F(Keeping, SaysWhatIsWrongAndChangesNothing) {
  stop_the_server();
  ASSERT_TRUE(write_file("words, not JSON\n", at("plain.txt")));
  const auto with_data = [](std::vector<std::string> words) {
    words.insert(words.begin(), "practical");
    words.insert(words.end(), {"--data", "data"});
    return words;
  };
  refuses(3, {"practical", "list", "--data", "nowhere"}, {"nowhere", "no practicals", "--data"});
  refuses(3, with_data({"export", "12", "-o", "new.json"}), {"no practical 12", "list"});
  refuses(2, with_data({"export", sample_id(1)}), {"-o", "--csv"});
  refuses(3, with_data({"export", sample_id(1), "-o", "plain.txt"}), {"exists", "--force"});
  refuses(3, with_data({"export", sample_id(1), "--csv", "data"}), {"data", "exists"});
  refuses(3, with_data({"import", "plain.txt"}), {"plain.txt", "no JSON"});
  refuses(3, with_data({"import", "missing.json"}), {"missing.json"});
  refuses(3, {"practical", "import", "plain.txt", "--data", "fresh"}, {"plain.txt", "no JSON"});
  refuses(3, with_data({"delete", sample_id(9), "--yes"}), {sample_id(9), "list"});
  refuses(3, with_data({"delete", sample_id(2), "--sitting", sample_id(11), "--yes"}),
          {"has no sitting", sample_id(11)});
  refuses(3, with_data({"restore", "plain.txt"}), {"plain.txt", "no backup"});
  refuses(3, with_data({"restore", "missing.db"}), {"missing.db", "no such file"});
  refuses(3, with_data({"backup", "-o", "plain.txt"}), {"plain.txt", "exists", "--force"});
  refuses(4, with_data({"backup", "-o", "nowhere/new.db"}), {"nowhere/new.db"});
  refuses(2, with_data({"log", "--head", "abc"}), {"--head", "--verify"});
  refuses(2, {"practical", "burn"}, {"'practical burn'", "export", "restore"});
}

TEST_F(Keeping, ScoresAFilledTemplate) {
  const Ran empty = run_program({"score", "--template", "--set", set_of_seven()}, at(""));
  ASSERT_EQ(empty.code, 0) << empty.err;
  const auto set = load_set(set_of_seven());
  ASSERT_TRUE(set.has_value());
  std::string table = empty.out + "calm ferry";
  for (const Plate& plate : set->plates) {
    table += ",";
    for (std::size_t i = 0; i < plate.figures.size(); ++i)
      table += (i == 0 ? "" : "+") + plate.figures[i].symbol;
  }
  ASSERT_TRUE(write_file("\xEF\xBB\xBF" + table + "\r\n", at("answers.csv")));
  const Ran ran = run_program({"score", "answers.csv", "--set", set_of_seven(), "--json"}, at(""));
  ASSERT_EQ(ran.code, 0) << ran.err;
  const Json scored = Json::parse(ran.out);
  ASSERT_EQ(scored.at("people").size(), 1U);
  EXPECT_EQ(scored.at("people")[0].at("verdict"), "normal");
  EXPECT_EQ(scored.at("people")[0].at("misses").at("vanishing").at("missed"), 0);
  EXPECT_EQ(scored.at("intended_use"), intended_use());
  const Ran words = run_program({"score", "answers.csv", "--set", set_of_seven()}, at(""));
  EXPECT_NE(words.out.find(intended_use()), std::string::npos);
}

TEST_F(Keeping, AScoreNamesTheCellThatIsWrong) {
  const auto refuses_table = [&](const std::string& table, const std::vector<std::string>& said) {
    ASSERT_TRUE(write_file(table, at("answers.csv")));
    refuses(3, {"score", "answers.csv", "--set", set_of_seven()}, said);
  };
  const std::string head = "pseudonym,plate,reading\n";
  refuses_table("pseudonym,plat,reading\nk,1,4\n", {"answers.csv:1, column 2", "'plate'"});
  refuses_table(head + "k,old iland,4\n", {"answers.csv:2, column 2", "'old island'"});
  refuses_table(head + "k,1,nun\n", {"answers.csv:2, column 3", "'none'"});
  refuses_table(head + "k,1,none\nk,1,none\n", {"answers.csv:3, column 3", "second answer"});
  refuses_table(head + std::string(65, 'k') + ",1,none\n", {"2, column 1", "longer than 64"});
  refuses_table(head + "k,1," + std::string(1, '\0') + "\n", {"2, column 3", "NUL"});
  refuses_table(head + "k\xC3(,1,none\n", {"2, column 1", "UTF-8"});
  refuses_table(head + "\"k,1,none\n", {"2, column 1", "never closed"});
  refuses_table("", {"no answers", "--template"});
  refuses(2, {"score", "--set", set_of_seven()}, {"no answers are named", "--template"});
  refuses(2, {"score", "answers.csv", "--template", "--set", set_of_seven()}, {"--template"});
  refuses(2, {"score", "answers.csv"}, {"--set"});
  refuses(3, {"score", "missing.csv", "--set", set_of_seven()}, {"missing.csv"});
  refuses(3, {"score", "answers.csv", "--set", "missing"}, {"missing"});
}

}  // namespace copunctal
