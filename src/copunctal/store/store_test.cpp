#include "copunctal/store/store.h"

#include <gtest/gtest.h>
#include <sys/stat.h>

#include <fstream>
#include <sstream>

#include "copunctal/base/expects.h"
#include "copunctal/store/sample_records.h"
#include "copunctal/store/scratch_directory.h"
#include "copunctal/store/two_databases.h"

using namespace copunctal;
namespace fs = std::filesystem;

namespace {

constexpr std::string_view now = "2030-01-02T03:04:05.678Z";

std::unique_ptr<Store> open_store(const fs::path& directory) {
  auto store = Store::open(directory, now);
  if (!store) throw std::runtime_error(store.error().message);
  return *std::move(store);
}

/// A change that answers with nothing but "done".
Result<bool> make(Store& store, std::function<Result<void>(Changes&)> work) {
  return store
      .change<bool>([work = std::move(work)](Changes& changes) -> Result<bool> {
        if (auto done = work(changes); !done) return tl::unexpected(std::move(done).error());
        return true;
      })
      .get();
}

template <class Record>
Result<bool> add(Store& store, const Record& record) {
  return make(store, [record](Changes& changes) { return changes.add(record); });
}

std::vector<AnswerRecord> answers_of(const Store& store, const std::string& sitting) {
  return *store.read<std::vector<AnswerRecord>>(
      [&](const Records& records) { return records.answers_of(sitting); });
}

std::string bytes_of(const fs::path& file) {
  std::ostringstream text;
  text << std::ifstream(file, std::ios::binary).rdbuf();
  return text.str();
}

/// On SQLite and on PostgreSQL.
struct StoreOnBoth : OnBothDatabases {
  StorePlace place{GetParam()};
};
INSTANTIATE_TEST_SUITE_P(, StoreOnBoth, both_databases, name_of_database);

}  // namespace

TEST_P(StoreOnBoth, gives_back_what_it_was_given_also_after_reopening) {
  const PracticalRecord practical = sample_practical();
  const SittingRecord sitting = sample_sitting();
  const AnswerRecord answer = sample_answer();
  {
    const auto store = place.store();
    ASSERT_TRUE(add(*store, practical));
    ASSERT_TRUE(add(*store, sitting));
    ASSERT_TRUE(add(*store, answer));
  }
  const auto store = place.store();
  const auto practicals = *store->read<std::vector<PracticalRecord>>(
      [](const Records& records) { return records.practicals(); });
  ASSERT_EQ(practicals.size(), 1U);
  EXPECT_EQ(practicals[0].id, practical.id);
  EXPECT_EQ(practicals[0].name, practical.name);
  EXPECT_EQ(practicals[0].set_hash, practical.set_hash);
  EXPECT_EQ(practicals[0].exposure_ms, 3000);
  EXPECT_EQ(practicals[0].sittings, 1);

  const auto found = *store->read<std::optional<SittingRecord>>(
      [&](const Records& records) { return records.sitting(sitting.id); });
  ASSERT_TRUE(found);
  EXPECT_EQ(found->tell, "later");
  EXPECT_EQ(found->sex_at_birth, "female");
  EXPECT_EQ(found->order_seed, sitting.order_seed);
  EXPECT_EQ(found->state, "running");
  EXPECT_FALSE(found->ended_utc);
  ASSERT_EQ(found->items.size(), 2U);
  EXPECT_EQ(found->items[0].plate, 1);
  EXPECT_EQ(found->items[1].round, "first");
  EXPECT_EQ(found->items[1].plate_id, sitting.items[1].plate_id);

  const auto answers = answers_of(*store, sitting.id);
  ASSERT_EQ(answers.size(), 1U);
  EXPECT_EQ(answers[0].id, answer.id);
  EXPECT_EQ(answers[0].symbols, answer.symbols);
  EXPECT_EQ(answers[0].end, answer.end);
  EXPECT_EQ(answers[0].onset_ms, answer.onset_ms);
  EXPECT_EQ(answers[0].response_ms, answer.response_ms);
  EXPECT_EQ(answers[0].shown_ms, answer.shown_ms);
  EXPECT_EQ(answers[0].frames, answer.frames);
  EXPECT_EQ(answers[0].page_load, answer.page_load);
  EXPECT_EQ(answers[0].body_sha256, answer.body_sha256);
  EXPECT_EQ(answers[0].received_utc, answer.received_utc);
  EXPECT_EQ(answers[0].received_steady_ns, answer.received_steady_ns);
}

