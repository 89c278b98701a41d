#include "copunctal/app/run_practical.h"

#include <cmath>
#include <set>

#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

#include "copunctal/app/run_sitting_sample_set.h"
#include "copunctal/base/hash.h"
#include "copunctal/base/random.h"
#include "copunctal/store/scratch_directory.h"
#include "copunctal/store/store.h"

namespace copunctal {
namespace {

const ReadingTables& tables() {
  static const auto built = *build_reading_tables(sample_set());
  return *built;
}

// Cells that could point to somebody never differ: whatever hides behind one, the same is said.
TEST(ReadShare, NeverTellsFewerThanFivePeopleApart) {
  for (std::int64_t of = 0; of <= 60; ++of)
    for (std::int64_t read = 0; read <= of; ++read) {
      const ReadShare share = read_share(read, of);
      if (share.as_drawn) {
        EXPECT_EQ(*share.as_drawn, read);
        EXPECT_GE(read, 5);
        EXPECT_GE(of - read, 5);
      }
      if (of < 10) {
        EXPECT_EQ(share.nearly, ReadShare::Nearly::too_few);
      } else if (read < 5) {
        EXPECT_EQ(share.nearly, ReadShare::Nearly::none);
      } else if (of - read < 5) {
        EXPECT_EQ(share.nearly, ReadShare::Nearly::all);
      } else {
        EXPECT_TRUE(share.as_drawn.has_value());
      }
    }
}

// Expected people of a class: European figures (Birch 2012, J. Opt. Soc. Am. A 29:313-320), about
// 8 % of men and .4 % of women; 15 and 15 give 1.26, as science notes on class sizes have it.
TEST(PredictionCard, ExpectsWhatPrevalenceSays) {
  const auto card =
      predicted_class(sample_set(), tables(), {.men = 15, .women = 15, .misses = 3}, "2030");
  ASSERT_TRUE(card.has_value());
  EXPECT_NEAR(card->deficient, 15 * 0.08 + 15 * 0.004, 1e-9);
  EXPECT_LE(card->hits, card->deficient);
  EXPECT_LE(card->false_alarms, 30 - card->deficient);
  EXPECT_EQ(card->first_round, 10);
  for (const CardPlate& plate : card->plates) {
    // A mixture lies between its parts, and a slip leaves no certainty.
    const auto [least, most] =
        std::minmax_element(plate.by_observer.begin(), plate.by_observer.end());
    EXPECT_GE(plate.of_class, *least);
    EXPECT_LE(plate.of_class, *most);
    EXPECT_GT(*least, 0);
    EXPECT_LT(*most, 1);
  }
  // A laxer rule finds more of both.
  const auto lax =
      predicted_class(sample_set(), tables(), {.men = 15, .women = 15, .misses = 1}, "2030");
  EXPECT_GE(lax->hits, card->hits);
  EXPECT_GE(lax->false_alarms, card->false_alarms);
}

TEST(PredictionCard, RefusesClassesAndRulesThatCannotBe) {
  for (const ClassExpected& wrong :
       {ClassExpected{0, 0, 3}, ClassExpected{-1, 5, 3}, ClassExpected{900, 101, 3},
        ClassExpected{10, 10, 0}, ClassExpected{10, 10, 11}}) {
    const auto card = predicted_class(sample_set(), tables(), wrong, "2030");
    ASSERT_FALSE(card.has_value());
    EXPECT_EQ(card.error().kind, Error::Kind::bad_input);
  }
}

// Somebody reads or misses with the probabilities of the card: then the score comes out as the card
// expects (law: the mean of -log2 P under P is its entropy), and shares within their spread.
TEST(ClassDebrief, ScoresACardThatIsRightAsItExpects) {
  const PlateSet set = sample_set();
  const PredictionCard card =
      *predicted_class(set, tables(), {.men = 300, .women = 300, .misses = 3}, "2030");
  RandomStream random(3);
  std::vector<ClassSitting> sittings(2000);
  for (ClassSitting& sitting : sittings)
    for (const CardPlate& plate : card.plates)
      sitting.readings.push_back({.plate = static_cast<std::size_t>(plate.plate),
                                  .symbols = random.uniform() < plate.of_class
                                                 ? plate.drawn
                                                 : std::vector<std::string>{}});
  const ClassDebrief right = class_debrief(set, tables(), card, sittings);
  EXPECT_EQ(right.own, 2000);
  EXPECT_NEAR(right.own_score.bits, right.own_score.expected, 0.02);
  for (std::size_t p = 0; p < card.plates.size(); ++p)
    if (right.plates[p].own.as_drawn) {
      const double share = static_cast<double>(*right.plates[p].own.as_drawn) / 2000;
      EXPECT_NEAR(share, card.plates[p].of_class, 0.05) << card.plates[p].name;
    }
  // Answers turned round score worse.
  for (ClassSitting& sitting : sittings)
    for (PlateReading& reading : sitting.readings)
      reading.symbols =
          reading.symbols.empty() ? card.plates[reading.plate].drawn : std::vector<std::string>{};
  const ClassDebrief wrong = class_debrief(set, tables(), card, sittings);
  EXPECT_GT(wrong.own_score.bits, right.own_score.bits + 0.1);
}

// Area under a known ROC: 12 who miss everything against 12 who miss nothing, 1; and with both the
// same, a half (Green & Swets 1966, from memory).
TEST(ClassDebrief, DrawsTheRocOfLentEyes) {
  const PlateSet set = sample_set();
  const PredictionCard card =
      *predicted_class(set, tables(), {.men = 12, .women = 12, .misses = 3}, "2030");
  const auto sitting = [&](const char* lent, bool reads) {
    ClassSitting one{lent, {}};
    for (const CardPlate& plate : card.plates)
      one.readings.push_back({.plate = static_cast<std::size_t>(plate.plate),
                              .symbols = reads ? plate.drawn : std::vector<std::string>{}});
    return one;
  };
  std::vector<ClassSitting> apart, same, few;
  for (int i = 0; i < 12; ++i) {
    apart.push_back(sitting("protan:0", false));
    apart.push_back(sitting("own", true));
    same.push_back(sitting("deutan:0", i % 2 == 0));
    same.push_back(sitting("own", i % 2 == 0));
  }
  const ClassDebrief clear = class_debrief(set, tables(), card, apart);
  ASSERT_TRUE(clear.roc.has_value());
  EXPECT_DOUBLE_EQ(clear.roc->area, 1);
  EXPECT_EQ(clear.roc->points.size(), 10U);
  EXPECT_EQ(clear.own, 0) << "loans are never pooled with own eyes";
  EXPECT_EQ(clear.own_score.answers, 0);
  ASSERT_EQ(clear.verdicts.size(), 1U) << "of own eyes no verdict is shown";
  EXPECT_EQ(clear.verdicts[0].meet_rule, 12);
  EXPECT_DOUBLE_EQ(class_debrief(set, tables(), card, same).roc->area, 0.5);
  few.assign(apart.begin(), apart.begin() + 18);
  EXPECT_FALSE(class_debrief(set, tables(), card, few).roc.has_value());
}

class Classes : public testing::Test {
 protected:
  Classes() {
    store = *Store::open(scratch.path(), "2030-01-02T03:04:05.678Z");
    desk = *SittingDesk::open(*store, sample_set(), clocks, kernel_random());
  }
  PracticalDesk& classes() { return desk->classes(); }
  SittingState sit(const std::string& practical, bool on_loan = false) {
    auto state = desk->begin_sitting(practical, {.consent = true,
                                                 .tell = Tell::tell,
                                                 .sex_at_birth = {},
                                                 .on_loan = on_loan,
                                                 .for_class = true});
    EXPECT_TRUE(state.has_value()) << state.error().message;
    return *state;
  }
  void answer(const SittingState& state) {
    const auto& item = *std::find_if(state.round->items.begin(), state.round->items.end(),
                                     [](const auto& one) { return !one.answered; });
    SentAnswer sent{.item = item.item,
                    .symbols = {},
                    .end = "answered",
                    .onset_ms = 1,
                    .response_ms = 2,
                    .shown_ms = 1,
                    .frames = 1,
                    .hidden = false,
                    .page_load = std::string(32, 'a')};
    EXPECT_TRUE(desk->put_answer(state.sitting, new_id(kernel_random()), sent).has_value());
  }

