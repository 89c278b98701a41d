#include "copunctal/store/data_keeper.h"

#include <gtest/gtest.h>
#include <sys/stat.h>
#include <unistd.h>

#include <array>
#include <atomic>
#include <fstream>
#include <set>
#include <thread>

#include "copunctal/base/files.h"
#include "copunctal/base/random.h"
#include "copunctal/store/database.h"
#include "copunctal/store/identifiers.h"
#include "copunctal/store/migrations.h"
#include "copunctal/store/sample_records.h"
#include "copunctal/store/scratch_directory.h"
#include "copunctal/store/store.h"
#include "copunctal/store/upkeep.h"

using namespace copunctal;
namespace fs = std::filesystem;

namespace {

constexpr std::string_view now = "2030-01-02T03:04:05.678Z";

std::string utc() {
  return std::string(now);
}

DataKeeper alone(const fs::path& directory) {
  auto keeper = DataKeeper::alone(directory, utc);
  if (!keeper) throw std::runtime_error(keeper.error().message);
  return *std::move(keeper);
}
DataKeeper beside(const fs::path& directory) {
  auto keeper = DataKeeper::beside(directory, utc);
  if (!keeper) throw std::runtime_error(keeper.error().message);
  return *std::move(keeper);
}

/// Makes a change and waits until it is saved.
void change(Store& store, const std::function<Result<void>(Changes&)>& work) {
  const auto done = store
                        .change<bool>([&](Changes& changes) -> Result<bool> {
                          COPUNCTAL_TRY_VOID(work(changes));
                          return true;
                        })
                        .get();
  if (!done) throw std::runtime_error(done.error().message);
}

/// Files below the directory that hold any of the words.
std::set<std::string> files_with(const fs::path& directory, const std::set<std::string>& words) {
  std::set<std::string> found;
  for (const auto& entry : fs::recursive_directory_iterator(directory)) {
    if (!entry.is_regular_file()) continue;
    const auto bytes = read_file(entry.path());
    if (!bytes) continue;
    for (const std::string& word : words)
      if (bytes->find(word) != std::string::npos)
        found.insert(entry.path().filename().string() + ": " + word);
  }
  return found;
}

/// A practical with a sitting, every text of which is a canary.
struct Canaries {
  std::string practical, sitting, other_sitting;
  std::set<std::string> of_practical, of_sitting;
};
Canaries with_canaries(Store& store, RandomStream& stream, int answers) {
  const RandomBytes random = [&](std::span<std::byte> bytes) {
    for (std::byte& byte : bytes) byte = static_cast<std::byte>(stream.bits32());
  };
  Canaries all;
  PracticalRecord practical = sample_practical();
  practical.id = all.practical = new_id(random);
  practical.name = "canary " + new_id(random);
  all.of_practical = {practical.id, practical.name};
  change(store, [&](Changes& changes) { return changes.add(practical); });
  for (int s = 0; s < 2; ++s) {
    SittingRecord sitting = sample_sitting();
    sitting.id = new_id(random);
    sitting.practical_id = practical.id;
    sitting.items.clear();
    std::set<std::string> words = {sitting.id};
    for (int item = 0; item < answers; ++item)
      sitting.items.push_back({item, "first", item, new_id(random)});
    for (const ItemRecord& item : sitting.items) words.insert(item.plate_id);
    change(store, [&](Changes& changes) { return changes.add(sitting); });
    for (int item = 0; item < answers; ++item) {
      AnswerRecord answer = sample_answer();
      answer.id = new_id(random);
      answer.sitting_id = sitting.id;
      answer.item = item;
      answer.page_load = new_id(random);
      answer.symbols = {"canary" + new_id(random)};
      words.insert({answer.id, answer.page_load, answer.symbols[0]});
      change(store, [&](Changes& changes) { return changes.add(answer); });
      if (item == 0)
        change(store,
               [&](Changes& changes) { return changes.refuse(answer, AuditReason::conflict); });
    }
    (s == 0 ? all.sitting : all.other_sitting) = sitting.id;
    if (s == 0) all.of_sitting = words;
    all.of_practical.insert(words.begin(), words.end());
  }
  return all;
}

}  // namespace

TEST(DataKeeper, NamesADirectoryThatKeepsNothing) {
  const ScratchDirectory scratch;
  for (const bool is_alone : {false, true}) {
    const auto keeper = is_alone ? DataKeeper::alone(scratch.path() / "none", utc)
                                 : DataKeeper::beside(scratch.path() / "none", utc);
    ASSERT_FALSE(keeper.has_value());
    EXPECT_EQ(keeper.error().kind, Error::Kind::not_found);
    EXPECT_NE(keeper.error().message.find("none"), std::string::npos);
  }
  EXPECT_FALSE(fs::exists(scratch.path() / "none"));
}