TEST(Store, keeps_its_files_to_itself) {
  const ScratchDirectory scratch;
  const auto store = open_store(scratch.path() / "data");
  ASSERT_TRUE(add(*store, sample_practical()));
  int files = 0;
  for (const auto& entry : fs::directory_iterator(scratch.path() / "data")) {
    struct stat status {};
    ASSERT_EQ(stat(entry.path().c_str(), &status), 0);
    EXPECT_EQ(status.st_mode & 0777U, 0600U) << entry.path();
    ++files;
  }
  EXPECT_GE(files, 3) << "database, log and lock";
}

TEST_P(StoreOnBoth, takes_an_item_and_an_answer_id_once) {
  const auto store = place.store();
  ASSERT_TRUE(add(*store, sample_practical()));
  ASSERT_TRUE(add(*store, sample_sitting(1)));
  ASSERT_TRUE(add(*store, sample_sitting(2)));
  ASSERT_TRUE(add(*store, sample_answer(1, 0, 1)));
  EXPECT_FALSE(add(*store, sample_answer(2, 0, 1))) << "a second answer to one item";
  EXPECT_FALSE(add(*store, sample_answer(1, 1, 1))) << "one id for two items";
  EXPECT_FALSE(add(*store, sample_answer(1, 0, 2))) << "one id in two sittings";
  EXPECT_EQ(answers_of(*store, sample_id(1)).size(), 1U);
  EXPECT_EQ(answers_of(*store, sample_id(2)).size(), 0U);
}

TEST_P(StoreOnBoth, refuses_values_outside_their_range) {
  const auto store = place.store();
  ASSERT_TRUE(add(*store, sample_practical()));
  ASSERT_TRUE(add(*store, sample_sitting()));
  auto practical = sample_practical(2);
  practical.exposure_ms = 999;
  EXPECT_FALSE(add(*store, practical));
  auto sitting = sample_sitting(2);
  sitting.tell = "maybe";
  EXPECT_FALSE(add(*store, sitting));
  EXPECT_FALSE(add(*store, sample_sitting(2, /*practical=*/7))) << "no such practical";
  auto answer = sample_answer();
  answer.end = "expired";  // with symbols and a response time
  EXPECT_FALSE(add(*store, answer));
  answer = sample_answer();
  answer.id = "short";
  EXPECT_FALSE(add(*store, answer));
  answer = sample_answer(1, /*item=*/7);
  EXPECT_FALSE(add(*store, answer)) << "no such item";
  EXPECT_TRUE(add(*store, sample_answer()));
}

TEST_P(StoreOnBoth, keeps_a_refused_answer_once_however_often_it_comes) {
  const auto store = place.store();
  ASSERT_TRUE(add(*store, sample_practical()));
  ASSERT_TRUE(add(*store, sample_sitting()));
  for (int i = 0; i < 3; ++i)
    ASSERT_TRUE(make(*store, [](Changes& changes) {
      return changes.refuse(sample_answer(5), AuditReason::late);
    }));
  const auto refused = *store->read<std::vector<std::pair<AuditReason, AnswerRecord>>>(
      [](const Records& records) { return records.refused_answers_of(sample_id(1)); });
  ASSERT_EQ(refused.size(), 1U);
  EXPECT_EQ(refused[0].first, AuditReason::late);
  EXPECT_EQ(refused[0].second.id, sample_id(5));
  EXPECT_EQ(refused[0].second.symbols, sample_answer().symbols);
}

TEST_P(StoreOnBoth, passes_a_callers_mistake_back_to_the_caller) {
  const auto store = place.store();
  auto broken = store->change<int>([](Changes& changes) -> Result<int> {
    (void)changes.add(sample_practical());
    expects(false);
    return 1;
  });
  EXPECT_THROW(broken.get(), ContractViolation);
  EXPECT_TRUE(add(*store, sample_practical())) << "the broken change must have been undone";
}

