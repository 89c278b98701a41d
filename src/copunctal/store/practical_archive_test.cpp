#include "copunctal/store/practical_archive.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <functional>

#include <nlohmann/json.hpp>

#include "copunctal/base/random.h"
#include "copunctal/store/data_keeper.h"
#include "copunctal/store/database.h"
#include "copunctal/store/migrations.h"
#include "copunctal/store/sample_records.h"
#include "copunctal/store/scratch_directory.h"
#include "copunctal/store/two_databases.h"
#include "copunctal/store/upkeep.h"

using namespace copunctal;
using Json = nlohmann::json;
namespace fs = std::filesystem;

namespace {

constexpr std::string_view now = "2030-01-02T03:04:05.678Z";
constexpr std::string_view use = "For teaching.";

std::string utc() {
  return std::string(now);
}

/// A table and a column such as a later schema may add, over three steps of references.
constexpr std::string_view later_schema = R"sql(
ALTER TABLE sittings ADD COLUMN later_words TEXT;
CREATE TABLE later_strokes (
  answer_id TEXT NOT NULL REFERENCES answers ON DELETE CASCADE,
  place     INTEGER NOT NULL,
  x         REAL NOT NULL,
  PRIMARY KEY (answer_id, place)
) STRICT;
CREATE TABLE later_remarks (
  words     TEXT PRIMARY KEY,
  place     INTEGER NOT NULL,
  answer_id TEXT NOT NULL,
  FOREIGN KEY (answer_id, place) REFERENCES later_strokes (answer_id, place) ON DELETE RESTRICT
) STRICT;
)sql";

/// Practicals 1 and 2, each with `sittings` sittings of two answers.
void fill(Database& database, int sittings, RandomStream& stream) {
  ASSERT_TRUE(database.begin_writing());
  Changes changes(database);
  for (int practical = 1; practical <= 2; ++practical) {
    PracticalRecord record = sample_practical(practical);
    record.name = practical == 1 ? "=quiet, \"harbour\" 名" : "late dune";
    ASSERT_TRUE(changes.add(record));
    for (int i = 0; i < sittings; ++i) {
      const int number = 100 * practical + i;
      SittingRecord sitting = sample_sitting(number, practical);
      if (i % 2 == 1) sitting.sex_at_birth = std::nullopt;
      ASSERT_TRUE(changes.add(sitting));
      for (int item = 0; item < 2; ++item) {
        AnswerRecord answer = sample_answer(10 * number + item, item, number);
        answer.onset_ms = stream.uniform(-1e6, 1e12);
        answer.response_ms = stream.below(3) == 0 ? 3.0 : stream.normal() * 1e-7;
        answer.received_steady_ns = static_cast<std::int64_t>(stream.bits64());
        ASSERT_TRUE(changes.add(answer));
        if (item == 0) {
          ASSERT_TRUE(changes.refuse(answer, AuditReason::conflict));
        }
      }
    }
  }
  ASSERT_TRUE(database.run("COMMIT"));
}

std::string archive(Database& database, int practical = 1) {
  auto text = archive_of(database, sample_id(practical), use);
  if (!text) throw std::runtime_error(text.error().message);
  return *std::move(text);
}

Result<Imported> added(Database& database, const std::string& text) {
  EXPECT_TRUE(database.begin_writing());
  auto imported = add_archive(database, text, "term.json");
  EXPECT_TRUE(database.run(imported ? "COMMIT" : "ROLLBACK"));
  return imported;
}

std::int64_t all_rows(Database& database) {
  std::int64_t rows = 0;
  for (const char* table : {"practicals", "sittings", "items", "answers", "refused_answers"})
    rows += *database.number("SELECT count(*) FROM " + std::string(table));
  return rows;
}

struct PracticalArchive : OnBothDatabases {
  StorePlace here{GetParam()}, there{GetParam()};
  RandomStream stream{31};
};
INSTANTIATE_TEST_SUITE_P(, PracticalArchive, both_databases, name_of_database);

}  // namespace

