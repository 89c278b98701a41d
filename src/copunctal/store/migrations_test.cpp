#include "copunctal/store/migrations.h"

#include <gtest/gtest.h>

#include <vector>

#include "copunctal/base/hash.h"
#include "copunctal/store/database.h"
#include "copunctal/store/scratch_directory.h"

using namespace copunctal;

namespace {

constexpr std::string_view now = "2030-01-02T03:04:05.678Z";

struct Migrations : testing::Test {
  ScratchDirectory scratch;
  std::string file = (scratch.path() / "copunctal.db").string();

  std::unique_ptr<Database> database() {
    auto opened = Database::open(file);
    if (!opened) throw std::runtime_error(opened.error().message);
    return *std::move(opened);
  }
};

std::vector<Migration> with_one_more(std::string_view script) {
  std::vector<Migration> steps(all_migrations().begin(), all_migrations().end());
  steps.push_back({"one more", script});
  return steps;
}

}  // namespace

TEST_F(Migrations, mark_the_file_and_note_each_step) {
  const auto open = database();
  ASSERT_TRUE(migrate(*open, now, file));
  EXPECT_EQ(*open->number("PRAGMA application_id"), application_id);
  EXPECT_EQ(*open->number("PRAGMA user_version"),
            static_cast<std::int64_t>(all_migrations().size()));
  EXPECT_EQ(*open->number("SELECT count(*) FROM migrations WHERE length(sha256) = 64"),
            static_cast<std::int64_t>(all_migrations().size()));
  EXPECT_TRUE(migrate(*open, now, file)) << "a second time has nothing to do";
}

TEST_F(Migrations, carry_an_older_file_on) {
  const auto open = database();
  ASSERT_TRUE(migrate(*open, now, file));
  const auto steps = with_one_more("CREATE TABLE more (x INTEGER) STRICT;");
  ASSERT_TRUE(migrate(*open, now, file, steps));
  EXPECT_EQ(*open->number("SELECT count(*) FROM more"), 0);
}

// A file of the first release keeps what is in it and takes display records from then on.
TEST_F(Migrations, bring_the_first_schema_to_the_newest) {
  const auto open = database();
  ASSERT_GE(all_migrations().size(), 2U);
  ASSERT_TRUE(migrate(*open, now, file, all_migrations().first(1)));
  ASSERT_TRUE(open->run("INSERT INTO practicals VALUES ('" + std::string(32, 'a') +
                        "', 'quiet harbour', '2030', 'srgb/oled', '" + std::string(64, 'b') +
                        "', 18, 3000, 10000)"));
  EXPECT_EQ(*open->number("SELECT count(*) FROM sqlite_schema WHERE name = 'display_records'"), 0);
  ASSERT_TRUE(migrate(*open, now, file));
  EXPECT_EQ(*open->text("SELECT name FROM practicals"), "quiet harbour");
  EXPECT_EQ(*open->number("SELECT count(*) FROM display_records"), 0);
  EXPECT_EQ(*open->number("SELECT count(*) FROM tone_matches"), 0);
}

// A released step is never edited: its text is what files in use were made with.
TEST_F(Migrations, keep_the_released_steps_as_they_were) {
  EXPECT_EQ(sha256_hex(all_migrations()[0].script),
            "7206cd7c89a4a5604140e62761769079c6d5929cff58aa1aaba5a62a846ea604");
}

TEST_F(Migrations, that_fail_half_way_leave_nothing_behind) {
  const auto open = database();
  ASSERT_TRUE(migrate(*open, now, file));
  const auto before = *open->number("PRAGMA user_version");
  const auto steps = with_one_more("CREATE TABLE more (x INTEGER) STRICT; CREATE TABLE more (y);");
  EXPECT_FALSE(migrate(*open, now, file, steps));
  EXPECT_FALSE(open->in_transaction());
  EXPECT_EQ(*open->number("PRAGMA user_version"), before);
  EXPECT_EQ(*open->number("SELECT count(*) FROM sqlite_schema WHERE name = 'more'"), 0);
}

TEST_F(Migrations, refuse_a_newer_file) {
  const auto open = database();
  ASSERT_TRUE(migrate(*open, now, file));
  ASSERT_TRUE(open->run("PRAGMA user_version=99"));
  const auto refused = migrate(*open, now, file);
  ASSERT_FALSE(refused);
  EXPECT_EQ(refused.error().kind, Error::Kind::io);
  EXPECT_NE(refused.error().message.find("newer than this program"), std::string::npos);
}

TEST_F(Migrations, refuse_steps_that_are_not_ours) {
  const auto open = database();
  ASSERT_TRUE(migrate(*open, now, file));
  ASSERT_TRUE(
      open->run("UPDATE migrations SET sha256 = replace(sha256, substr(sha256, 1, 1), 'x')"));
  const auto refused = migrate(*open, now, file);
  ASSERT_FALSE(refused);
  EXPECT_EQ(refused.error().kind, Error::Kind::bad_input);
}

TEST_F(Migrations, refuse_another_programs_database) {
  const auto open = database();
  ASSERT_TRUE(open->run("CREATE TABLE theirs (x)"));
  const auto refused = migrate(*open, now, file);
  ASSERT_FALSE(refused);
  EXPECT_EQ(refused.error().kind, Error::Kind::bad_input);
  EXPECT_NE(refused.error().message.find("another program"), std::string::npos);
}

// The settings that durability and safety stand on, asked of the connection itself.
TEST_F(Migrations, run_on_a_connection_with_the_settings_we_need) {
  const auto open = database();
  EXPECT_EQ(*open->text("PRAGMA journal_mode"), "wal");
  EXPECT_EQ(*open->number("PRAGMA synchronous"), 2);
  EXPECT_EQ(*open->number("PRAGMA foreign_keys"), 1);
  EXPECT_EQ(*open->number("PRAGMA trusted_schema"), 0);
  EXPECT_EQ(*open->number("PRAGMA cell_size_check"), 1);
  EXPECT_EQ(*open->number("PRAGMA secure_delete"), 1);
  EXPECT_TRUE(open->run("PRAGMA writable_schema=ON"));
  EXPECT_FALSE(open->run("UPDATE sqlite_schema SET sql = ''")) << "DEFENSIVE is off";
}