// Bytes of files are searched, not rows. Twenty rounds of five deletions, by turns of a sitting and
// of a practical, among others that stay: 100 deletions, no canary left, nothing else gone.
TEST(DataKeeper, OfWhatIsRemovedNoByteIsLeft) {
  const ScratchDirectory scratch;
  RandomStream stream(100);
  int removals = 0;
  std::set<std::string> staying;
  while (removals < 100) {
    std::vector<Canaries> made;
    {
      const auto store = *Store::open(scratch.path(), now);
      for (int i = 0; i < 6; ++i)
        made.push_back(with_canaries(*store, stream, 1 + static_cast<int>(stream.below(12))));
    }
    DataKeeper keeper = alone(scratch.path());
    for (int i = 0; i < 5; ++i, ++removals) {
      const Canaries& one = made[static_cast<std::size_t>(i)];
      const bool of_sitting = stream.below(2) == 0;
      const auto& words = of_sitting ? one.of_sitting : one.of_practical;
      if (removals % 25 == 0) {
        ASSERT_EQ(files_with(scratch.path(), {one.practical, one.sitting}).size(), 2U)
            << "the search finds nothing even before";
      }
      const auto report = of_sitting ? keeper.remove(one.practical, one.sitting)
                                     : keeper.remove(one.practical, std::nullopt);
      ASSERT_TRUE(report.has_value()) << report.error().message;
      EXPECT_EQ(report->removed.at("sittings"), of_sitting ? 1 : 2);
      EXPECT_TRUE(report->backups.empty());
      const auto found = files_with(scratch.path(), words);
      ASSERT_TRUE(found.empty()) << "removal " << removals << ": " << *found.begin();
      if (of_sitting) staying.insert(one.other_sitting);
    }
    staying.insert(made[5].of_practical.begin(), made[5].of_practical.end());
  }
  DataKeeper keeper = alone(scratch.path());
  EXPECT_EQ(break_in(*keeper.log()), std::nullopt);
  EXPECT_EQ(files_with(scratch.path(), staying).size(), staying.size()) << "others went too";
}

TEST(DataKeeper, ARemovalNamesTheBackupsThatStillHoldIt) {
  const ScratchDirectory scratch;
  RandomStream stream(3);
  Canaries one, other;
  {
    const auto store = *Store::open(scratch.path(), now);
    one = with_canaries(*store, stream, 3);
    other = with_canaries(*store, stream, 3);
  }
  DataKeeper keeper = alone(scratch.path());
  const auto first = *keeper.back_up(std::nullopt, false);
  const auto removed = *keeper.remove(one.practical, std::nullopt);
  EXPECT_EQ(removed.backups, std::vector{first});
  const auto second = *keeper.back_up(std::nullopt, false);
  EXPECT_NE(first, second);
  EXPECT_EQ(keeper.remove(other.practical, other.sitting)->backups, (std::vector{second, first}));
  const auto again = keeper.remove(one.practical, std::nullopt);
  ASSERT_FALSE(again.has_value());
  EXPECT_EQ(again.error().kind, Error::Kind::not_found);
  EXPECT_FALSE(keeper.remove(other.practical, one.sitting).has_value());
}

// A process killed while it makes a backup leaves a draft; it goes with the next removal.
TEST(DataKeeper, ARemovalTakesHalfMadeCopiesAlong) {
  const ScratchDirectory scratch;
  RandomStream stream(4);
  Canaries one;
  {
    const auto store = *Store::open(scratch.path(), now);
    one = with_canaries(*store, stream, 3);
  }
  DataKeeper keeper = alone(scratch.path());
  const auto backup = *keeper.back_up(std::nullopt, false);
  fs::rename(backup, backup.string() + ".part");
  fs::copy_file(backup.string() + ".part", scratch.path() / "copunctal.db.restoring");
  ASSERT_TRUE(keeper.remove(one.practical, std::nullopt).has_value());
  EXPECT_TRUE(files_with(scratch.path(), one.of_practical).empty());
}