TEST_P(PracticalArchive, OutInAndOutAgainIsTheSameByteForByte) {
  const auto from = here.migrated(), to = there.migrated();
  fill(*from, 20, stream);
  const std::string text = archive(*from);
  const auto imported = added(*to, text);
  ASSERT_TRUE(imported.has_value()) << imported.error().message;
  EXPECT_EQ(imported->added.at("sittings"), 20);
  EXPECT_EQ(imported->added.at("answers"), 40);
  EXPECT_EQ(imported->added.at("refused_answers"), 20);
  EXPECT_EQ(archive(*to), text);
  EXPECT_EQ(*to->number("SELECT count(*) FROM practicals"), 1) << "the other one came along";
}

TEST_P(PracticalArchive, AgainOrIntoWhereItCameFromChangesNothing) {
  const auto from = here.migrated();
  fill(*from, 3, stream);
  const std::string text = archive(*from);
  const auto rows = all_rows(*from);
  for (int i = 0; i < 2; ++i) {
    const auto imported = added(*from, text);
    ASSERT_TRUE(imported.has_value()) << imported.error().message;
    EXPECT_TRUE(imported->added.empty());
  }
  EXPECT_EQ(all_rows(*from), rows);
  EXPECT_EQ(archive(*from), text);
}

TEST_P(PracticalArchive, WhatWasRemovedMeanwhileComesBack) {
  const auto from = here.migrated();
  fill(*from, 3, stream);
  const std::string text = archive(*from);
  ASSERT_TRUE(from->run("DELETE FROM sittings WHERE sitting_id = '" + sample_id(101) + "'"));
  ASSERT_NE(archive(*from), text);
  ASSERT_TRUE(added(*from, text).has_value());
  EXPECT_EQ(archive(*from), text);
}

TEST_P(PracticalArchive, IsCanonicalJson) {
  const auto from = here.migrated();
  fill(*from, 3, stream);
  const std::string text = archive(*from);
  const Json json = Json::parse(text);
  EXPECT_EQ(json.at("intended_use"), use);
  const auto ids = [&](const char* table, const char* column) {
    std::vector<std::string> all;
    for (const Json& row : json.at("tables").at(table)) all.push_back(row.at(column));
    return all;
  };
  for (const auto& [table, column] :
       {std::pair("sittings", "sitting_id"), std::pair("answers", "answer_id")}) {
    const auto all = ids(table, column);
    EXPECT_EQ(all.size(), std::string(table) == "answers" ? 6U : 3U);
    EXPECT_TRUE(std::is_sorted(all.begin(), all.end()));
  }
  // nlohmann's objects are sorted: the same keys in the order of the text.
  std::vector<std::string> keys;
  for (std::size_t at = text.find("{\"answer_id\""), end = text.find('}', at); at < end;) {
    const std::size_t open = text.find('"', at);
    if (open >= end) break;
    const std::size_t close = text.find("\":", open);
    keys.push_back(text.substr(open + 1, close - open - 1));
    at = text.find(",\"", close);
  }
  EXPECT_TRUE(std::is_sorted(keys.begin(), keys.end()));
  EXPECT_NE(text.find("\"shown_ms\":1655.6,"), std::string::npos) << "shortest form";
}

// Tables and columns that a later migration adds are carried without a word of code about them.
TEST_P(PracticalArchive, CarriesAndRemovesTablesOfALaterSchema) {
  const auto from = here.migrated(), to = there.migrated();
  fill(*from, 2, stream);
  for (Database* one : {from.get(), to.get()}) ASSERT_TRUE(one->run(std::string(later_schema)));
  const std::string answer = sample_id(1000), other = sample_id(2000);
  ASSERT_TRUE(
      from->run("UPDATE sittings SET later_words = 'canary in a column';"
                "INSERT INTO later_strokes VALUES ('" +
                answer + "', 2, 0.1), ('" + answer + "', 1, 7.0), ('" + other +
                "', 1, 1.5);"
                "INSERT INTO later_remarks VALUES ('canary remark', 2, '" +
                answer + "'), ('of the other', 1, '" + other + "');"));
  const std::string text = archive(*from);
  const Json json = Json::parse(text);
  ASSERT_EQ(json.at("tables").at("later_strokes").size(), 2U);
  EXPECT_EQ(json.at("tables").at("later_strokes")[0].at("place"), 1) << "by primary key";
  ASSERT_EQ(json.at("tables").at("later_remarks").size(), 1U);
  EXPECT_EQ(json.at("tables").at("sittings")[0].at("later_words"), "canary in a column");
  ASSERT_TRUE(added(*to, text).has_value());
  EXPECT_EQ(archive(*to), text);

  ASSERT_TRUE(from->begin_writing());
  const auto removed = remove_family(*from, "practicals", sample_id(1));
  ASSERT_TRUE(removed.has_value()) << removed.error().message;
  ASSERT_TRUE(from->run("COMMIT"));
  EXPECT_EQ(removed->at("later_remarks"), 1);
  EXPECT_EQ(*from->text("SELECT words FROM later_remarks"), "of the other");
  EXPECT_EQ(*from->number("SELECT count(*) FROM sittings"), 2);
}

