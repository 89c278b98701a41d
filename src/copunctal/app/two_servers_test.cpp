// Two servers with one database: what is settled on one holds on the other, and when both are asked
// at once, one of them has it.
#include <gtest/gtest.h>

#include <algorithm>
#include <array>
#include <atomic>
#include <set>
#include <thread>

#include "copunctal/app/run_practical.h"
#include "copunctal/app/run_sitting.h"
#include "copunctal/app/run_sitting_sample_set.h"
#include "copunctal/store/two_databases.h"

using namespace copunctal;

namespace {

/// Made once for all desks.
Result<std::shared_ptr<const ReadingTables>> tables_of(const PlateSet& set) {
  static const auto tables = build_reading_tables(set);
  return tables;
}

/// A desk with a store of its own, as a server has.
struct Server {
  std::unique_ptr<Store> store;
  std::unique_ptr<SittingDesk> desk;
};

struct TwoServers : testing::Test {
  StorePlace place{DatabaseKind::postgres};
  std::array<Server, 2> servers;

  void SetUp() override {
    if (const auto why = PostgresServer::missing()) GTEST_SKIP() << *why;
    for (Server& server : servers) {
      server.store = place.store();
      server.desk = *SittingDesk::open(*server.store, sample_set(), system_clocks(),
                                       kernel_random(), tables_of);
    }
  }
  SittingDesk& desk(int number) { return *servers[static_cast<std::size_t>(number % 2)].desk; }

  /// Asks both at once; how each ended.
  template <class Ask>
  std::array<std::optional<Error>, 2> both(const Ask& ask) {
    std::array<std::optional<Error>, 2> errors;
    std::vector<std::thread> threads;
    for (std::size_t i = 0; i < errors.size(); ++i)
      threads.emplace_back([&, i] {
        auto result = ask(*servers[i].desk, i);
        if (!result) errors[i] = result.error();
      });
    for (std::thread& thread : threads) thread.join();
    return errors;
  }

  /// One of the two had it, the other was told that it contradicts what is stored, or `otherwise`.
  static void one_has_it(const std::array<std::optional<Error>, 2>& errors,
                         Error::Kind otherwise = Error::Kind::conflict) {
    EXPECT_NE(errors[0].has_value(), errors[1].has_value());
    for (const auto& error : errors)
      if (error) {
        EXPECT_EQ(error->kind, otherwise) << error->message;
        EXPECT_FALSE(error->remedy.empty());
      }
  }
};

NewPractical prepared(std::vector<std::string> loans) {
  NewPractical wish;
  wish.prepare = true;
  wish.loans = std::move(loans);
  return wish;
}

NewSitting agreed(bool on_loan) {
  NewSitting wish;
  wish.consent = true;
  wish.on_loan = on_loan;
  return wish;
}

SentAnswer answer_to(std::int64_t item, std::string symbol) {
  return {.item = item,
          .symbols = {std::move(symbol)},
          .end = "answered",
          .onset_ms = 1000.5,
          .response_ms = 2000.25,
          .shown_ms = 999.75,
          .frames = 60,
          .hidden = false,
          .page_load = "0123456789abcdef0123456789abcdef"};
}

}  // namespace

TEST_F(TwoServers, open_and_close_a_practical_once) {
  for (int i = 0; i < 10; ++i) {
    const auto practical = *desk(i).create_practical(prepared({}));
    one_has_it(both([&](SittingDesk& one, std::size_t) {
      return one.classes().open(practical.id, {.men = 5, .women = 5, .misses = 3});
    }));
    const auto here = desk(0).classes().practical(practical.id);
    const auto there = desk(1).classes().practical(practical.id);
    ASSERT_TRUE(here && there);
    EXPECT_EQ(here->summary.state, "open");
    EXPECT_EQ(here->card, there->card);
    EXPECT_TRUE(here->card_is_as_sealed && there->card_is_as_sealed);
    one_has_it(
        both([&](SittingDesk& one, std::size_t) { return one.classes().close(practical.id); }));
    EXPECT_EQ(desk(1).classes().practical(practical.id)->summary.state, "closed");
  }
}

