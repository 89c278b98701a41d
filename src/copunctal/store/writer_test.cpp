#include "copunctal/store/writer.h"

#include <gtest/gtest.h>
#include <sys/resource.h>

#include <array>
#include <atomic>
#include <csignal>
#include <future>
#include <set>

#include "copunctal/base/expects.h"
#include "copunctal/store/database.h"
#include "copunctal/store/migrations.h"
#include "copunctal/store/records.h"
#include "copunctal/store/sample_records.h"
#include "copunctal/store/scratch_directory.h"
#include "copunctal/store/store.h"
#include "copunctal/store/two_databases.h"

using namespace copunctal;
namespace fs = std::filesystem;

namespace {

constexpr std::string_view now = "2030-01-02T03:04:05.678Z";

std::unique_ptr<Database> migrated(const fs::path& file) {
  auto database = Database::open(file);
  if (!database || !migrate(**database, now, file.string()))
    throw std::runtime_error("no database");
  return *std::move(database);
}

std::future<Result<void>> submit(Writer& writer, std::function<Result<void>(Changes&)> change) {
  auto promise = std::make_shared<std::promise<Result<void>>>();
  auto future = promise->get_future();
  writer.submit({std::move(change), [promise](Result<void> result, std::exception_ptr thrown) {
                   if (thrown != nullptr)
                     promise->set_exception(thrown);
                   else
                     promise->set_value(std::move(result));
                 }});
  return future;
}

/// On SQLite and on PostgreSQL.
struct WriterOnBoth : OnBothDatabases {
  StorePlace place{GetParam()};
};
INSTANTIATE_TEST_SUITE_P(, WriterOnBoth, both_databases, name_of_database);

/// Keeps the writer inside one command until released, so that others queue up behind it.
class Gate {
 public:
  std::function<Result<void>(Changes&)> command() {
    return [this](Changes&) -> Result<void> {
      entered_.set_value();
      open_.get_future().wait();
      return {};
    };
  }
  void wait_until_entered() { entered_.get_future().wait(); }
  void open() { open_.set_value(); }

 private:
  std::promise<void> entered_, open_;
};

}  // namespace

TEST_P(WriterOnBoth, commits_a_queue_as_one_group_in_which_a_failure_hurts_no_other) {
  std::vector<std::future<Result<void>>> futures;
  {
    Writer writer(place.migrated());
    Gate gate;
    auto held = submit(writer, gate.command());
    gate.wait_until_entered();
    for (int i = 1; i <= 20; ++i)
      futures.push_back(submit(writer, [i](Changes& changes) -> Result<void> {
        if (auto added = changes.add(sample_practical(i)); !added) return added;
        if (i % 5 == 0) return fail(Error::Kind::conflict, "five");
        expects(i % 7 != 0);
        return {};
      }));
    gate.open();
    EXPECT_TRUE(held.get());
    for (int i = 1; i <= 20; ++i) {
      auto& future = futures[static_cast<std::size_t>(i - 1)];
      if (i % 5 == 0)
        EXPECT_EQ(future.get().error().message, "five");
      else if (i % 7 == 0)
        EXPECT_THROW(future.get(), ContractViolation);
      else
        EXPECT_TRUE(future.get());
    }
  }
  // Of 1..20, four are fives and two are sevens.
  const auto database = place.migrated();
  EXPECT_EQ(*database->number("SELECT count(*) FROM practicals"), 14);
  EXPECT_EQ(*database->number("SELECT count(*) FROM practicals WHERE practical_id LIKE '%5'"), 0);
}

// What the whole product rests on. Another connection sees only what is committed, so it is asked
// at the very moment somebody is told.
TEST_P(WriterOnBoth, tells_nobody_before_the_commit) {
  Writer writer(place.migrated());
  const auto onlooker = place.migrated();
  ASSERT_TRUE(onlooker);
  for (int i = 1; i <= 50; ++i) {
    std::promise<std::int64_t> seen;
    writer.submit({[i](Changes& changes) { return changes.add(sample_practical(i)); },
                   [&](Result<void> result, std::exception_ptr) {
                     EXPECT_TRUE(result);
                     seen.set_value(*onlooker->number("SELECT count(*) FROM practicals"));
                   }});
    ASSERT_EQ(seen.get_future().get(), i);
  }
}