TEST_P(PracticalArchive, WhatIsWrongInAFileIsNamedAndNothingIsKept) {
  const auto from = here.migrated(), to = there.migrated();
  fill(*from, 2, stream);
  const std::string text = archive(*from);
  const Json good = Json::parse(text);
  const auto refused = [&](const std::string& wrong, const std::vector<std::string>& words,
                           Error::Kind kind = Error::Kind::bad_input) {
    const auto imported = added(*to, wrong);
    ASSERT_FALSE(imported.has_value()) << wrong.substr(0, 200);
    EXPECT_EQ(imported.error().kind, kind) << imported.error().message;
    for (const std::string& word : words)
      EXPECT_NE(imported.error().message.find(word), std::string::npos)
          << "'" << word << "' is not in: " << imported.error().message;
    EXPECT_NE(imported.error().message.find("term.json"), std::string::npos);
    EXPECT_FALSE(imported.error().remedy.empty());
    EXPECT_EQ(all_rows(*to), 0);
  };
  const auto edited = [&](const std::function<void(Json&)>& edit) {
    Json json = good;
    edit(json);
    return json.dump();
  };
  refused("", {"no JSON"});
  refused(text.substr(0, text.size() / 2), {"no JSON", "line"});
  refused("[]", {"must be an object"});
  refused("{\"format\":1,\"format\":1}", {"'format'", "twice"});
  refused(std::string(100'000, '['), {""});
  refused(edited([](Json& j) { j["extra"] = 1; }), {"extra", "no such key"});
  refused(edited([](Json& j) { j.erase("schema"); }), {"schema", "missing"});
  refused(edited([](Json& j) { j["schema"] = "2"; }), {"schema", "whole number"});
  refused(edited([](Json& j) { j["schema"] = 99; }), {"newer program", "99"}, Error::Kind::io);
  refused(edited([](Json& j) { j["format"] = 2; }), {"newer program"}, Error::Kind::io);
  refused(edited([](Json& j) { j["practical"] = "x"; }), {"practical", "id"});
  refused(edited([](Json& j) { j["tables"]["secrets"] = Json::array(); }),
          {"tables.secrets", "no such table"});
  refused(edited([](Json& j) { j["tables"]["audit_log"] = Json::array(); }),
          {"tables.audit_log", "no such table"});
  refused(edited([](Json& j) { j["tables"].erase("answers"); }), {"tables.answers", "missing"});
  refused(edited([](Json& j) { j["tables"]["answers"] = 1; }), {"tables.answers", "list"});
  refused(edited([](Json& j) { j["tables"]["answers"][1]["colour"] = 1; }),
          {"tables.answers[1].colour", "no such column"});
  refused(edited([](Json& j) { j["tables"]["answers"][1].erase("end"); }),
          {"tables.answers[1].end", "missing"});
  refused(edited([](Json& j) { j["tables"]["answers"][2]["frames"] = 1.5; }),
          {"tables.answers[2].frames", "whole number"});
  refused(edited([](Json& j) { j["tables"]["answers"][2]["frames"] = 18446744073709551615U; }),
          {"tables.answers[2].frames", "64 bits"});
  refused(edited([](Json& j) { j["tables"]["answers"][2]["shown_ms"] = "9"; }),
          {"tables.answers[2].shown_ms", "number"});
  refused(edited([](Json& j) { j["tables"]["sittings"][0]["tell"] = true; }),
          {"tables.sittings[0].tell", "text"});
  refused(edited([](Json& j) { j["tables"]["sittings"][0]["tell"] = nullptr; }),
          {"tables.sittings[0].tell", "null"});
  refused(edited([](Json& j) { j["tables"]["sittings"][1]["tell"] = "shout"; }),
          {"tables.sittings[1]", "does not allow"});
  refused(edited([](Json& j) { j["tables"]["answers"][0]["item"] = 77; }),
          {"tables.answers[0]", "refers to a row that is not there"});
  refused(edited([](Json& j) { j["tables"]["sittings"][1]["practical_id"] = sample_id(9); }),
          {"tables.sittings[1]", "refers to a row that is not there"});
  refused(edited([](Json& j) { j["tables"]["sittings"].push_back(j["tables"]["sittings"][0]); }),
          {"tables.sittings[2]", "twice"});
  refused(edited([](Json& j) {
            j["tables"]["practicals"][0]["practical_id"] = sample_id(7);
            for (Json& s : j["tables"]["sittings"]) s["practical_id"] = sample_id(7);
          }),
          {"tables.", "does not belong"});
  refused(edited([](Json& j) {
            for (auto& [name, rows] : j["tables"].items()) rows = Json::array();
          }),
          {"tables.practicals", "one practical"});
  // All of it is good after all.
  EXPECT_TRUE(added(*to, text).has_value());
}

TEST_P(PracticalArchive, ARowThatSaysSomethingElseIsAConflict) {
  const auto from = here.migrated();
  fill(*from, 2, stream);
  Json json = Json::parse(archive(*from));
  json["tables"]["answers"][3]["frames"] = 1;
  const auto imported = added(*from, json.dump());
  ASSERT_FALSE(imported.has_value());
  EXPECT_EQ(imported.error().kind, Error::Kind::conflict);
  EXPECT_NE(imported.error().message.find("tables.answers[3].frames"), std::string::npos);
}

// Somebody else's sitting cannot be smuggled in beside: the file names one practical.
TEST_P(PracticalArchive, RowsOfAnotherPracticalAreRefused) {
  const auto from = here.migrated();
  fill(*from, 2, stream);
  Json json = Json::parse(archive(*from, 1));
  Json sitting = Json::parse(archive(*from, 2))["tables"]["sittings"][0];
  sitting["sitting_id"] = sample_id(777);
  json["tables"]["sittings"].push_back(sitting);
  const auto imported = added(*from, json.dump());
  ASSERT_FALSE(imported.has_value());
  EXPECT_NE(imported.error().message.find("tables.sittings[2]"), std::string::npos);
  EXPECT_EQ(*from->number("SELECT count(*) FROM sittings"), 4);
}

TEST(PracticalImport, ThatIsRefusedLeavesNoDirectory) {
  const ScratchDirectory there;
  const auto fresh = there.path() / "new";
  const auto refused = import_practical(fresh, "{}", "term.json", utc);
  ASSERT_FALSE(refused.has_value());
  EXPECT_FALSE(fs::exists(fresh));
}

// The same content is the same bytes, whichever database it comes from.
TEST(PracticalInBothDatabases, ComesBackTheSameByteForByte) {
  if (const auto why = PostgresServer::missing()) GTEST_SKIP() << *why;
  StorePlace file(DatabaseKind::sqlite), server(DatabaseKind::postgres),
      again(DatabaseKind::sqlite);
  RandomStream stream{7};
  const auto from = file.migrated(), through = server.migrated(), to = again.migrated();
  fill(*from, 20, stream);
  const std::string text = archive(*from);
  ASSERT_TRUE(added(*through, text).has_value());
  EXPECT_EQ(archive(*through), text);
  ASSERT_TRUE(added(*to, archive(*through)).has_value());
  EXPECT_EQ(archive(*to), text);
}
