#include "copunctal/store/migrations.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <vector>

#include "copunctal/base/hash.h"
#include "copunctal/store/database.h"
#include "copunctal/store/scratch_directory.h"
#include "copunctal/store/two_databases.h"

using namespace copunctal;

namespace {

constexpr std::string_view now = "2030-01-02T03:04:05.678Z";

struct Migrations : OnBothDatabases {
  StorePlace place{GetParam()};
  std::string file = "term";

  std::unique_ptr<Database> database() { return place.database(); }
};
INSTANTIATE_TEST_SUITE_P(, Migrations, both_databases, name_of_database);

bool has_table(Database& database, std::string_view name) {
  const auto tables = *database.tables();
  return std::find(tables.begin(), tables.end(), name) != tables.end();
}

std::vector<Migration> with_one_more(std::string_view script) {
  std::vector<Migration> steps(all_migrations().begin(), all_migrations().end());
  steps.push_back({"one more", script});
  return steps;
}

}  // namespace

TEST_P(Migrations, mark_the_file_and_note_each_step) {
  const auto open = database();
  ASSERT_TRUE(migrate(*open, now, file));
  EXPECT_EQ(open->schema_mark()->application, application_id);
  EXPECT_EQ(open->schema_mark()->version, static_cast<std::int64_t>(all_migrations().size()));
  EXPECT_EQ(*open->number("SELECT count(*) FROM migrations WHERE length(sha256) = 64"),
            static_cast<std::int64_t>(all_migrations().size()));
  EXPECT_TRUE(migrate(*open, now, file)) << "a second time has nothing to do";
}

TEST_P(Migrations, carry_an_older_file_on) {
  const auto open = database();
  ASSERT_TRUE(migrate(*open, now, file));
  const auto steps = with_one_more("CREATE TABLE more (x INTEGER) STRICT;");
  ASSERT_TRUE(migrate(*open, now, file, steps));
  EXPECT_EQ(*open->number("SELECT count(*) FROM more"), 0);
}

// A rule of a column as a step changes it: SQLite rebuilds the table, PostgreSQL alters it.
TEST_P(Migrations, take_a_second_script_where_one_does_not_serve_both) {
  const auto open = database();
  ASSERT_TRUE(migrate(*open, now, file));
  std::vector<Migration> steps = with_one_more(
      "CREATE TABLE more (x INTEGER PRIMARY KEY, word TEXT CHECK (word IN ('a'))) STRICT;");
  ASSERT_TRUE(migrate(*open, now, file, steps));
  EXPECT_FALSE(open->run("INSERT INTO more VALUES (1, 'b')"));
  steps.push_back(
      {"another word",
       "CREATE TABLE other (x INTEGER PRIMARY KEY, word TEXT CHECK (word IN ('a', 'b')))"
       " STRICT; INSERT INTO other SELECT x, word FROM more; DROP TABLE more;"
       " ALTER TABLE other RENAME TO more;",
       "ALTER TABLE more DROP CONSTRAINT more_word_check,"
       " ADD CONSTRAINT more_word_check CHECK (word ~ '^[ab]$');"});
  ASSERT_TRUE(migrate(*open, now, file, steps));
  EXPECT_TRUE(open->run("INSERT INTO more VALUES (1, 'b')"));
  EXPECT_FALSE(open->run("INSERT INTO more VALUES (2, 'c')"));
  EXPECT_TRUE(migrate(*open, now, file, steps)) << "it is known by its script again";
  steps.back().script = steps.back().postgres = "SELECT 1";
  EXPECT_FALSE(migrate(*open, now, file, steps));
}