TEST(DataKeeper, ReadsAndCopiesBesideAServerButChangesNothingThere) {
  const ScratchDirectory scratch;
  RandomStream stream(5);
  const auto store = *Store::open(scratch.path(), now);
  const Canaries one = with_canaries(*store, stream, 2);
  DataKeeper keeper = beside(scratch.path());
  EXPECT_EQ(keeper.practicals()->size(), 1U);
  EXPECT_TRUE(keeper.exported(one.practical, "use").has_value());
  EXPECT_TRUE(keeper.back_up(scratch.path() / "copy.db", false).has_value());
  EXPECT_TRUE(keeper.count(one.practical, std::nullopt).has_value());
  const auto log = *keeper.log();
  EXPECT_EQ(break_in(log), std::nullopt);

  const std::string text = *keeper.exported(one.practical, "use");
  const auto imported = import_practical(scratch.path(), text, "f.json", utc);
  const auto restored = restore_backup(scratch.path(), scratch.path() / "copy.db", utc);
  const auto held = DataKeeper::alone(scratch.path(), utc);
  for (const Error& error : {imported.error(), restored.error(), held.error()}) {
    EXPECT_EQ(error.kind, Error::Kind::io);
    EXPECT_NE(error.message.find(std::to_string(getpid())), std::string::npos) << error.message;
  }
  EXPECT_TRUE(fs::exists(scratch.path() / "copunctal.lock"));
  change(*store, [](Changes& changes) { return changes.add(sample_practical(77)); });
}

