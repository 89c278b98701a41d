#include "copunctal/app/run_sitting.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <future>
#include <limits>
#include <map>
#include <mutex>
#include <set>

#include "copunctal/app/run_sitting_fixture.h"

using namespace copunctal;

TEST_F(RunSitting, begins_with_one_opener_and_says_nothing_about_the_rest) {
  const SittingState state = begin(Tell::later);
  EXPECT_FALSE(state.ended);
  EXPECT_EQ(state.tell, Tell::later);
  EXPECT_EQ(state.size_px, 32);
  EXPECT_EQ(state.exposure_ms, 3000);
  EXPECT_EQ(state.grace_ms, 10'000);
  EXPECT_EQ(state.family, SymbolFamily::digits);
  EXPECT_EQ(state.symbols, set.symbols);
  EXPECT_EQ(state.answered, 0);
  ASSERT_TRUE(state.round);
  EXPECT_EQ(state.round->name, "warm-up");
  EXPECT_EQ(state.round->place, 1);
  EXPECT_EQ(state.round->of, 4);
  EXPECT_EQ(state.round->figures, 1);
  ASSERT_EQ(state.round->items.size(), 1U);
  EXPECT_TRUE(is_id(state.round->items[0].plate));
  EXPECT_EQ(kind_of(state.sitting, state.round->items[0].item), PlateKind::opener);
}

TEST_F(RunSitting, puts_the_second_opener_in_the_middle_of_the_first_round) {
  const SittingState state = answer_round(begin());
  ASSERT_EQ(state.round->name, "first");
  EXPECT_EQ(state.round->place, 2);
  ASSERT_EQ(state.round->items.size(), 11U);
  std::set<std::string> names;
  for (std::size_t i = 0; i < 11; ++i) {
    const auto& item = state.round->items[i];
    EXPECT_EQ(kind_of(state.sitting, item.item), i == 5 ? PlateKind::opener : PlateKind::vanishing);
    EXPECT_TRUE(names.insert(item.plate).second);
  }
}

TEST_F(RunSitting, without_a_miss_leaves_the_which_kind_round_out) {
  const SittingState state = answer_round(answer_round(begin()));
  ASSERT_TRUE(state.round);
  EXPECT_EQ(state.round->name, "blue-yellow");
  EXPECT_EQ(state.round->place, 3);
  EXPECT_EQ(state.round->of, 4);
  EXPECT_EQ(state.round->items.size(), 2U);
  const SittingState end = answer_round(state);
  EXPECT_TRUE(end.ended);
  EXPECT_FALSE(end.round);
  EXPECT_EQ(end.answered, 14);
}

TEST_F(RunSitting, with_one_miss_asks_which_kind) {
  const auto answers_of_one_miss = std::to_array<std::function<SentAnswer(std::int64_t)>>({
      [](std::int64_t item) { return sent(item, {}); },
      [](std::int64_t item) { return sent(item, {"1"}); },  // plate 3 shows a 4
      [](std::int64_t item) { return unread(item, "expired"); },
  });
  for (const auto& miss : answers_of_one_miss) {
    SittingState state = answer_round(begin());
    const auto plates = plates_of(state.sitting);
    state = answer_round(state, [&](std::int64_t item, std::vector<std::string> drawn) {
      return plates.at(item) == 3 ? miss(item) : sent(item, std::move(drawn));
    });
    ASSERT_TRUE(state.round);
    EXPECT_EQ(state.round->name, "which-kind");
    EXPECT_EQ(state.round->place, 3);
    EXPECT_EQ(state.round->figures, 2);
    EXPECT_EQ(state.round->items.size(), 4U);
    state = answer_round(state);
    EXPECT_EQ(state.round->name, "blue-yellow");
    EXPECT_EQ(state.round->place, 4);
    EXPECT_TRUE(answer_round(state).ended);
  }
}

// An opener says that somebody is awake, an interruption that they were not there, and a late
// answer was still read: none of them is a miss.
TEST_F(RunSitting, counts_no_opener_interruption_or_late_answer_as_a_miss) {
  SittingState state = answer_round(begin());
  state = answer_round(state, [&](std::int64_t item, std::vector<std::string> drawn) {
    if (kind_of(state.sitting, item) == PlateKind::opener) return sent(item, {});
    if (item % 2 == 0) return unread(item, "interrupted");
    SentAnswer late = sent(item, std::move(drawn));
    late.end = "late";
    return late;
  });
  EXPECT_EQ(state.round->name, "blue-yellow");
}

TEST_F(RunSitting, shows_each_sitting_its_own_order_and_repeats_it_for_the_same_seed) {
  const auto order_of = [&](const std::string& sitting) {
    std::vector<std::size_t> order;
    for (const auto& [item, plate] : plates_of(sitting)) order.push_back(plate);
    return order;
  };
  const auto first = order_of(begin().sitting);
  const auto second = order_of(begin().sitting);
  EXPECT_NE(first, second);
  EXPECT_TRUE(std::is_permutation(first.begin(), first.end(), second.begin(), second.end()));
  EXPECT_EQ(std::set<std::size_t>(first.begin(), first.end()).size(), set.plates.size());

  ScratchDirectory elsewhere;
  store = *Store::open(elsewhere.path(), now);
  desk = *SittingDesk::open(*store, set, system_clocks(), seeded_random(1), no_tables);
  EXPECT_EQ(order_of(begin().sitting), first);
  desk.reset();
  store.reset();
}

TEST_F(RunSitting, gives_pictures_of_reached_rounds_only) {
  SittingState state = begin();
  const std::string opener = state.round->items[0].plate;
  const auto picture = desk->plate_picture(state.sitting, opener);
  ASSERT_TRUE(picture);
  EXPECT_EQ((*picture)->size(), 32U * 32U * 3U);

  const auto record = *store->read<std::optional<SittingRecord>>(
      [&](const Records& records) { return records.sitting(state.sitting); });
  for (const ItemRecord& item : record->items)
    EXPECT_EQ(desk->plate_picture(state.sitting, item.plate_id).has_value(), item.item == 0);
  EXPECT_EQ(desk->plate_picture(state.sitting, page_load).error().kind, Error::Kind::not_found);

  const std::string other = begin().sitting;
  EXPECT_FALSE(desk->plate_picture(other, opener)) << "a plate of another sitting";

  state = answer_round(state);
  EXPECT_TRUE(desk->plate_picture(state.sitting, opener)) << "rounds done stay reachable";
  EXPECT_EQ(*desk->plate_picture(state.sitting, opener), *picture) << "drawn once";
}

TEST_F(RunSitting, takes_the_same_answer_twice_as_one) {
  const SittingState state = begin();
  const std::string id = new_answer_id();
  const SentAnswer answer = sent(0, {"4"});
  const auto first = desk->put_answer(state.sitting, id, answer);
  ASSERT_TRUE(first);
  EXPECT_FALSE(first->is_duplicate);
  const auto second = desk->put_answer(state.sitting, id, answer);
  ASSERT_TRUE(second);
  EXPECT_TRUE(second->is_duplicate);
  EXPECT_EQ(second->state.answered, 1);
  EXPECT_EQ(second->state.round->name, "first");
  EXPECT_TRUE(audit_of(state.sitting).empty());
}

TEST_F(RunSitting, keeps_the_first_answer_and_audits_what_contradicts_it) {
  const SittingState state = begin();
  const std::string id = new_answer_id();
  ASSERT_TRUE(desk->put_answer(state.sitting, id, sent(0, {"4"})));

  const auto other_body = desk->put_answer(state.sitting, id, sent(0, {"7"}));
  ASSERT_FALSE(other_body);
  EXPECT_EQ(other_body.error().kind, Error::Kind::conflict);
  EXPECT_EQ(refusal_of(state.sitting, sent(0, {"4"})), Error::Kind::conflict) << "another id";
  const std::string elsewhere = begin().sitting;
  EXPECT_EQ(desk->put_answer(elsewhere, id, sent(0, {"4"})).error().kind, Error::Kind::conflict);

  const auto audit = audit_of(state.sitting);
  ASSERT_EQ(audit.size(), 2U);
  EXPECT_EQ(audit[0].first, AuditReason::conflict);
  EXPECT_EQ(audit[0].second.symbols, std::vector<std::string>{"7"});
  EXPECT_EQ(audit_of(elsewhere).size(), 1U);
  const auto stored = *store->read<std::optional<AnswerRecord>>(
      [&](const Records& records) { return records.answer(id); });
  EXPECT_EQ(stored->symbols, std::vector<std::string>{"4"});
  EXPECT_EQ(stored->sitting_id, state.sitting);
}

TEST_F(RunSitting, refuses_items_that_are_not_there_or_not_yet) {
  const SittingState state = begin();
  EXPECT_EQ(refusal_of(state.sitting, sent(1, {"4"})), Error::Kind::bad_input) << "next round";
  EXPECT_EQ(refusal_of(state.sitting, sent(12, {"4"})), Error::Kind::bad_input) << "which-kind";
  EXPECT_EQ(refusal_of(state.sitting, sent(18, {"4"})), Error::Kind::bad_input) << "no such item";
  EXPECT_EQ(refusal_of(state.sitting, sent(-1, {"4"})), Error::Kind::bad_input);
  EXPECT_EQ(refusal_of(page_load, sent(0, {"4"})), Error::Kind::not_found) << "no such sitting";
  EXPECT_EQ(desk->state_of(state.sitting)->answered, 0);
}

TEST_F(RunSitting, refuses_what_cannot_have_been_answered) {
  const SittingState state = begin();
  const auto refused = [&](const std::function<void(SentAnswer&)>& spoil) {
    SentAnswer answer = sent(0, {"4"});
    spoil(answer);
    return refusal_of(state.sitting, answer) == Error::Kind::bad_input;
  };
  const double infinite = std::numeric_limits<double>::infinity();
  EXPECT_TRUE(refused([](SentAnswer& a) { a.symbols = {"3"}; })) << "not in the row";
  EXPECT_TRUE(refused([](SentAnswer& a) { a.symbols = {"4", "7"}; })) << "more than figures";
  EXPECT_TRUE(refused([](SentAnswer& a) { a.end = "skipped"; }));
  EXPECT_TRUE(refused([](SentAnswer& a) { a.end = "expired"; })) << "with symbols";
  EXPECT_TRUE(refused([](SentAnswer& a) { a.response_ms = std::nullopt; }));
  EXPECT_TRUE(refused([](SentAnswer& a) { a = unread(0, "expired"), a.response_ms = 5; }));
  EXPECT_TRUE(refused([&](SentAnswer& a) { a.onset_ms = infinite; }));
  EXPECT_TRUE(refused([&](SentAnswer& a) { a.response_ms = -infinite; }));
  EXPECT_TRUE(
      refused([](SentAnswer& a) { a.shown_ms = std::numeric_limits<double>::quiet_NaN(); }));
  EXPECT_TRUE(refused([](SentAnswer& a) { a.shown_ms = -1; }));
  EXPECT_TRUE(refused([](SentAnswer& a) { a.frames = -1; }));
  EXPECT_TRUE(refused([](SentAnswer& a) { a.page_load = "x"; }));
  EXPECT_FALSE(desk->put_answer(state.sitting, "ABC", sent(0, {"4"})));
  EXPECT_EQ(desk->state_of(state.sitting)->answered, 0);
  EXPECT_TRUE(desk->put_answer(state.sitting, new_answer_id(), sent(0, {"4"})));
}

TEST_F(RunSitting, wants_two_symbols_ascending_in_the_which_kind_round_only) {
  SittingState state = answer_round(begin());
  state = answer_round(state, [](std::int64_t item, auto) { return sent(item, {}); });
  ASSERT_EQ(state.round->name, "which-kind");
  const std::int64_t item = state.round->items[0].item;
  EXPECT_EQ(refusal_of(state.sitting, sent(item, {"4", "1"})), Error::Kind::bad_input);
  EXPECT_EQ(refusal_of(state.sitting, sent(item, {"4", "4"})), Error::Kind::bad_input);
  EXPECT_EQ(refusal_of(state.sitting, sent(item, {"1", "2", "4"})), Error::Kind::bad_input);
  EXPECT_TRUE(desk->put_answer(state.sitting, new_answer_id(), sent(item, {"1", "4"})));
}

TEST_F(RunSitting, keeps_late_answers_to_an_ended_sitting_without_counting_them) {
  const SittingState end = answer_all(begin());
  ASSERT_TRUE(end.ended);
  EXPECT_EQ(refusal_of(end.sitting, sent(12, {"4"})), Error::Kind::gone) << "a round left out";
  EXPECT_EQ(refusal_of(end.sitting, sent(0, {"7"})), Error::Kind::gone) << "an item answered";
  EXPECT_EQ(desk->state_of(end.sitting)->answered, 14);
  const auto audit = audit_of(end.sitting);
  ASSERT_EQ(audit.size(), 2U);
  EXPECT_EQ(audit[0].first, AuditReason::late);
  EXPECT_EQ(audit[1].first, AuditReason::late);
}

// The acknowledgement of the very last answer can get lost like any other.
TEST_F(RunSitting, knows_a_repeated_last_answer_after_the_end) {
  SittingState state = begin();
  SentAnswer last;
  state = answer_round(answer_round(state));
  state = answer_round(state, [&](std::int64_t item, std::vector<std::string> drawn) {
    return last = sent(item, std::move(drawn));
  });
  ASSERT_TRUE(state.ended);
  const std::string last_id = std::string(30, '0') + std::to_string(next_answer);
  const auto again = desk->put_answer(state.sitting, last_id, last);
  ASSERT_TRUE(again) << again.error().message;
  EXPECT_TRUE(again->is_duplicate);
  EXPECT_TRUE(again->state.ended);
}

TEST_F(RunSitting, goes_on_after_a_restart_as_if_nothing_had_happened) {
  SittingState state = answer_round(begin());
  const auto first_of_round = state.round->items[0];
  const std::string id = new_answer_id();
  const SentAnswer answer = sent(first_of_round.item, {});
  ASSERT_TRUE(desk->put_answer(state.sitting, id, answer));
  const auto before = *desk->state_of(state.sitting);

  open(/*seed=*/2);
  const auto after = *desk->state_of(state.sitting);
  EXPECT_EQ(after.answered, 2);
  EXPECT_EQ(after.practical_name, before.practical_name);
  ASSERT_EQ(after.round->items.size(), before.round->items.size());
  for (std::size_t i = 0; i < after.round->items.size(); ++i) {
    EXPECT_EQ(after.round->items[i].item, before.round->items[i].item);
    EXPECT_EQ(after.round->items[i].plate, before.round->items[i].plate);
    EXPECT_EQ(after.round->items[i].answered, before.round->items[i].answered);
  }
  EXPECT_TRUE(desk->put_answer(state.sitting, id, answer)->is_duplicate);
  EXPECT_TRUE(answer_all(after).ended);
}

TEST_F(RunSitting, with_another_set_loaded_says_which_is_missing) {
  const SittingState state = begin();
  set.hash = std::string(64, 'd');
  open();
  const auto refused = desk->state_of(state.sitting);
  ASSERT_FALSE(refused);
  EXPECT_EQ(refused.error().kind, Error::Kind::conflict);
  EXPECT_NE(refused.error().remedy.find("cccccccccccc"), std::string::npos);
  EXPECT_EQ(refusal_of(state.sitting, sent(0, {"4"})), Error::Kind::conflict);
  EXPECT_EQ(desk->begin_sitting(state.practical, {true, Tell::tell, std::nullopt}).error().kind,
            Error::Kind::conflict);
  EXPECT_EQ(desk->plate_picture(state.sitting, state.round->items[0].plate).error().kind,
            Error::Kind::conflict);
  EXPECT_EQ(desk->practicals()->size(), 1U) << "it is still listed";
  EXPECT_TRUE(desk->remove_sitting(state.sitting)) << "and its data can be withdrawn";
}

TEST_F(RunSitting, makes_practicals_within_limits) {
  const auto named = desk->create_practical({"Monday, group B", 1000});
  ASSERT_TRUE(named);
  EXPECT_EQ(named->name, "Monday, group B");
  EXPECT_EQ(named->exposure_ms, 1000);
  EXPECT_EQ(named->plates, 18);
  EXPECT_EQ(named->set_hash, set.hash);
  EXPECT_EQ(named->created_utc, now);
  EXPECT_EQ(named->sittings, 0);
  const auto unnamed = desk->create_practical({});
  EXPECT_EQ(std::count(unnamed->name.begin(), unnamed->name.end(), ' '), 1) << unnamed->name;

  EXPECT_TRUE(desk->create_practical({std::string(64, 'x'), 20'000}));
  std::string umlauts;
  for (int i = 0; i < 64; ++i) umlauts += "ü";
  EXPECT_TRUE(desk->create_practical({umlauts, std::nullopt})) << "64 characters, 128 bytes";
  for (const NewPractical& wish :
       {NewPractical{std::string(65, 'x'), 3000}, NewPractical{"", 3000},
        NewPractical{"a\nb", 3000}, NewPractical{"a", 999}, NewPractical{"a", 20'001}}) {
    const auto refused = desk->create_practical(wish);
    ASSERT_FALSE(refused);
    EXPECT_EQ(refused.error().kind, Error::Kind::bad_input);
  }
  EXPECT_EQ(desk->practicals()->size(), 4U);
}

TEST_F(RunSitting, needs_consent_and_a_practical) {
  const auto practical = desk->create_practical({});
  EXPECT_EQ(desk->begin_sitting(practical->id, {false, Tell::tell, std::nullopt}).error().kind,
            Error::Kind::bad_input);
  EXPECT_EQ(desk->begin_sitting(page_load, {true, Tell::tell, std::nullopt}).error().kind,
            Error::Kind::not_found);
  EXPECT_EQ(desk->practicals()->front().sittings, 0);
  EXPECT_TRUE(desk->begin_sitting(practical->id, {true, Tell::tell, SexAtBirth::male}));
  EXPECT_EQ(desk->practicals()->front().sittings, 1);
}

TEST_F(RunSitting, lets_who_wanted_to_decide_later_decide_once) {
  const SittingState state = begin(Tell::later);
  EXPECT_EQ(desk->choose(state.sitting, Tell::later).error().kind, Error::Kind::bad_input);
  const auto chosen = desk->choose(state.sitting, Tell::dont_tell);
  ASSERT_TRUE(chosen);
  EXPECT_EQ(chosen->tell, Tell::dont_tell);
  EXPECT_EQ(desk->state_of(state.sitting)->tell, Tell::dont_tell);
  EXPECT_EQ(desk->choose(state.sitting, Tell::tell).error().kind, Error::Kind::conflict);
  EXPECT_EQ(desk->choose(begin(Tell::dont_tell).sitting, Tell::tell).error().kind,
            Error::Kind::conflict);
  EXPECT_EQ(desk->choose(page_load, Tell::tell).error().kind, Error::Kind::not_found);
}

TEST_F(RunSitting, removes_a_sitting_with_everything_in_it) {
  const SittingState state = answer_round(begin());
  ASSERT_TRUE(desk->remove_sitting(state.sitting));
  EXPECT_EQ(desk->state_of(state.sitting).error().kind, Error::Kind::not_found);
  EXPECT_EQ(refusal_of(state.sitting, sent(1, {})), Error::Kind::not_found);
  EXPECT_EQ(desk->remove_sitting(state.sitting).error().kind, Error::Kind::not_found);
  EXPECT_EQ(desk->practicals()->front().sittings, 0);
}

TEST_F(RunSitting, tells_nobody_who_did_not_ask) {
  for (const Tell tell : {Tell::dont_tell, Tell::later}) {
    const SittingState running = begin(tell);
    EXPECT_EQ(desk->outcome(running.sitting).error().kind, Error::Kind::conflict);
    const SittingState end = answer_all(running);
    const auto outcome = desk->outcome(end.sitting);
    ASSERT_TRUE(outcome);
    EXPECT_FALSE(outcome->told);
    EXPECT_EQ(outcome->can_choose, tell == Tell::later);
    EXPECT_FALSE(outcome->debrief);
    EXPECT_TRUE(outcome->shown.empty());
    EXPECT_EQ(outcome->intended_use, intended_use());
    EXPECT_EQ(outcome->whom_to_see, whom_to_see());
    EXPECT_EQ(desk->outcome_picture(end.sitting, 0, "original").error().kind,
              Error::Kind::unsupported);
  }
}

TEST_F(RunSitting, weighs_the_answers_for_who_asked) {
  open(1, build_reading_tables);
  SittingState state = begin(Tell::later);
  state = answer_round(answer_round(state), [](std::int64_t item, auto drawn) {
    return item == 3   ? unread(item, "expired")
           : item == 4 ? unread(item, "interrupted")
                       : sent(item, std::move(drawn));
  });
  while (state.round) state = answer_round(state);
  ASSERT_TRUE(desk->choose(state.sitting, Tell::tell));
  const auto outcome = desk->outcome(state.sitting);
  ASSERT_TRUE(outcome) << outcome.error().message;
  EXPECT_TRUE(outcome->told);
  EXPECT_FALSE(outcome->can_choose);
  ASSERT_TRUE(outcome->debrief);
  ASSERT_EQ(outcome->debrief->plates.size(), outcome->shown.size());
  ASSERT_EQ(outcome->shown.size(), static_cast<std::size_t>(state.answered));
  const auto plates = plates_of(state.sitting);
  for (std::size_t i = 0; i < outcome->shown.size(); ++i) {
    const auto& shown = outcome->shown[i];
    const PlateReading& reading = outcome->debrief->plates[i].reading;
    EXPECT_EQ(reading.plate, plates.at(shown.item));
    EXPECT_EQ(reading.out_of_time, shown.item == 3);
    EXPECT_EQ(reading.interrupted, shown.item == 4);
    EXPECT_EQ(shown.end, shown.item == 3   ? "expired"
                         : shown.item == 4 ? "interrupted"
                                           : "answered");
  }
  EXPECT_EQ(outcome->shown[0].round, "warm-up");
  EXPECT_EQ(outcome->shown[1].round, "first");
  EXPECT_EQ(outcome->shown.back().round, "blue-yellow");

  const auto original = desk->outcome_picture(state.sitting, 0, "original");
  const auto seen = desk->outcome_picture(state.sitting, 0, "protan:0");
  ASSERT_TRUE(original && seen);
  EXPECT_EQ(original->bytes->size(), seen->bytes->size());
  EXPECT_NE(*original->bytes, *seen->bytes);
  // The original claims nothing; a dichromat's view comes with its error.
  EXPECT_FALSE(original->error);
  ASSERT_TRUE(seen->error);
  EXPECT_LT(seen->error->reduced.mean, 1);
  EXPECT_EQ(desk->outcome_picture(state.sitting, 0, "nobody").error().kind, Error::Kind::usage);
  EXPECT_EQ(desk->outcome_picture(state.sitting, 99, "original").error().kind,
            Error::Kind::not_found);
}

TEST_F(RunSitting, that_cannot_be_weighed_says_why) {
  const SittingState end = answer_all(begin(Tell::tell));
  const auto outcome = desk->outcome(end.sitting);
  ASSERT_FALSE(outcome);
  EXPECT_EQ(outcome.error().kind, Error::Kind::conflict);
  EXPECT_NE(outcome.error().message.find("no tables in this test"), std::string::npos);
}

TEST_F(RunSitting, refuses_sets_that_no_sitting_can_be_made_of) {
  PlateSet without_opener = sample_set();
  std::erase_if(without_opener.plates, [](const Plate& p) { return p.kind == PlateKind::opener; });
  PlateSet with_hidden = sample_set();
  with_hidden.plates[5].kind = PlateKind::hidden;
  for (const PlateSet* bad : {&without_opener, &with_hidden}) {
    const auto refused =
        SittingDesk::open(*store, *bad, system_clocks(), kernel_random(), no_tables);
    ASSERT_FALSE(refused);
    EXPECT_EQ(refused.error().kind, Error::Kind::bad_input);
  }
}

TEST_F(RunSitting, keeps_simultaneous_sittings_apart) {
  const auto practical = desk->create_practical({});
  std::vector<std::future<bool>> people;
  for (int person = 0; person < 8; ++person)
    people.push_back(std::async(std::launch::async, [&, person] {
      auto state = *desk->begin_sitting(practical->id, {true, Tell::tell, std::nullopt});
      for (int count = 0; state.round; ++count) {
        const auto next = std::find_if(state.round->items.begin(), state.round->items.end(),
                                       [](const auto& item) { return !item.answered; });
        const std::string digits = std::to_string(1000 * (person + 1) + count);
        const auto receipt = desk->put_answer(
            state.sitting, std::string(32 - digits.size(), 'a') + digits, sent(next->item, {}));
        if (!receipt || receipt->state.answered != count + 1) return false;
        state = receipt->state;
      }
      return state.answered == 18;
    }));
  for (auto& person : people) EXPECT_TRUE(person.get());
}