// Withdrawing consent removes the data, not only the rows: no trace in the database or its log.
TEST(Store, forgets_a_removed_sitting_down_to_the_bytes) {
  const ScratchDirectory scratch;
  const auto store = open_store(scratch.path());
  ASSERT_TRUE(add(*store, sample_practical()));
  ASSERT_TRUE(add(*store, sample_sitting()));
  AnswerRecord canary = sample_answer();
  canary.id = "deadbeefdeadbeefdeadbeefdeadbeef";
  canary.page_load = "feedfacefeedfacefeedfacefeedface";
  ASSERT_TRUE(add(*store, canary));
  AnswerRecord refused_canary = canary;
  refused_canary.id = "0badcafe0badcafe0badcafe0badcafe";
  ASSERT_TRUE(
      make(*store, [&](Changes& c) { return c.refuse(refused_canary, AuditReason::conflict); }));

  const auto traces = [&] {
    int found = 0;
    for (const auto& entry : fs::directory_iterator(scratch.path()))
      for (const std::string& id : {canary.id, canary.page_load, refused_canary.id})
        found += bytes_of(entry.path()).find(id) != std::string::npos ? 1 : 0;
    return found;
  };
  ASSERT_GE(traces(), 3) << "the test must be able to see them while they are there";

  EXPECT_TRUE(
      *store->change<bool>([](Changes& c) { return c.remove_sitting(sample_id(1)); }).get());
  ASSERT_TRUE(add(*store, sample_practical(2))) << "one more commit: the log was emptied before it";
  EXPECT_EQ(traces(), 0);
  EXPECT_EQ(answers_of(*store, sample_id(1)).size(), 0U);
  EXPECT_FALSE(
      *store->change<bool>([](Changes& c) { return c.remove_sitting(sample_id(1)); }).get());
}

TEST(Store, refuses_a_file_that_is_no_database) {
  const ScratchDirectory scratch;
  std::ofstream(scratch.path() / "copunctal.db") << std::string(5000, 'x');
  const auto store = Store::open(scratch.path(), now);
  ASSERT_FALSE(store);
  EXPECT_EQ(store.error().kind, Error::Kind::io);
  EXPECT_NE(store.error().message.find("not a database"), std::string::npos);
  EXPECT_FALSE(store.error().remedy.empty());
}

TEST(Store, refuses_a_damaged_database) {
  const ScratchDirectory scratch;
  {
    const auto store = open_store(scratch.path());
    ASSERT_TRUE(add(*store, sample_practical()));
    for (int i = 1; i <= 300; ++i) ASSERT_TRUE(add(*store, sample_sitting(i)));
  }
  const auto file = scratch.path() / "copunctal.db";
  const auto size = fs::file_size(file);
  ASSERT_GT(size, 20U * 4096U);
  {
    std::fstream damage(file, std::ios::in | std::ios::out | std::ios::binary);
    damage.seekp(static_cast<std::streamoff>(size / 2 / 4096 * 4096));
    damage << std::string(4096, '\x5a');
  }
  const auto store = Store::open(scratch.path(), now);
  ASSERT_FALSE(store);
  EXPECT_EQ(store.error().kind, Error::Kind::io);
  EXPECT_NE(store.error().message.find("damaged"), std::string::npos) << store.error().message;
}

TEST(Store, refuses_a_truncated_database) {
  const ScratchDirectory scratch;
  {
    const auto store = open_store(scratch.path());
    ASSERT_TRUE(add(*store, sample_practical()));
  }
  fs::resize_file(scratch.path() / "copunctal.db",
                  fs::file_size(scratch.path() / "copunctal.db") - 4096);
  const auto store = Store::open(scratch.path(), now);
  ASSERT_FALSE(store);
  EXPECT_EQ(store.error().kind, Error::Kind::io) << store.error().message;
}

TEST(Store, is_held_by_one_server_at_a_time) {
  const ScratchDirectory scratch;
  const auto store = open_store(scratch.path());
  const auto second = Store::open(scratch.path(), now);
  ASSERT_FALSE(second);
  EXPECT_EQ(second.error().kind, Error::Kind::io);
}

