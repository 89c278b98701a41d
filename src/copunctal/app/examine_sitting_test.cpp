#include "copunctal/app/examine_sitting.h"

#include <algorithm>
#include <set>

#include "copunctal/app/run_sitting_fixture.h"
#include "copunctal/plate/gate_path.h"
#include "copunctal/plate/mosaic.h"

namespace copunctal {
namespace {

struct ExamineSitting : RunSitting {
  ExaminerDesk& examiners() { return desk->examiners(); }
  SittingState examined(const std::string& eye = "both", Tell tell = Tell::tell) {
    NewSitting wish{.consent = true, .tell = tell};
    wish.examined = true;
    wish.eye = eye;
    return begin_in({}, wish);
  }
  template <class T>
  static Error::Kind kind_of_refusal(const Result<T>& result) {
    return result ? Error::Kind::usage : result.error().kind;
  }
};

}  // namespace

TEST_F(ExamineSitting, gives_an_examiner_time_to_write_down_what_was_said) {
  EXPECT_EQ(begin().grace_ms, 10'000);
  const SittingState state = examined("left");
  EXPECT_TRUE(state.examined);
  EXPECT_EQ(state.eye, "left");
  EXPECT_EQ(state.grace_ms, 120'000);
}

TEST_F(ExamineSitting, repeats_a_void_reading_at_the_end_of_its_round_and_keeps_the_original) {
  SittingState state = answer_round(examined());
  const auto item = state.round->items.front().item;
  state = desk->put_answer(state.sitting, new_answer_id(), sent(item, {}))->state;
  const std::size_t before = state.round->items.size();

  const auto after = examiners().declare_void(state.sitting, item, "not looking");
  ASSERT_TRUE(after.has_value()) << after.error().message;
  ASSERT_EQ(after->round->items.size(), before + 1);
  const auto& repeat = after->round->items.back();
  EXPECT_TRUE(repeat.is_repeat);
  EXPECT_FALSE(repeat.answered);
  EXPECT_EQ(plates_of(state.sitting).at(repeat.item), plates_of(state.sitting).at(item));
  EXPECT_NE(repeat.plate, after->round->items.front().plate);

  state = answer_all(*after);
  EXPECT_TRUE(state.ended);
  const auto sheet = examiners().sheet(state.sitting);
  ASSERT_TRUE(sheet.has_value());
  std::size_t originals = 0, repeats = 0;
  for (const auto& row : sheet->rows) {
    if (row.item == item) {
      ++originals;
      EXPECT_EQ(row.void_reason, "not looking");
      EXPECT_TRUE(row.entered.empty());
    }
    if (row.repeats == item) {
      ++repeats;
      EXPECT_TRUE(row.void_reason.empty());
      EXPECT_EQ(row.entered, row.drawn);
    }
  }
  EXPECT_EQ(originals, 1U);
  EXPECT_EQ(repeats, 1U);
}

// What was void says nothing: its miss does not bring the which-kind round, its repeat would.
TEST_F(ExamineSitting, weighs_the_repeat_and_not_the_void_reading) {
  for (const bool is_read_at_last : {true, false}) {
    SittingState state = answer_round(examined());
    // The second item of the round is a vanishing plate: the other opener stands in its middle.
    const auto item = state.round->items[1].item;
    state = desk->put_answer(state.sitting, new_answer_id(), sent(item, {}))->state;
    state = *examiners().declare_void(state.sitting, item, "interrupted");
    const auto repeat = state.round->items.back().item;
    state = answer_round(state, [&](std::int64_t at, std::vector<std::string> drawn) {
      return sent(at, at == repeat && !is_read_at_last ? std::vector<std::string>() : drawn);
    });
    EXPECT_EQ(state.round->name, is_read_at_last ? "blue-yellow" : "which-kind");
  }
}

TEST_F(ExamineSitting, refuses_to_void_what_is_not_read_not_there_void_or_over) {
  SittingState state = answer_round(examined());
  const auto first = state.round->items.front().item;
  EXPECT_EQ(kind_of_refusal(examiners().declare_void(state.sitting, first, "interrupted")),
            Error::Kind::bad_input);
  EXPECT_EQ(kind_of_refusal(examiners().declare_void(state.sitting, 999, "interrupted")),
            Error::Kind::bad_input);
  EXPECT_EQ(kind_of_refusal(examiners().declare_void(state.sitting, 0, "he was tired")),
            Error::Kind::bad_input);
  // The warm-up's reading, as long as nothing of the first round is answered.
  EXPECT_TRUE(examiners().declare_void(state.sitting, 0, "interrupted").has_value());
  EXPECT_EQ(kind_of_refusal(examiners().declare_void(state.sitting, 0, "interrupted")),
            Error::Kind::conflict);
  state = answer_round(*desk->state_of(state.sitting));
  state = answer_round(state);
  EXPECT_EQ(kind_of_refusal(examiners().declare_void(state.sitting, 0, "other")),
            Error::Kind::conflict);
  state = answer_round(state);
  ASSERT_TRUE(state.ended);
  EXPECT_EQ(kind_of_refusal(examiners().declare_void(state.sitting, first, "other")),
            Error::Kind::conflict);
  const SittingState alone = answer_round(begin());
  EXPECT_EQ(kind_of_refusal(examiners().declare_void(alone.sitting, 0, "other")),
            Error::Kind::unsupported);
}

TEST_F(ExamineSitting, notes_hesitation_and_correction_where_somebody_examines_and_nowhere_else) {
  SittingState state = answer_round(examined());
  const auto item = state.round->items[1].item;
  const auto drawn = drawn_in_sample(set, plates_of(state.sitting).at(item));
  SentAnswer answer = sent(item, drawn);
  answer.hesitated = true;
  answer.first_symbols = std::vector<std::string>{};
  ASSERT_TRUE(desk->put_answer(state.sitting, new_answer_id(), answer).has_value());
  const auto sheet = examiners().sheet(state.sitting);
  const auto row = std::find_if(sheet->rows.begin(), sheet->rows.end(),
                                [&](const auto& one) { return one.item == item; });
  ASSERT_NE(row, sheet->rows.end());
  EXPECT_TRUE(row->hesitated);
  EXPECT_EQ(row->first_symbols, std::vector<std::string>{});
  EXPECT_NEAR(*row->seconds, 0.99975, 1e-9);

  answer.first_symbols = drawn;  // corrected to the same
  EXPECT_EQ(refusal_of(state.sitting, answer), Error::Kind::bad_input);
  answer.first_symbols = std::vector<std::string>{"none such"};
  EXPECT_EQ(refusal_of(state.sitting, answer), Error::Kind::bad_input);
  const SittingState alone = begin();
  SentAnswer own = sent(alone.round->items[0].item, {});
  own.hesitated = true;
  EXPECT_EQ(refusal_of(alone.sitting, own), Error::Kind::bad_input);
}

// The practical's policy, chosen beforehand: with "miss" a late or hesitating answer is one.
TEST_F(ExamineSitting, counts_late_and_hesitating_answers_by_the_policy) {
  for (const auto& [policy, next] :
       {std::pair{"ignore", "blue-yellow"}, {"note", "blue-yellow"}, {"miss", "which-kind"}})
    for (const bool by_hesitation : {false, true}) {
      NewSitting wish{.consent = true, .tell = Tell::tell};
      wish.examined = true;
      NewPractical practical;
      practical.lateness = policy;
      SittingState state = answer_round(begin_in(practical, wish));
      const auto marked = state.round->items[1].item;
      state = answer_round(state, [&](std::int64_t at, std::vector<std::string> drawn) {
        SentAnswer answer = sent(at, std::move(drawn));
        if (at != marked) return answer;
        if (by_hesitation)
          answer.hesitated = true;
        else
          answer.end = "late";
        return answer;
      });
      EXPECT_EQ(state.round->name, next) << policy << " " << by_hesitation;
    }
}

TEST_F(ExamineSitting, sits_the_other_eye_apart_under_the_same_two_words) {
  SittingState right = examined("right");
  EXPECT_EQ(kind_of_refusal(examiners().other_eye(right.sitting)), Error::Kind::conflict);
  right = answer_all(right);
  const auto left = examiners().other_eye(right.sitting);
  ASSERT_TRUE(left.has_value()) << left.error().message;
  EXPECT_EQ(left->eye, "left");
  EXPECT_EQ(left->pseudonym, right.pseudonym);
  EXPECT_NE(left->sitting, right.sitting);
  EXPECT_EQ(left->answered, 0);
  EXPECT_EQ(kind_of_refusal(examiners().other_eye(right.sitting)), Error::Kind::conflict);
  const auto sheet = examiners().sheet(right.sitting);
  ASSERT_EQ(sheet->other_eyes.size(), 1U);
  EXPECT_EQ(sheet->other_eyes[0], (std::pair<std::string, std::string>(left->sitting, "left")));
  EXPECT_EQ(kind_of_refusal(examiners().other_eye(answer_all(examined()).sitting)),
            Error::Kind::conflict);
}

TEST_F(ExamineSitting, covers_no_eye_without_an_examiner_and_examines_nobody_off_the_record) {
  const auto practical = desk->create_practical({});
  NewSitting wish{.consent = true, .tell = Tell::tell};
  wish.eye = "left";
  EXPECT_EQ(kind_of_refusal(desk->begin_sitting(practical->id, wish)), Error::Kind::bad_input);
  wish.examined = true;
  wish.eye = "third";
  EXPECT_EQ(kind_of_refusal(desk->begin_sitting(practical->id, wish)), Error::Kind::bad_input);
  wish.eye = "both";
  wish.off_record = true;
  EXPECT_EQ(kind_of_refusal(desk->begin_sitting(practical->id, wish)), Error::Kind::bad_input);
}

// What is drawn on a plate is nobody's to read off the sheet who did not ask to know.
TEST_F(ExamineSitting, shows_what_was_drawn_only_at_the_end_and_only_to_who_wants_to_know) {
  const SittingState running = answer_round(examined());
  EXPECT_FALSE(examiners().sheet(running.sitting)->shows_drawn);
  const auto at_work = examiners().sheet(running.sitting);
  for (const auto& row : at_work->rows) EXPECT_TRUE(row.drawn.empty());
  const SittingState told = answer_all(running);
  EXPECT_TRUE(examiners().sheet(told.sitting)->shows_drawn);
  for (const Tell tell : {Tell::dont_tell, Tell::later}) {
    const auto sheet = examiners().sheet(answer_all(examined("both", tell)).sitting);
    EXPECT_FALSE(sheet->shows_drawn);
    for (const auto& row : sheet->rows) EXPECT_TRUE(row.drawn.empty());
  }
}

TEST_F(ExamineSitting, is_signed_off_once_and_never_changed) {
  const SittingState running = examined("right");
  const SignOff good{{"room", "covered eye"}, "J. K.", "S. T.", "Steady pace."};
  EXPECT_EQ(kind_of_refusal(examiners().sign_off(running.sitting, good)), Error::Kind::conflict);
  const SittingState ended = answer_all(running);
  for (const SignOff& wrong :
       {SignOff{{"room", "room"}, "a", "b", ""}, SignOff{{"no such"}, "a", "b", ""},
        SignOff{{}, "", "b", ""}, SignOff{{}, "a", std::string(65, 'b'), ""},
        SignOff{{}, "a", "b", std::string(501, 'c')}})
    EXPECT_EQ(kind_of_refusal(examiners().sign_off(ended.sitting, wrong)), Error::Kind::bad_input);
  const auto sheet = examiners().sign_off(ended.sitting, good);
  ASSERT_TRUE(sheet.has_value()) << sheet.error().message;
  EXPECT_EQ(sheet->sign_off->done, good.done);
  EXPECT_EQ(sheet->sign_off->supervisor, "S. T.");
  EXPECT_EQ(kind_of_refusal(examiners().sign_off(ended.sitting, good)), Error::Kind::conflict);
  // With both eyes open no eye was covered.
  const auto both = examiners().sign_off(answer_all(examined()).sitting, good);
  EXPECT_EQ(kind_of_refusal(both), Error::Kind::bad_input);
}

TEST(Rota, LetsEverybodySitOnceAndExamineOnceNeverThemselves) {
  for (const std::int64_t people : {2, 3, 4, 5, 13, 30, 301})
    for (const std::int64_t stations : {1, 4, 200}) {
      const auto rota = rota_for(people, stations);
      ASSERT_TRUE(rota.has_value());
      std::multiset<int> sat, examined;
      for (const auto& turn : rota->turns) {
        std::set<int> at_work, used;
        for (const Rota::Place& place : turn) {
          sat.insert(place.sits);
          examined.insert(place.examines);
          EXPECT_NE(place.sits, place.examines);
          EXPECT_TRUE(at_work.insert(place.sits).second);
          EXPECT_TRUE(at_work.insert(place.examines).second);
          EXPECT_TRUE(used.insert(place.station).second);
          EXPECT_LE(place.station, stations);
        }
      }
      for (int person = 1; person <= people; ++person) {
        EXPECT_EQ(sat.count(person), 1U);
        EXPECT_EQ(examined.count(person), 1U);
      }
      EXPECT_EQ(sat.size(), static_cast<std::size_t>(people));
    }
  EXPECT_FALSE(rota_for(1, 3).has_value());
  EXPECT_FALSE(rota_for(10, 0).has_value());
}

// The way itself, drawn along its middle, is followed; half of it, in part; another gate's, not.
TEST(DrawnPath, TellsWhichWayALineFollowed) {
  const PlateSet set = sample_set(SymbolFamily::paths);
  const Plate& plate = set.plates[1];
  const auto line = [&](const std::string& gate, double share) {
    DrawnStroke stroke;
    const auto& way = way_to(gate, path_shape_of(plate.seed));
    const auto corners = static_cast<std::size_t>(share * static_cast<double>(way.size()));
    for (std::size_t i = 0; i < corners; ++i)
      stroke.push_back({field_margin + (1 - 2 * field_margin) * way[i].x,
                        field_margin + (1 - 2 * field_margin) * way[i].y,
                        300.0 + 20.0 * static_cast<double>(i)});
    return stroke;
  };
  const std::string drawn = plate.figures[0].symbol;
  const auto whole = score_drawn(plate, {line(drawn, 1)});
  ASSERT_TRUE(whole.has_value());
  EXPECT_EQ(whole->followed, drawn);
  EXPECT_EQ(whole->how, "followed");
  EXPECT_LT(whole->mean, 1e-6);
  EXPECT_NEAR(whole->completeness, 1, 1e-9);
  EXPECT_NEAR(whole->first_ms, 300, 1e-9);
  for (const std::string& gate : gate_symbols()) {
    if (gate == drawn) continue;
    const auto other = score_drawn(plate, {line(gate, 1)});
    EXPECT_EQ(other->followed, gate);
    EXPECT_NE(other->how, "followed");
    EXPECT_GT(other->off_path, 0.1);
  }
  EXPECT_FALSE(score_drawn(plate, {}).has_value());
  EXPECT_FALSE(score_drawn(sample_set().plates[1], {line(drawn, 1)}).has_value());
}

TEST_F(ExamineSitting, keeps_what_was_drawn_and_refuses_what_no_pen_draws) {
  set = sample_set(SymbolFamily::paths);
  open();
  SittingState state = answer_round(begin());
  const auto item = state.round->items[1].item;
  SentAnswer answer = sent(item, drawn_in_sample(set, plates_of(state.sitting).at(item)));
  answer.strokes = {{{0.5, 0.9, 100}, {0.5, 0.7, 180}}, {{0.5, 0.7, 250}, {0.25, 0.5, 400}}};
  ASSERT_TRUE(desk->put_answer(state.sitting, new_answer_id(), answer).has_value());
  const auto kept = store->read<std::vector<AnswerRecord>>(
      [&](const Records& records) { return records.answers_of(state.sitting); });
  const auto stored =
      std::find_if(kept->begin(), kept->end(), [&](const auto& one) { return one.item == item; });
  ASSERT_NE(stored, kept->end());
  EXPECT_EQ(stored->strokes, answer.strokes);

  SentAnswer wrong = sent(state.round->items[2].item, {});
  for (const std::vector<DrawnStroke>& strokes : {std::vector<DrawnStroke>{{}},
                                                  {{{0.5, 0.5, 100}, {0.5, 0.6, 90}}},
                                                  {{{9, 0.5, 100}}},
                                                  {DrawnStroke(4001, {0.5, 0.5, 1})},
                                                  std::vector<DrawnStroke>(65, {{0.5, 0.5, 1}})}) {
    wrong.strokes = strokes;
    EXPECT_EQ(refusal_of(state.sitting, wrong), Error::Kind::bad_input);
  }
}

}  // namespace copunctal