TEST(Writer, on_a_full_disk_fails_the_change_and_goes_on_when_there_is_room) {
  const ScratchDirectory scratch;
  const auto file = scratch.path() / "copunctal.db";
  auto database = migrated(file);
  const auto pages = *database->number("PRAGMA page_count");
  ASSERT_TRUE(database->number("PRAGMA max_page_count=" + std::to_string(pages)));
  Database& limited = *database;
  Writer writer(std::move(database));

  int added = 0;
  Result<void> result;
  while (added < 500 && result) {
    result = submit(writer, [&](Changes& changes) {
               return changes.add(sample_practical(added));
             }).get();
    if (result) ++added;
  }
  ASSERT_FALSE(result) << "the limit must bite";
  EXPECT_EQ(result.error().kind, Error::Kind::io);
  EXPECT_NE(result.error().message.find("full"), std::string::npos);
  EXPECT_FALSE(result.error().remedy.empty());

  const auto more_room = [&](Changes&) -> Result<void> {
    if (auto set = limited.number("PRAGMA max_page_count=100000"); !set)
      return tl::unexpected(set.error());
    return {};
  };
  ASSERT_TRUE(submit(writer, more_room).get());
  EXPECT_TRUE(submit(writer, [&](Changes& c) { return c.add(sample_practical(added)); }).get());
  ASSERT_TRUE(submit(writer, [&](Changes& changes) -> Result<void> {
                EXPECT_EQ(changes.practicals()->size(), static_cast<std::size_t>(added + 1));
                return {};
              }).get());
}

// In the middle of a group: whoever is told "done" is done, and whoever is told otherwise is not.
TEST(Writer, on_a_disk_that_fills_within_a_group_tells_each_the_truth) {
  const ScratchDirectory scratch;
  const auto file = scratch.path() / "copunctal.db";
  constexpr int changes_in_group = 200;
  std::vector<std::future<Result<void>>> futures;
  {
    auto database = migrated(file);
    const auto pages = *database->number("PRAGMA page_count");
    ASSERT_TRUE(database->number("PRAGMA max_page_count=" + std::to_string(pages + 2)));
    Writer writer(std::move(database));
    Gate gate;
    auto held = submit(writer, gate.command());
    gate.wait_until_entered();
    for (int i = 1; i <= changes_in_group; ++i)
      futures.push_back(
          submit(writer, [i](Changes& changes) { return changes.add(sample_practical(i)); }));
    gate.open();
    EXPECT_TRUE(held.get());
  }
  const auto database = Database::open(file);
  int refused = 0;
  for (int i = 1; i <= changes_in_group; ++i) {
    const bool is_told = futures[static_cast<std::size_t>(i - 1)].get().has_value();
    const auto stored = Records(**database).practical(sample_id(i));
    EXPECT_EQ(stored->has_value(), is_told) << i;
    refused += is_told ? 0 : 1;
  }
  EXPECT_GT(refused, 0) << "the limit must bite";
}

// The kernel refuses the write itself: files of this process may not grow any more.
TEST(Writer, on_a_failed_write_loses_nothing_it_confirmed) {
  const ScratchDirectory scratch;
  auto store = *Store::open(scratch.path(), now);
  const auto add = [&](int number) {
    return store
        ->change<bool>([number](Changes& changes) -> Result<bool> {
          if (auto added = changes.add(sample_practical(number)); !added)
            return tl::unexpected(std::move(added).error());
          return true;
        })
        .get();
  };
  ASSERT_TRUE(add(1));

  std::signal(SIGXFSZ, SIG_IGN);
  rlimit before{};
  ASSERT_EQ(getrlimit(RLIMIT_FSIZE, &before), 0);
  const rlimit tight{fs::file_size(scratch.path() / "copunctal.db-wal"), before.rlim_max};
  ASSERT_EQ(setrlimit(RLIMIT_FSIZE, &tight), 0);
  const auto refused = add(2);
  ASSERT_EQ(setrlimit(RLIMIT_FSIZE, &before), 0);
  ASSERT_FALSE(refused);
  EXPECT_EQ(refused.error().kind, Error::Kind::io);

  EXPECT_TRUE(add(2)) << "a retry must succeed once the disk takes writes again";
  store.reset();
  store = *Store::open(scratch.path(), now);
  EXPECT_EQ(store
                ->read<std::vector<PracticalRecord>>(
                    [](const Records& records) { return records.practicals(); })
                ->size(),
            2U);
}

TEST_P(WriterOnBoth, that_is_held_off_by_another_program_answers_and_goes_on) {
  Writer writer(place.migrated());
  const auto other = place.migrated();
  ASSERT_TRUE(other->begin_writing());
  const auto refused = submit(writer, [](Changes& c) { return c.add(sample_practical()); }).get();
  ASSERT_FALSE(refused);
  EXPECT_EQ(refused.error().kind, Error::Kind::io);
  ASSERT_TRUE(other->run("ROLLBACK"));
  EXPECT_TRUE(submit(writer, [](Changes& c) { return c.add(sample_practical()); }).get());
}