// A file of the first release keeps what is in it and takes display records from then on.
TEST_P(Migrations, bring_the_first_schema_to_the_newest) {
  const auto open = database();
  ASSERT_GE(all_migrations().size(), 2U);
  ASSERT_TRUE(migrate(*open, now, file, all_migrations().first(1)));
  ASSERT_TRUE(open->run("INSERT INTO practicals VALUES ('" + std::string(32, 'a') +
                        "', 'quiet harbour', '2030', 'srgb/oled', '" + std::string(64, 'b') +
                        "', 18, 3000, 10000)"));
  EXPECT_FALSE(has_table(*open, "display_records"));
  ASSERT_TRUE(migrate(*open, now, file));
  EXPECT_EQ(*open->text("SELECT name FROM practicals"), "quiet harbour");
  EXPECT_EQ(*open->number("SELECT count(*) FROM display_records"), 0);
  EXPECT_EQ(*open->number("SELECT count(*) FROM tone_matches"), 0);
}

// A released step is never edited: its text is what files in use were made with.
TEST_P(Migrations, keep_the_released_steps_as_they_were) {
  EXPECT_EQ(sha256_hex(all_migrations()[0].script),
            "7206cd7c89a4a5604140e62761769079c6d5929cff58aa1aaba5a62a846ea604");
}

TEST_P(Migrations, that_fail_half_way_leave_nothing_behind) {
  const auto open = database();
  ASSERT_TRUE(migrate(*open, now, file));
  const auto before = open->schema_mark()->version;
  const auto steps =
      with_one_more("CREATE TABLE more (x INTEGER) STRICT; CREATE TABLE more (y INTEGER) STRICT;");
  EXPECT_FALSE(migrate(*open, now, file, steps));
  EXPECT_FALSE(open->in_transaction());
  EXPECT_EQ(open->schema_mark()->version, before);
  EXPECT_FALSE(has_table(*open, "more"));
}

TEST_P(Migrations, refuse_a_newer_file) {
  const auto open = database();
  ASSERT_TRUE(migrate(*open, now, file));
  ASSERT_TRUE(open->mark_schema(99));
  const auto refused = migrate(*open, now, file);
  ASSERT_FALSE(refused);
  EXPECT_EQ(refused.error().kind, Error::Kind::io);
  EXPECT_NE(refused.error().message.find("newer than this program"), std::string::npos);
}

TEST_P(Migrations, refuse_steps_that_are_not_ours) {
  const auto open = database();
  ASSERT_TRUE(migrate(*open, now, file));
  ASSERT_TRUE(
      open->run("UPDATE migrations SET sha256 = replace(sha256, substr(sha256, 1, 1), 'x')"));
  const auto refused = migrate(*open, now, file);
  ASSERT_FALSE(refused);
  EXPECT_EQ(refused.error().kind, Error::Kind::bad_input);
}

TEST_P(Migrations, refuse_another_programs_database) {
  const auto open = database();
  ASSERT_TRUE(GetParam() == DatabaseKind::sqlite || open->run("CREATE SCHEMA copunctal"));
  ASSERT_TRUE(open->run("CREATE TABLE theirs (x INTEGER)"));
  const auto refused = migrate(*open, now, file);
  ASSERT_FALSE(refused);
  EXPECT_EQ(refused.error().kind, Error::Kind::bad_input);
  EXPECT_NE(refused.error().message.find("another program"), std::string::npos);
}

// The settings that durability and safety stand on, asked of the connection itself.
TEST(Sqlite, runs_with_the_settings_we_need) {
  const ScratchDirectory scratch;
  const auto open = *Database::open(scratch.path() / "copunctal.db");
  EXPECT_EQ(*open->text("PRAGMA journal_mode"), "wal");
  EXPECT_EQ(*open->number("PRAGMA synchronous"), 2);
  EXPECT_EQ(*open->number("PRAGMA foreign_keys"), 1);
  EXPECT_EQ(*open->number("PRAGMA trusted_schema"), 0);
  EXPECT_EQ(*open->number("PRAGMA cell_size_check"), 1);
  EXPECT_EQ(*open->number("PRAGMA secure_delete"), 1);
  EXPECT_TRUE(open->run("PRAGMA writable_schema=ON"));
  EXPECT_FALSE(open->run("UPDATE sqlite_schema SET sql = ''")) << "DEFENSIVE is off";
}