  ScratchDirectory scratch;
  DeskClocks clocks = system_clocks();
  std::unique_ptr<Store> store;
  std::unique_ptr<SittingDesk> desk;
};

TEST_F(Classes, ArePreparedOpenedAndClosedAndNeverGoBack) {
  const auto made = desk->create_practical({.name = "Tuesday", .exposure_ms = {}, .prepare = true});
  ASSERT_TRUE(made.has_value());
  EXPECT_EQ(made->state, "preparing");
  const std::string id = made->id;
  const auto early = desk->begin_sitting(
      id, {.consent = true, .tell = Tell::later, .sex_at_birth = {}, .on_loan = false});
  ASSERT_FALSE(early.has_value());
  EXPECT_EQ(early.error().kind, Error::Kind::conflict);
  EXPECT_EQ(classes().close(id).error().kind, Error::Kind::conflict);
  EXPECT_EQ(classes().debrief_of(id).error().kind, Error::Kind::conflict);

  const auto open = classes().open(id, {.men = 10, .women = 14, .misses = 3});
  ASSERT_TRUE(open.has_value()) << open.error().message;
  EXPECT_EQ(open->summary.state, "open");
  EXPECT_TRUE(open->card_is_as_sealed);
  EXPECT_EQ(open->summary.card_sha256, sha256_hex(open->card));
  EXPECT_EQ(nlohmann::json::parse(open->card)["women"], 14);
  EXPECT_EQ(classes().open(id, {.men = 1, .women = 1, .misses = 1}).error().kind,
            Error::Kind::conflict);

  const SittingState running = sit(id);
  answer(running);
  EXPECT_EQ(classes().debrief_of(id).error().kind, Error::Kind::conflict)
      << "nothing is said of a running practical";
  const auto closed = classes().close(id);
  ASSERT_TRUE(closed.has_value());
  EXPECT_EQ(closed->summary.state, "closed");
  EXPECT_TRUE(desk->state_of(running.sitting)->ended) << "its sittings end with it";
  const auto debrief = classes().debrief_of(id);
  ASSERT_TRUE(debrief.has_value());
  EXPECT_EQ(debrief->own, 1);
  EXPECT_EQ(debrief->plates[0].own.nearly, ReadShare::Nearly::too_few);
  EXPECT_EQ(
      desk->begin_sitting(
              id, {.consent = true, .tell = Tell::later, .sex_at_birth = {}, .on_loan = false})
          .error()
          .kind,
      Error::Kind::conflict);
}

TEST_F(Classes, AreWatchedByPseudonymWithoutAResult) {
  const std::string id = desk->create_practical({.name = "Tuesday", .exposure_ms = {}})->id;
  std::set<std::string> names;
  for (int i = 0; i < 300; ++i) names.insert(sit(id).pseudonym);
  EXPECT_EQ(names.size(), 300U) << "nobody shares a pseudonym, however many there are";
  SittingState state = sit(id);
  while (state.round && state.round->name != "which-kind") {
    answer(state);
    state = *desk->state_of(state.sitting);
  }
  const auto watched = classes().watch(id);
  ASSERT_TRUE(watched.has_value());
  EXPECT_EQ(watched->size(), 301U);
  const auto mine = std::find_if(watched->begin(), watched->end(),
                                 [&](const auto& one) { return one.pseudonym == state.pseudonym; });
  ASSERT_NE(mine, watched->end());
  // Twelve plates were missed; that there is more to do says so as little as for anybody else.
  EXPECT_EQ(mine->stage, "later rounds");
  EXPECT_EQ(mine->answered, mine->of);
  answer(state);
  const auto later = classes().watch(id);
  ASSERT_TRUE(later.has_value());
  const auto still = std::find_if(later->begin(), later->end(), [&](const auto& one) {
    return one.pseudonym == state.pseudonym;
  });
  ASSERT_NE(still, later->end());
  EXPECT_EQ(still->answered, mine->answered);
}

TEST_F(Classes, RefuseLoansThatCannotBe) {
  const auto now = desk->create_practical(
      {.name = "Tuesday", .exposure_ms = {}, .prepare = false, .loans = {"protan:0"}});
  EXPECT_EQ(now.error().kind, Error::Kind::bad_input);
  for (const char* observer : {"normal", "rod-monochromat", "somebody"}) {
    const auto made = desk->create_practical(
        {.name = "Tuesday", .exposure_ms = {}, .prepare = true, .loans = {observer}});
    EXPECT_FALSE(made.has_value()) << observer;
  }
  EXPECT_FALSE(desk->create_practical({.name = "Tuesday",
                                       .exposure_ms = {},
                                       .prepare = true,
                                       .loans = {"protan", "protan:0"}})
                   .has_value())
      << "one observer by two names";
  const std::string id = desk->create_practical({.name = "Tuesday", .exposure_ms = {}})->id;
  EXPECT_EQ(desk->begin_sitting(
                    id, {.consent = true, .tell = Tell::tell, .sex_at_birth = {}, .on_loan = true})
                .error()
                .kind,
            Error::Kind::bad_input);
}

}  // namespace
}  // namespace copunctal
