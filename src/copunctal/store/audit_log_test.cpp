#include "copunctal/store/audit_log.h"

#include <gtest/gtest.h>

#include <array>
#include <set>

#include "copunctal/base/hash.h"
#include "copunctal/base/random.h"
#include "copunctal/store/database.h"
#include "copunctal/store/migrations.h"
#include "copunctal/store/sample_records.h"
#include "copunctal/store/two_databases.h"

using namespace copunctal;

namespace {

constexpr std::string_view now = "2030-01-02T03:04:05.678Z";

struct AuditLog : OnBothDatabases {
  StorePlace place{GetParam()};
  std::unique_ptr<Database> database;

  void SetUp() override {
    OnBothDatabases::SetUp();
    if (!IsSkipped()) database = place.migrated();
  }

  void append(int rows) {
    constexpr std::array events = {LogEvent::start,    LogEvent::stop,   LogEvent::exported,
                                   LogEvent::removed,  LogEvent::backup, LogEvent::imported,
                                   LogEvent::conflict, LogEvent::restore};
    for (int i = 0; i < rows; ++i)
      ASSERT_TRUE(append_to_log(*database, events[static_cast<std::size_t>(i) % events.size()], now,
                                i % 2 == 0 ? log_subject(sample_id(i)) : "",
                                std::to_string(i) + " rows"));
  }
  /// As somebody with the file and another program would: without the triggers.
  void take_the_guards_away() {
    for (const char* guard : {"audit_log_is_never_changed", "audit_log_is_never_shortened",
                              "audit_log_grows_at_its_end", "audit_log_moves_its_head"})
      ASSERT_TRUE(database->run("DROP TRIGGER " + std::string(guard)));
  }
};

INSTANTIATE_TEST_SUITE_P(, AuditLog, both_databases, name_of_database);

}  // namespace

TEST_P(AuditLog, BeginsWithTheMigrationThatMadeIt) {
  const auto log = *read_log(*database);
  ASSERT_EQ(log.entries.size(), 1U);
  EXPECT_EQ(log.entries[0].event, "migration");
  EXPECT_EQ(log.entries[0].previous_sha256, first_previous_sha256());
  EXPECT_EQ(log.head_sha256, log.entries[0].sha256);
  EXPECT_EQ(break_in(log), std::nullopt);
}

// The hash is what the documents say, so that anybody can check a chain with other tools.
TEST_P(AuditLog, ARowsHashIsThatOfItsFieldsJoinedByLineFeeds) {
  append(1);
  const auto log = *read_log(*database);
  const LogEntry& entry = log.entries[1];
  EXPECT_EQ(entry.previous_sha256, log.entries[0].sha256);
  EXPECT_EQ(entry.sha256, sha256_hex(log.entries[0].sha256 + "\n2\n" + std::string(now) +
                                     "\nstart\n" + log_subject(sample_id(0)) + "\n0 rows"));
}

TEST_P(AuditLog, NoRowCanBeChangedRemovedReplacedOrPutBetween) {
  append(5);
  const auto before = *read_log(*database);
  for (const char* script :
       {"UPDATE audit_log SET details = 'x' WHERE number = 3", "UPDATE audit_log SET number = 99",
        "DELETE FROM audit_log WHERE number = 3", "DELETE FROM audit_log",
        "INSERT OR REPLACE INTO audit_log SELECT 3, at_utc, event, subject, 'x', previous_sha256,"
        " sha256 FROM audit_log WHERE number = 3",
        "INSERT INTO audit_log SELECT 9, at_utc, event, subject, details, previous_sha256,"
        " upper(sha256) FROM audit_log WHERE number = 3",
        "INSERT INTO audit_log SELECT number + 1, at_utc, 'fly', subject, details, sha256,"
        " upper(sha256) FROM audit_log WHERE number = 6",
        "INSERT INTO audit_log SELECT number + 1, at_utc, event, subject, details,"
        " previous_sha256, upper(sha256) FROM audit_log WHERE number = 6"})
    EXPECT_FALSE(database->run(script)) << script;
  const auto after = *read_log(*database);
  EXPECT_EQ(after.entries.size(), before.entries.size());
  EXPECT_EQ(after.head_sha256, before.head_sha256);
  EXPECT_EQ(break_in(after), std::nullopt);
}

// One row edited, removed or moved, each at random: 300 of 300 found.
TEST_P(AuditLog, EveryEditRemovalAndReorderingOfARowIsFound) {
  append(40);
  take_the_guards_away();
  const auto whole = *read_log(*database);
  ASSERT_EQ(break_in(whole), std::nullopt);
  RandomStream stream(20260);
  const auto rows = static_cast<std::uint32_t>(whole.entries.size());
  int found = 0;
  std::set<int> kinds;
  for (int trial = 0; trial < 300; ++trial) {
    ASSERT_TRUE(database->run("BEGIN"));
    const std::string row = std::to_string(1 + stream.below(rows));
    const std::uint32_t kind = stream.below(4);
    std::string script;
    if (kind == 0) {
      constexpr std::array edits = {
          "at_utc = replace(at_utc, '2030', '2031')",
          "details = details || ' '",
          "event = CASE event WHEN 'stop' THEN 'start' ELSE 'stop' END",
          "subject = CASE subject WHEN '' THEN '0123456789abcdef' ELSE '' END",
          "previous_sha256 = substr(previous_sha256, 2) || 'x'",
          "sha256 = substr(sha256, 2) || 'x'"};
      script = "UPDATE audit_log SET " + std::string(edits[stream.below(edits.size())]) +
               " WHERE number = " + row;
    } else if (kind == 1) {
      script = "DELETE FROM audit_log WHERE number = " + row;
    } else if (kind == 2) {
      // Removed, and what follows moved up to close the gap.
      script = "DELETE FROM audit_log WHERE number = " + row +
               "; UPDATE audit_log SET number = -number WHERE number > " + row +
               "; UPDATE audit_log SET number = -number - 1 WHERE number < 0";
    } else {
      std::string other = row;
      while (other == row) other = std::to_string(1 + stream.below(rows));
      script = "UPDATE audit_log SET number = -1 WHERE number = " + row +
               "; UPDATE audit_log SET number = " + row + " WHERE number = " + other +
               "; UPDATE audit_log SET number = " + other + " WHERE number = -1";
    }
    ASSERT_TRUE(database->run(script)) << script;
    const auto broken = break_in(*read_log(*database));
    EXPECT_TRUE(broken.has_value()) << script;
    found += broken.has_value();
    kinds.insert(static_cast<int>(kind));
    ASSERT_TRUE(database->run("ROLLBACK"));
  }
  EXPECT_EQ(found, 300);
  EXPECT_EQ(kinds.size(), 4U);
  EXPECT_EQ(break_in(*read_log(*database)), std::nullopt) << "the trials left something behind";
}

// Who writes the whole chain anew is found by a head that was noted elsewhere, and only by that.
TEST_P(AuditLog, AChainWrittenAnewIsFoundByAHeadThatWasNoted) {
  append(10);
  auto log = *read_log(*database);
  const std::string noted = log.head_sha256;
  append(3);
  log = *read_log(*database);
  EXPECT_EQ(break_in(log, noted), std::nullopt) << "an earlier head is on the chain";
  std::string previous = first_previous_sha256();
  log.entries[4].details = "another story";
  for (LogEntry& entry : log.entries) {
    entry.previous_sha256 = previous;
    previous = entry.sha256 = sha256_of(entry);
  }
  log.head_sha256 = previous;
  EXPECT_EQ(break_in(log), std::nullopt);
  EXPECT_TRUE(break_in(log, noted).has_value());
}