TEST_P(WriterOnBoth, commits_what_is_queued_before_it_ends) {
  std::atomic<int> told = 0;
  {
    Writer writer(place.migrated());
    for (int i = 1; i <= 300; ++i)
      writer.submit({[i](Changes& changes) { return changes.add(sample_practical(i)); },
                     [&](Result<void> result, std::exception_ptr) { told += result ? 1 : 0; }});
  }
  EXPECT_EQ(told, 300);
  const auto database = place.migrated();
  EXPECT_EQ(*database->number("SELECT count(*) FROM practicals"), 300);
}

// What failed within a change and was not passed on must not take the others with it, nor be told
// as done.
TEST_P(WriterOnBoth, that_is_not_told_of_a_failure_keeps_the_group_whole) {
  std::vector<std::future<Result<void>>> futures;
  {
    Writer writer(place.migrated());
    Gate gate;
    auto held = submit(writer, gate.command());
    gate.wait_until_entered();
    for (int i = 1; i <= 6; ++i)
      futures.push_back(submit(writer, [i](Changes& changes) -> Result<void> {
        if (auto added = changes.add(sample_practical(i)); !added) return added;
        if (i == 3) (void)changes.add(sample_practical(i));
        return {};
      }));
    gate.open();
    EXPECT_TRUE(held.get());
  }
  const auto database = place.database();
  for (int i = 1; i <= 6; ++i) {
    const bool is_told = futures[static_cast<std::size_t>(i - 1)].get().has_value();
    const bool is_there = Records(*database).practical(sample_id(i))->has_value();
    EXPECT_EQ(is_told, is_there) << i;
    EXPECT_TRUE(i == 3 || is_told) << i;
  }
}

// ---- a database that is far --------------------------------------------------------------------

namespace {

/// As many sittings of one practical, each with two items.
void add_sittings(Database& database, int count) {
  Changes changes(database);
  if (!changes.add(sample_practical())) throw std::runtime_error("no practical");
  for (int i = 1; i <= count; ++i) {
    SittingRecord sitting = sample_sitting(i);
    sitting.pseudonym = "somebody " + std::to_string(i);
    if (!changes.add(sitting)) throw std::runtime_error("no sitting");
  }
}

/// Reads what an answer is judged by, and adds it; `sees`: how many answers the sitting had.
std::function<Result<void>(Changes&)> answering(int sitting, int item, int& sees) {
  return [sitting, item, &sees](Changes& changes) -> Result<void> {
    const AnswerRecord answer = sample_answer(10 * sitting + item, item, sitting);
    COPUNCTAL_TRY(const auto its_sitting, changes.sitting(answer.sitting_id));
    if (!its_sitting) return fail(Error::Kind::not_found, "no sitting");
    COPUNCTAL_TRY(const auto practical, changes.practical(its_sitting->practical_id));
    expects(practical.has_value() && its_sitting->items.size() == 2);
    COPUNCTAL_TRY(const auto answers, changes.answers_of(answer.sitting_id));
    sees = static_cast<int>(answers.size());
    COPUNCTAL_TRY(const auto known, changes.answer(answer.id));
    if (known) return {};
    return changes.add(answer);
  };
}

std::future<Result<void>> submit_answer(Writer& writer, int sitting, int item, int& sees) {
  auto promise = std::make_shared<std::promise<Result<void>>>();
  auto future = promise->get_future();
  writer.submit({answering(sitting, item, sees),
                 [promise](Result<void> result, std::exception_ptr) {
                   promise->set_value(std::move(result));
                 },
                 {.sitting = sample_id(sitting), .answer = sample_id(10 * sitting + item)}});
  return future;
}

struct FarWriter : testing::Test {
  StorePlace place{DatabaseKind::postgres};
  std::array<int, 301> seen{};

  void SetUp() override {
    if (const auto why = PostgresServer::missing()) GTEST_SKIP() << *why;
  }
};

}  // namespace

// One way there and back for all that is read, with BEGIN and the lock; one for what is written,
// with the COMMIT.
TEST_F(FarWriter, takes_two_round_trips_for_an_answer_and_for_two_hundred) {
  constexpr int sittings = 201;
  auto database = place.migrated();
  add_sittings(*database, sittings);
  const auto onlooker = place.migrated();
  Writer writer(std::move(database));
  const auto trips_of_a_group = [&](int from, int to, int item) {
    Gate gate;
    auto held = submit(writer, gate.command());
    gate.wait_until_entered();
    std::vector<std::future<Result<void>>> told;
    for (int i = from; i <= to; ++i)
      told.push_back(submit_answer(writer, i, item, seen[static_cast<std::size_t>(i)]));
    const std::int64_t before = writer.round_trips();  // the gate's own COMMIT is still to come
    gate.open();
    EXPECT_TRUE(held.get());
    for (auto& one : told) EXPECT_TRUE(one.get());
    return writer.round_trips() - before - 1;
  };
  // Each statement is prepared at its first use, for a few numbers of rows.
  EXPECT_GT(trips_of_a_group(1, 1, 0), 2);
  EXPECT_EQ(trips_of_a_group(1, 1, 1), 2);
  EXPECT_GT(trips_of_a_group(2, sittings, 0), 2);
  EXPECT_EQ(trips_of_a_group(2, sittings, 1), 2);
  EXPECT_EQ(*onlooker->number("SELECT count(*) FROM answers"), 2 * sittings);
  for (int i = 1; i <= sittings; ++i) EXPECT_EQ(seen[static_cast<std::size_t>(i)], 1);
}

