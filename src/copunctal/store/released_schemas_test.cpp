// Files of every schema that was released, as the program of that time left them.
#include <gtest/gtest.h>
#include <signal.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <chrono>
#include <cstdlib>
#include <filesystem>
#include <map>
#include <set>

#include "copunctal/base/random.h"
#include "copunctal/store/data_keeper.h"
#include "copunctal/store/database.h"
#include "copunctal/store/migrations.h"
#include "copunctal/store/scratch_directory.h"
#include "copunctal/store/store.h"
#include "copunctal/store/upkeep.h"

using namespace copunctal;
namespace fs = std::filesystem;

namespace {

constexpr std::string_view now = "2030-01-02T03:04:05.678Z";
constexpr std::array released = {1, 2, 4, 5};  // 3 went out with 4

fs::path released_file(int schema) {
  return fs::path(COPUNCTAL_SOURCE_DIR) / "test" / "released_schemas" /
         ("schema_" + std::to_string(schema) + ".db");
}

std::unique_ptr<Database> opened(const fs::path& file) {
  auto database = Database::open(file);
  if (!database) throw std::runtime_error(database.error().message);
  return *std::move(database);
}

std::vector<std::string> column(Database& database, const std::string& sql) {
  std::vector<std::string> texts;
  auto rows = database.prepare(sql);
  if (!rows) throw std::runtime_error(rows.error().message);
  while (*rows->step()) texts.push_back(rows->text(0));
  return texts;
}

/// Tables of practicals and displays with their columns: what a migration must carry.
std::map<std::string, std::vector<std::string>> tables_of(Database& database) {
  std::map<std::string, std::vector<std::string>> tables;
  for (const std::string& table :
       column(database,
              "SELECT name FROM sqlite_schema WHERE type = 'table'"
              " AND name NOT IN ('migrations', 'audit_log', 'audit_head')"))
    tables[table] = column(database, "SELECT name FROM pragma_table_info('" + table + "')");
  return tables;
}

/// Every row of those tables and columns, each as one text.
std::map<std::string, std::multiset<std::string>> rows_of(
    Database& database, const std::map<std::string, std::vector<std::string>>& tables) {
  std::map<std::string, std::multiset<std::string>> rows;
  for (const auto& [table, columns] : tables) {
    std::string values;
    for (const std::string& name : columns)
      values += (values.empty() ? "" : " || '|' || ") + ("quote(" + name + ")");
    const auto texts = column(database, "SELECT " + values + " FROM " + table);
    rows[table] = {texts.begin(), texts.end()};
  }
  return rows;
}

void place(int schema, const fs::path& directory) {
  fs::copy_file(released_file(schema), database_in(directory),
                fs::copy_options::overwrite_existing);
  fs::permissions(database_in(directory), fs::perms::owner_read | fs::perms::owner_write);
}

}  // namespace

TEST(ReleasedSchemas, AreThoseThatWereReleased) {
  for (const int schema : released) {
    ASSERT_GE(static_cast<int>(all_migrations().size()), schema);
    const ScratchDirectory scratch;
    place(schema, scratch.path());
    const auto database = opened(database_in(scratch.path()));
    EXPECT_EQ(*database->number("PRAGMA user_version"), schema);
    EXPECT_GE(*database->number("SELECT count(*) FROM answers"), 10);
    EXPECT_GE(*database->number("SELECT count(*) FROM refused_answers"), 2);
  }
}

TEST(ReleasedSchemas, MigrateToTheNewestWithEveryRowAsItWas) {
  for (const int schema : released) {
    const ScratchDirectory scratch;
    place(schema, scratch.path());
    std::map<std::string, std::vector<std::string>> tables;
    std::map<std::string, std::multiset<std::string>> before;
    {
      const auto database = opened(database_in(scratch.path()));
      tables = tables_of(*database);
      before = rows_of(*database, tables);
    }
    ASSERT_GE(tables.size(), 5U);
    {
      const auto store = Store::open(scratch.path(), now);
      ASSERT_TRUE(store.has_value()) << store.error().message;
    }
    const auto database = opened(database_in(scratch.path()));
    EXPECT_EQ(*database->number("PRAGMA user_version"),
              static_cast<std::int64_t>(all_migrations().size()));
    EXPECT_EQ(rows_of(*database, tables), before) << "schema " << schema;
    EXPECT_TRUE(check_wholly(*database, "migrated"));
    if (schema == static_cast<int>(all_migrations().size())) continue;  // the newest stays as it is
    EXPECT_EQ(
        *database->text("SELECT details FROM audit_log WHERE event = 'migration'"
                        " ORDER BY number DESC"),
        "schema " + std::to_string(schema) + " to " + std::to_string(all_migrations().size()));
  }
}