// Four writers at full speed; twelve backups meanwhile. Every answer acknowledged before a backup
// began is in it, and each is sound.
TEST(DataKeeper, ABackupHoldsEveryAnswerAcknowledgedBeforeItBegan) {
  const ScratchDirectory scratch;
  const auto store = *Store::open(scratch.path(), now);
  constexpr int writers = 4, most = 3000;
  change(*store, [](Changes& changes) -> Result<void> {
    COPUNCTAL_TRY_VOID(changes.add(sample_practical()));
    for (int writer = 1; writer <= writers; ++writer) {
      SittingRecord sitting = sample_sitting(writer);
      sitting.items.clear();
      for (int item = 0; item < most; ++item)
        sitting.items.push_back({item, "first", item, sample_id(100'000 * writer + item)});
      COPUNCTAL_TRY_VOID(changes.add(sitting));
    }
    return {};
  });
  std::array<std::atomic<int>, writers> acknowledged{};
  std::atomic<bool> is_over = false;
  std::vector<std::thread> threads;
  for (int writer = 0; writer < writers; ++writer)
    threads.emplace_back([&, writer] {
      for (int item = 0; item < most && !is_over; ++item) {
        AnswerRecord answer = sample_answer(100'000 * (writer + 1) + item, item, writer + 1);
        change(*store, [&](Changes& changes) { return changes.add(answer); });
        acknowledged[static_cast<std::size_t>(writer)] = item + 1;
      }
    });
  int written_during = 0, lost = 0;
  for (int round = 0; round < 12; ++round) {
    std::this_thread::sleep_for(std::chrono::milliseconds(20));
    std::array<int, writers> before{};
    for (std::size_t i = 0; i < before.size(); ++i) before[i] = acknowledged[i];
    const fs::path copy = scratch.path() / ("copy" + std::to_string(round) + ".db");
    DataKeeper keeper = beside(scratch.path());
    const auto written = keeper.back_up(copy, false);
    if (!written) {
      is_over = true;
      for (std::thread& thread : threads) thread.join();
      FAIL() << written.error().message;
    }
    for (std::size_t i = 0; i < before.size(); ++i) written_during += acknowledged[i] - before[i];
    const auto database = *Database::open(copy);
    EXPECT_TRUE(check_wholly(*database, "copy"));
    for (std::size_t i = 0; i < before.size(); ++i) {
      const auto there = *database->number("SELECT count(*) FROM answers WHERE sitting_id = '" +
                                           sample_id(static_cast<int>(i) + 1) + "' AND item < " +
                                           std::to_string(before[i]));
      lost += before[i] - static_cast<int>(there);
    }
  }
  is_over = true;
  for (std::thread& thread : threads) thread.join();
  EXPECT_EQ(lost, 0);
  EXPECT_GT(written_during, 0) << "nobody wrote while the backups were made";
  std::printf("12 backups, %d answers written meanwhile, %d lost\n", written_during, lost);
}

TEST(DataKeeper, ABackupIsOneFileForItsOwnerAndReplacesNothing) {
  const ScratchDirectory scratch;
  { const auto store = *Store::open(scratch.path(), now); }
  DataKeeper keeper = alone(scratch.path());
  const auto name = *keeper.back_up(std::nullopt, false);
  EXPECT_EQ(name.parent_path(), backups_in(scratch.path()));
  struct stat status {};
  ASSERT_EQ(stat(name.c_str(), &status), 0);
  EXPECT_EQ(status.st_mode & 0777U, 0600U);
  ASSERT_EQ(stat(name.parent_path().c_str(), &status), 0);
  EXPECT_EQ(status.st_mode & 0777U, 0700U);
  std::set<std::string> files;
  for (const auto& entry : fs::directory_iterator(name.parent_path()))
    files.insert(entry.path().filename());
  EXPECT_EQ(files.size(), 1U);
  const auto again = keeper.back_up(name, false);
  ASSERT_FALSE(again.has_value());
  EXPECT_EQ(again.error().kind, Error::Kind::bad_input);
  EXPECT_TRUE(keeper.back_up(name, true).has_value());
  const auto itself = keeper.back_up(database_in(scratch.path()), true);
  ASSERT_FALSE(itself.has_value());
  const auto nowhere = keeper.back_up(scratch.path() / "no" / "where.db", false);
  ASSERT_FALSE(nowhere.has_value());
  EXPECT_EQ(nowhere.error().kind, Error::Kind::io);
}

TEST(DataKeeper, ARestoredBackupIsWhatItWasAndTheRestIsKept) {
  const ScratchDirectory scratch;
  RandomStream stream(6);
  Canaries first, second;
  {
    const auto store = *Store::open(scratch.path(), now);
    first = with_canaries(*store, stream, 3);
  }
  fs::path backup;
  std::string archive;
  {
    DataKeeper keeper = alone(scratch.path());
    archive = *keeper.exported(first.practical, "use");
    backup = *keeper.back_up(std::nullopt, false);
  }
  const std::string bytes = *read_file(backup);
  {
    const auto store = *Store::open(scratch.path(), now);
    second = with_canaries(*store, stream, 3);
  }
  { ASSERT_TRUE(alone(scratch.path()).remove(first.practical, std::nullopt).has_value()); }
  const auto report = restore_backup(scratch.path(), backup, utc);
  ASSERT_TRUE(report.has_value()) << report.error().message;
  EXPECT_EQ(*read_file(backup), bytes) << "the backup itself was changed";
  EXPECT_TRUE(report->damaged.empty());
  {
    DataKeeper keeper = alone(scratch.path());
    EXPECT_EQ(*keeper.exported(first.practical, "use"), archive);
    EXPECT_FALSE(keeper.exported(second.practical, "use").has_value());
    const auto log = *keeper.log();
    EXPECT_EQ(break_in(log), std::nullopt);
    bool is_noted = false;
    for (const LogEntry& entry : log.entries) is_noted = is_noted || entry.event == "restore";
    EXPECT_TRUE(is_noted);
  }
  // What was there before can be had again the same way.
  ASSERT_TRUE(restore_backup(scratch.path(), report->before, utc).has_value());
  EXPECT_TRUE(alone(scratch.path()).exported(second.practical, "use").has_value());
}

TEST(DataKeeper, ABackupTakesThePlaceOfADamagedDatabase) {
  const ScratchDirectory scratch;
  RandomStream stream(7);
  Canaries one;
  {
    const auto store = *Store::open(scratch.path(), now);
    one = with_canaries(*store, stream, 3);
  }
  const auto backup = *alone(scratch.path()).back_up(std::nullopt, false);
  for (const bool is_a_database : {true, false}) {
    {
      std::fstream file(database_in(scratch.path()),
                        std::ios::in | std::ios::out | std::ios::binary);
      file.seekp(is_a_database ? 4096 : 0);
      file << std::string(4096, 'x');
    }
    ASSERT_FALSE(DataKeeper::alone(scratch.path(), utc).has_value());
    const auto report = restore_backup(scratch.path(), backup, utc);
    ASSERT_TRUE(report.has_value()) << report.error().message;
    EXPECT_TRUE(fs::exists(report->damaged));
    EXPECT_TRUE(alone(scratch.path()).exported(one.practical, "use").has_value());
    fs::remove(report->damaged);
  }
}

TEST(DataKeeper, WhatIsNoSoundBackupIsRefusedAndChangesNothing) {
  const ScratchDirectory scratch, aside;
  RandomStream stream(8);
  Canaries one;
  {
    const auto store = *Store::open(scratch.path(), now);
    one = with_canaries(*store, stream, 30);
  }
  const fs::path good = aside.path() / "good.db";
  ASSERT_TRUE(alone(scratch.path()).back_up(good, false).has_value());
  const std::string bytes = *read_file(good);
  const auto refuses = [&](const std::string& name, const std::string& content, Error::Kind kind,
                           const std::string& words) {
    const fs::path file = aside.path() / name;
    if (!content.empty()) {
      ASSERT_TRUE(write_file(content, file));
    }
    const auto report = restore_backup(scratch.path(), file, utc);
    ASSERT_FALSE(report.has_value()) << name;
    EXPECT_EQ(report.error().kind, kind) << report.error().message;
    EXPECT_NE(report.error().message.find(words), std::string::npos) << report.error().message;
    EXPECT_NE(report.error().message.find(name), std::string::npos) << report.error().message;
    EXPECT_FALSE(fs::exists(scratch.path() / "copunctal.db.restoring"));
    EXPECT_FALSE(fs::exists(backups_in(scratch.path())));
    EXPECT_TRUE(alone(scratch.path()).exported(one.practical, "use").has_value());
  };
  refuses("missing.db", "", Error::Kind::bad_input, "no such file");
  refuses("words.db", "words, no pages", Error::Kind::bad_input, "no backup");
  refuses("cut.db", bytes.substr(0, bytes.size() / 2), Error::Kind::io, "damaged");
  // Ten places of pages overwritten, past the file's own head: found by the check of every page.
  std::string torn = bytes;
  for (std::size_t page = 2; page < bytes.size() / 4096; ++page)
    torn.replace(page * 4096, 64, std::string(64, '\x7f'));
  refuses("torn.db", torn, Error::Kind::io, "damaged");
  {
    const auto database = *Database::open(good);
    ASSERT_TRUE(database->run("PRAGMA user_version=99; PRAGMA journal_mode=DELETE"));
  }
  refuses("good.db", "", Error::Kind::io, "newer");
  {
    const auto database = *Database::open(aside.path() / "theirs.db");
    ASSERT_TRUE(database->run("CREATE TABLE theirs (x); PRAGMA journal_mode=DELETE"));
  }
  refuses("theirs.db", "", Error::Kind::bad_input, "another program");
}

TEST(DataKeeper, ABackupOfAnOlderSchemaIsBroughtUpToDate) {
  const ScratchDirectory scratch;
  const fs::path old = fs::path(COPUNCTAL_SOURCE_DIR) / "test/released_schemas/schema_1.db";
  const auto report = restore_backup(scratch.path() / "new", old, utc);
  ASSERT_TRUE(report.has_value()) << report.error().message;
  EXPECT_EQ(alone(scratch.path() / "new").practicals()->size(), 2U);
}

// No event's row holds an id, a name or an answer.
TEST(DataKeeper, TheLogHoldsEveryEventAndNothingOfPeople) {
  const ScratchDirectory scratch;
  RandomStream stream(9);
  Canaries one;
  {
    const auto store = *Store::open(scratch.path(), now);
    change(*store, [](Changes& c) { return c.note(LogEvent::start, now); });
    one = with_canaries(*store, stream, 3);
    change(*store, [](Changes& c) { return c.note(LogEvent::stop, now); });
  }
  const fs::path copy = scratch.path() / "copy.db";
  std::string archive;
  {
    DataKeeper keeper = alone(scratch.path());
    archive = *keeper.exported(one.practical, "use");
    ASSERT_TRUE(keeper.back_up(copy, false).has_value());
    ASSERT_TRUE(keeper.remove(one.practical, std::nullopt).has_value());
  }
  ASSERT_TRUE(import_practical(scratch.path(), archive, "f.json", utc).has_value());
  std::set<std::string> events;
  std::string words;
  {
    const auto log = *alone(scratch.path()).log();
    EXPECT_EQ(break_in(log), std::nullopt);
    for (const LogEntry& entry : log.entries) {
      events.insert(entry.event);
      words += entry.subject + " " + entry.details + "\n";
    }
  }
  // Nothing is added the second time, so nothing is noted.
  const auto rows = alone(scratch.path()).log()->entries.size();
  ASSERT_TRUE(import_practical(scratch.path(), archive, "f.json", utc).has_value());
  EXPECT_EQ(alone(scratch.path()).log()->entries.size(), rows);
  ASSERT_TRUE(restore_backup(scratch.path(), copy, utc).has_value());
  const auto after = *alone(scratch.path()).log();
  for (const LogEntry& entry : after.entries) events.insert(entry.event);
  EXPECT_EQ(events, (std::set<std::string>{"start", "stop", "export", "delete", "import", "backup",
                                           "restore", "migration", "conflict"}));
  for (const std::string& word : one.of_practical)
    EXPECT_EQ(words.find(word), std::string::npos) << word;
}