// What is refused before anything was written does not keep the others apart.
TEST_F(FarWriter, takes_two_round_trips_beside_one_that_is_refused) {
  auto database = place.migrated();
  add_sittings(*database, 4);
  Writer writer(std::move(database));
  std::int64_t trips = 0;
  for (int item = 0; item < 2; ++item) {
    Gate gate;
    auto held = submit(writer, gate.command());
    gate.wait_until_entered();
    auto first = submit_answer(writer, 1, item, seen[1]);
    auto refused = submit_answer(writer, 99, item, seen[99]);
    auto last = submit_answer(writer, 2, item, seen[2]);
    trips = writer.round_trips();
    gate.open();
    EXPECT_TRUE(held.get());
    EXPECT_TRUE(first.get());
    EXPECT_EQ(refused.get().error().message, "no sitting");
    EXPECT_TRUE(last.get());
    trips = writer.round_trips() - trips - 1;
  }
  EXPECT_EQ(trips, 2);
}

// What a change of the group has done is seen by the next, though both were read beforehand.
TEST_P(WriterOnBoth, shows_a_change_what_those_before_it_in_its_group_did) {
  auto database = place.migrated();
  add_sittings(*database, 2);
  int first = -1, second = -1, again = -1;
  std::int64_t sittings = 0;
  std::optional<std::string> state;
  {
    Writer writer(std::move(database));
    Gate gate;
    auto held = submit(writer, gate.command());
    gate.wait_until_entered();
    const ToRead all{.sitting = sample_id(1), .answer = {}, .practical = sample_id(1)};
    const auto with_foresight = [&](std::function<Result<void>(Changes&)> change) {
      writer.submit({std::move(change),
                     [](Result<void> result, std::exception_ptr) { EXPECT_TRUE(result); }, all});
    };
    auto one = submit_answer(writer, 1, 0, first);
    auto two = submit_answer(writer, 1, 1, second);
    auto same = submit_answer(writer, 1, 1, again);
    with_foresight([](Changes& changes) {
      return changes.end_sitting(sample_id(1), "2030-01-02T04:00:00.000Z");
    });
    with_foresight([](Changes& changes) {
      SittingRecord sitting = sample_sitting(3);
      sitting.pseudonym = "somebody 3";
      return changes.add(sitting);
    });
    with_foresight([&](Changes& changes) -> Result<void> {
      COPUNCTAL_TRY(const auto sitting, changes.sitting(sample_id(1)));
      COPUNCTAL_TRY(const auto practical, changes.practical(sample_id(1)));
      state = sitting->state;
      sittings = practical->sittings;
      return {};
    });
    gate.open();
    EXPECT_TRUE(held.get() && one.get() && two.get() && same.get());
  }
  EXPECT_EQ(first, 0);
  EXPECT_EQ(second, 1);
  EXPECT_EQ(again, 2);
  EXPECT_EQ(state, "ended");
  EXPECT_EQ(sittings, 3);
  EXPECT_EQ(*place.database()->number("SELECT count(*) FROM answers"), 2);
}

// A rule of the database that is broken together with good changes, found only by the COMMIT.
TEST_F(FarWriter, finds_out_who_broke_a_rule) {
  auto database = place.migrated();
  add_sittings(*database, 3);
  Writer writer(std::move(database));
  Gate gate;
  auto held = submit(writer, gate.command());
  gate.wait_until_entered();
  auto good = submit_answer(writer, 1, 0, seen[1]);
  auto wrong = submit(writer, [](Changes& changes) {
    return changes.add(sample_answer(77, /*item=*/7, /*sitting=*/2));  // there is no such item
  });
  auto last = submit_answer(writer, 3, 0, seen[3]);
  gate.open();
  EXPECT_TRUE(held.get());
  EXPECT_TRUE(good.get());
  EXPECT_FALSE(wrong.get());
  EXPECT_TRUE(last.get());
  EXPECT_EQ(*place.database()->number("SELECT count(*) FROM answers"), 2);
}