TEST_F(TwoServers, give_each_pseudonym_once_and_lend_eyes_evenly) {
  // Loans are drawn by each server by itself; that takes a while.
  const auto practical = *desk(0).create_practical(prepared({"deutan:0"}));
  for (int i = 0; i < 2; ++i) {
    const auto seen = [&] { return *desk(i).classes().practical(practical.id); };
    while (!seen().loans.at(0).is_ready) std::this_thread::sleep_for(std::chrono::milliseconds(20));
    if (!seen().loans.at(0).refusal.empty()) GTEST_SKIP() << seen().loans.at(0).refusal;
  }
  ASSERT_TRUE(desk(1).classes().open(practical.id, {.men = 5, .women = 5, .misses = 3}));
  constexpr int each = 15;
  std::array<std::atomic<int>, 2> begun{};
  both([&](SittingDesk& one, std::size_t number) -> Result<bool> {
    for (int i = 0; i < each; ++i)
      begun[number] += one.begin_sitting(practical.id, agreed(true)) ? 1 : 0;
    return true;
  });
  EXPECT_EQ(begun[0], each);
  EXPECT_EQ(begun[1], each);
  const auto sittings = *servers[0].store->read<std::vector<SittingRecord>>(
      [&](const Records& records) { return records.sittings_of(practical.id); });
  std::set<std::string> pseudonyms;
  int own = 0;
  for (const SittingRecord& sitting : sittings) {
    pseudonyms.insert(sitting.pseudonym);
    own += sitting.loan == "own" ? 1 : 0;
  }
  EXPECT_EQ(pseudonyms.size(), 2U * each);
  EXPECT_EQ(own, each) << "of two arms, one each";
}

TEST_F(TwoServers, take_turns_in_a_sitting_and_count_one_answer_to_an_item) {
  const auto practical = *desk(0).create_practical({});
  const auto begun = *desk(0).begin_sitting(practical.id, agreed(false));
  int number = 0, raced = 0, late = 0;
  for (SittingState state = begun; state.round;) {
    const auto open = std::find_if(state.round->items.begin(), state.round->items.end(),
                                   [](const auto& item) { return !item.answered; });
    ASSERT_NE(open, state.round->items.end());
    ++number;
    EXPECT_TRUE(desk(number).plate_picture(begun.sitting, open->plate).has_value());
    const auto id = [&](std::size_t server) {
      const std::string digits = std::to_string(1000 * (server + 1)) + std::to_string(number);
      return std::string(32 - digits.size(), '0') + digits;
    };
    if (number % 3 == 0) {
      // Two pages, two ids, one item: the first counts.
      const auto errors = both([&](SittingDesk& one, std::size_t server) {
        return one.put_answer(begun.sitting, id(server), answer_to(open->item, "4"));
      });
      // The last answer ends the sitting: who comes after it is late.
      const bool has_ended = desk(number).state_of(begun.sitting)->ended;
      one_has_it(errors, has_ended ? Error::Kind::gone : Error::Kind::conflict);
      late += has_ended ? 1 : 0;
      ++raced;
    } else if (number % 3 == 1) {
      // One answer, sent to both: stored by one, a duplicate to the other.
      std::atomic<int> stored = 0;
      both([&](SittingDesk& one, std::size_t) -> Result<bool> {
        const auto receipt = one.put_answer(begun.sitting, id(0), answer_to(open->item, "4"));
        EXPECT_TRUE(receipt.has_value());
        stored += receipt && !receipt->is_duplicate ? 1 : 0;
        return true;
      });
      EXPECT_EQ(stored, 1);
    } else {
      EXPECT_TRUE(
          desk(number).put_answer(begun.sitting, id(0), answer_to(open->item, "4")).has_value());
    }
    state = *desk(number + 1).state_of(begun.sitting);
  }
  EXPECT_GE(raced, 4);
  EXPECT_TRUE(desk(1).state_of(begun.sitting)->ended);
  one_has_it(both([&](SittingDesk& one, std::size_t server) {
    return one.choose(begun.sitting, server == 0 ? Tell::tell : Tell::dont_tell);
  }));
  const auto answers = *servers[1].store->read<std::vector<AnswerRecord>>(
      [&](const Records& records) { return records.answers_of(begun.sitting); });
  EXPECT_EQ(answers.size(), static_cast<std::size_t>(number));
  ASSERT_TRUE(desk(0).remove_sitting(begun.sitting));
  EXPECT_EQ(desk(1).state_of(begun.sitting).error().kind, Error::Kind::not_found);
  const auto log = *read_log(*place.database());
  EXPECT_EQ(break_in(log), std::nullopt);
  EXPECT_EQ(std::count_if(log.entries.begin(), log.entries.end(),
                          [](const LogEntry& entry) { return entry.event == "conflict"; }),
            raced - late);
}