TEST_P(StoreOnBoth, gives_back_a_display_record_also_after_reopening) {
  const DisplayRecord full = sample_display_record(1);
  DisplayRecord bare = sample_display_record(2);
  bare.check = {};
  bare.check.display = "display-p3/wled";
  bare.check.screen_px = {390, 844};
  {
    const auto store = place.store();
    ASSERT_TRUE(add(*store, full));
    ASSERT_TRUE(make(*store, [&](Changes& changes) {
      return changes.end_display_record(full.id, "zoom", "2030-01-03T00:00:00.000Z");
    }));
    ASSERT_TRUE(add(*store, bare));
  }
  const auto store = place.store();
  const auto read = [&](const std::string& id) {
    return *store->read<std::optional<DisplayRecord>>(
        [&](const Records& records) { return records.display_record(id); });
  };
  const auto found = read(full.id);
  ASSERT_TRUE(found);
  EXPECT_EQ(found->made_utc, full.made_utc);
  EXPECT_EQ(found->expires_utc, full.expires_utc);
  EXPECT_EQ(found->ended, "zoom");
  EXPECT_EQ(found->ended_utc, "2030-01-03T00:00:00.000Z");
  const ScreenCheck& check = found->check;
  EXPECT_EQ(check.display, full.check.display);
  EXPECT_EQ(check.card_px, 323.5);
  EXPECT_EQ(check.device_pixel_ratio, 1.25);
  EXPECT_EQ(check.screen_px, full.check.screen_px);
  EXPECT_EQ(check.screen_at, full.check.screen_at);
  EXPECT_EQ(check.colour_depth, 24);
  EXPECT_EQ(check.gamut, "srgb");
  ASSERT_EQ(check.tone_matches.size(), 2U);
  EXPECT_EQ(check.tone_matches[1].channel, "b");
  EXPECT_EQ(check.tone_matches[1].share, 0.25);
  EXPECT_EQ(check.tone_matches[1].code, 137);
  EXPECT_EQ(check.black_step, 4);
  EXPECT_EQ(check.white_step, 252);
  EXPECT_EQ(check.neutral, "neutral");
  EXPECT_TRUE(check.night_mode_off);
  EXPECT_TRUE(check.adapted);
  EXPECT_EQ(check.room_light, "office");
  EXPECT_EQ(check.statement, full.check.statement);
  EXPECT_EQ(check.refresh_hz, 59.94);
  EXPECT_EQ(check.frame_spread_ms, 0.4);
  EXPECT_EQ(check.dropped_frames, 0);

  const auto empty = read(bare.id);
  ASSERT_TRUE(empty);
  EXPECT_FALSE(empty->ended || empty->ended_utc || empty->check.card_px ||
               empty->check.black_step || empty->check.white_step || empty->check.neutral ||
               empty->check.room_light || empty->check.refresh_hz || empty->check.frame_spread_ms ||
               empty->check.dropped_frames);
  EXPECT_TRUE(empty->check.tone_matches.empty());
  EXPECT_FALSE(empty->check.night_mode_off || empty->check.adapted);
  EXPECT_FALSE(read(sample_id(99)));
}

TEST_P(StoreOnBoth, keeps_one_display_record_open_and_ended_ones_as_they_are) {
  const auto store = place.store();
  const auto newest = [&] {
    return *store->read<std::optional<DisplayRecord>>(
        [](const Records& records) { return records.newest_display_record(); });
  };
  EXPECT_FALSE(newest());
  ASSERT_TRUE(add(*store, sample_display_record(2)));
  EXPECT_FALSE(add(*store, sample_display_record(1))) << "two would hold";
  const auto end = [&](const std::string& reason) {
    return make(*store, [&](Changes& changes) {
      return changes.end_display_record(sample_id(2), reason, "2030-01-03T00:00:00.000Z");
    });
  };
  EXPECT_FALSE(end("boredom"));
  ASSERT_TRUE(end("moved"));
  EXPECT_FALSE(end("zoom")) << "ended is ended";
  EXPECT_EQ(newest()->ended, "moved");
  // The newest is the one made last, whatever its id and the clock say.
  DisplayRecord earlier = sample_display_record(1);
  earlier.made_utc = "2029-01-02T03:04:05.678Z";
  ASSERT_TRUE(add(*store, earlier));
  EXPECT_EQ(newest()->id, earlier.id);

  DisplayRecord odd = sample_display_record(3);
  odd.ended = "mode";
  odd.ended_utc = "2030-01-03T00:00:00.000Z";
  odd.check.tone_matches = {{"r", 0.3, 100}};
  EXPECT_FALSE(add(*store, odd));
  EXPECT_EQ(newest()->id, earlier.id) << "all or nothing";
}