TEST(ReleasedSchemas, AreBackedUpBeforeTheyMigrate) {
  const ScratchDirectory scratch;
  place(1, scratch.path());
  { ASSERT_TRUE(Store::open(scratch.path(), now).has_value()); }
  std::vector<fs::path> backups;
  for (const auto& entry : fs::directory_iterator(backups_in(scratch.path())))
    backups.push_back(entry.path());
  ASSERT_EQ(backups.size(), 1U);
  EXPECT_TRUE(backups[0].filename().string().starts_with("automatic-2030-01-02"));
  const auto backup = opened(backups[0]);
  EXPECT_EQ(*backup->number("PRAGMA user_version"), 1);
}

TEST(ReleasedSchemas, OfAutomaticBackupsTheNewestTenAreKept) {
  const ScratchDirectory scratch;
  place(2, scratch.path());
  const auto database = opened(database_in(scratch.path()));
  for (int day = 10; day < 23; ++day)
    ASSERT_TRUE(write_automatic_backup(*database, scratch.path(),
                                       "2030-01-" + std::to_string(day) + "T00:00:00.000Z"));
  std::set<std::string> names;
  for (const auto& entry : fs::directory_iterator(backups_in(scratch.path())))
    names.insert(entry.path().filename());
  EXPECT_EQ(names.size(), automatic_backups);
  EXPECT_EQ(*names.begin(), "automatic-2030-01-13T00-00-00.000Z.db");
}

// Killed at a random moment of opening, forty times (two hundred with COPUNCTAL_FULL=1): the file
// is of the old schema or the newest, whole either way, and the next opening carries it on. The
// moments span what an opening takes on this machine now.
TEST(ReleasedSchemas, AKillDuringMigrationLeavesTheOldOrTheNew) {
  RandomStream stream(815);
  std::map<std::int64_t, int> left;
  int killed = 0;
  std::vector<double> openings_us;
  for (int measured = 0; measured < 5; ++measured) {
    const ScratchDirectory scratch;
    place(1, scratch.path());
    const auto begun = std::chrono::steady_clock::now();
    ASSERT_TRUE(Store::open(scratch.path(), now).has_value());
    const std::chrono::duration<double, std::micro> took = std::chrono::steady_clock::now() - begun;
    openings_us.push_back(took.count());
  }
  std::sort(openings_us.begin(), openings_us.end());
  const double takes_us = openings_us[2];
  const int trials = std::getenv("COPUNCTAL_FULL") != nullptr ? 200 : 40;
  for (int trial = 0; trial < trials; ++trial) {
    const int schema = released[static_cast<std::size_t>(trial) % released.size()];
    const ScratchDirectory scratch;
    place(schema, scratch.path());
    std::map<std::string, std::vector<std::string>> tables;
    std::map<std::string, std::multiset<std::string>> before;
    {
      const ScratchDirectory aside;
      place(schema, aside.path());
      const auto database = opened(database_in(aside.path()));
      tables = tables_of(*database);
      before = rows_of(*database, tables);
    }
    const pid_t child = fork();
    ASSERT_GE(child, 0);
    if (child == 0) {
      const auto store = Store::open(scratch.path(), now);
      _exit(store.has_value() ? 0 : 1);
    }
    usleep(static_cast<useconds_t>(stream.uniform(0, 1.3 * takes_us)));
    kill(child, SIGKILL);
    int status = 0;
    ASSERT_EQ(waitpid(child, &status, 0), child);
    killed += WIFSIGNALED(status);
    {
      const auto database = opened(database_in(scratch.path()));
      const auto version = *database->number("PRAGMA user_version");
      ++left[version];
      ASSERT_TRUE(version == schema ||
                  version == static_cast<std::int64_t>(all_migrations().size()))
          << version;
      ASSERT_TRUE(check_wholly(*database, "killed"));
      ASSERT_EQ(rows_of(*database, tables), before);
    }
    const auto store = Store::open(scratch.path(), now);
    ASSERT_TRUE(store.has_value()) << store.error().message;
  }
  EXPECT_GE(killed, trials / 8);
  EXPECT_GT(left[1] + left[2], 0) << "no kill fell before the end of a migration";
  EXPECT_GT(left[static_cast<std::int64_t>(all_migrations().size())], 0)
      << "no kill fell after one";
  std::printf("killed %d of %d within %.0f ms;", killed, trials, 1.3 * takes_us / 1000);
  for (const auto& [version, count] : left)
    std::printf(" left at schema %d: %d;", static_cast<int>(version), count);
  std::printf("\n");
}
