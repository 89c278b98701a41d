// For tests: a desk on the sample set, with clocks held still, and somebody who sits at it.
#pragma once

#include <gtest/gtest.h>

#include <cstdint>
#include <functional>
#include <map>
#include <memory>
#include <mutex>
#include <stdexcept>
#include <string>
#include <utility>
#include <vector>

#include "copunctal/app/run_sitting.h"
#include "copunctal/app/run_sitting_sample_set.h"
#include "copunctal/base/random.h"
#include "copunctal/store/scratch_directory.h"
#include "copunctal/store/store.h"

namespace copunctal {

inline constexpr std::string_view now = "2030-01-02T03:04:05.678Z";
inline constexpr const char* page_load = "0123456789abcdef0123456789abcdef";

/// Chance that is the same on every run.
inline RandomBytes seeded_random(std::uint64_t seed) {
  auto stream = std::make_shared<RandomStream>(seed);
  auto mutex = std::make_shared<std::mutex>();
  return [stream, mutex](std::span<std::byte> bytes) {
    const std::lock_guard lock(*mutex);
    for (std::byte& byte : bytes) byte = static_cast<std::byte>(stream->bits32());
  };
}

/// Most of these tests weigh no answers, so they need not wait for the tables.
inline Result<std::shared_ptr<const ReadingTables>> no_tables(const PlateSet&) {
  return fail(Error::Kind::bad_input, "no tables in this test");
}

inline SentAnswer sent(std::int64_t item, std::vector<std::string> symbols) {
  return {.item = item,
          .symbols = std::move(symbols),
          .end = "answered",
          .onset_ms = 1000.5,
          .response_ms = 2000.25,
          .shown_ms = 999.75,
          .frames = 60,
          .hidden = false,
          .page_load = page_load};
}

inline SentAnswer unread(std::int64_t item, std::string end) {
  SentAnswer answer = sent(item, {});
  answer.end = std::move(end);
  answer.response_ms = std::nullopt;
  return answer;
}

struct RunSitting : testing::Test {
  ScratchDirectory scratch;
  PlateSet set = sample_set();
  std::unique_ptr<Store> store;
  std::unique_ptr<SittingDesk> desk;
  int next_answer = 0;

  void open(std::uint64_t seed = 1, TablesBuilder tables = no_tables) {
    desk.reset();
    store.reset();
    store = *Store::open(scratch.path(), now);
    const DeskClocks clocks{[] { return std::string(now); }, [] { return std::int64_t{42}; }};
    desk = *SittingDesk::open(*store, set, clocks, seeded_random(seed), std::move(tables));
  }
  void SetUp() override { open(); }

  SittingState begin(Tell tell = Tell::tell) {
    return begin_in({}, {.consent = true, .tell = tell});
  }
  SittingState begin_in(const NewPractical& practical, const NewSitting& wish) {
    const auto made = desk->create_practical(practical);
    if (!made) throw std::runtime_error(made.error().message);
    const auto state = desk->begin_sitting(made->id, wish);
    if (!state) throw std::runtime_error(state.error().message);
    return *state;
  }

  std::string new_answer_id() {
    const std::string digits = std::to_string(++next_answer);
    return std::string(32 - digits.size(), '0') + digits;
  }

  /// What the store knows and the page does not: which plate an item shows.
  std::map<std::int64_t, std::size_t> plates_of(const std::string& sitting) const {
    std::map<std::int64_t, std::size_t> plates;
    const auto record = *store->read<std::optional<SittingRecord>>(
        [&](const Records& records) { return records.sitting(sitting); });
    for (const ItemRecord& item : record->items)
      plates[item.item] = static_cast<std::size_t>(item.plate);
    return plates;
  }

  PlateKind kind_of(const std::string& sitting, std::int64_t item) const {
    return set.plates[plates_of(sitting).at(item)].kind;
  }

  /// Answers the present round; `answer` makes each answer, by default the drawn symbols.
  SittingState answer_round(
      SittingState state,
      const std::function<SentAnswer(std::int64_t item, std::vector<std::string> drawn)>& answer =
          sent) {
    const std::string round = state.round->name;
    const auto plates = plates_of(state.sitting);
    const auto items = state.round->items;
    for (const auto& item : items) {
      if (item.answered) continue;
      const auto drawn = drawn_in_sample(set, plates.at(item.item));
      const auto receipt =
          desk->put_answer(state.sitting, new_answer_id(), answer(item.item, drawn));
      if (!receipt) throw std::runtime_error(receipt.error().message);
      state = receipt->state;
    }
    EXPECT_TRUE(!state.round || state.round->name != round);
    return state;
  }

  SittingState answer_all(SittingState state) {
    while (state.round) state = answer_round(state);
    return state;
  }

  Error::Kind refusal_of(const std::string& sitting, const SentAnswer& answer) {
    const auto receipt = desk->put_answer(sitting, new_answer_id(), answer);
    return receipt ? Error::Kind::usage : receipt.error().kind;
  }

  std::vector<std::pair<AuditReason, AnswerRecord>> audit_of(const std::string& sitting) const {
    return *store->read<std::vector<std::pair<AuditReason, AnswerRecord>>>(
        [&](const Records& records) { return records.refused_answers_of(sitting); });
  }
};

}  // namespace copunctal
