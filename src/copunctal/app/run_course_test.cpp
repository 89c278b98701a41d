#include "copunctal/app/run_course.h"

#include <algorithm>

#include "copunctal/app/run_practical.h"
#include "copunctal/app/run_sitting_fixture.h"
#include "copunctal/base/files.h"
#include "copunctal/store/data_keeper.h"

namespace copunctal {
namespace {

constexpr const char* rater = "00000000000000000000000000000abc";

struct RunCourse : RunSitting {
  CourseDesk& courses() { return desk->courses(); }
  template <class T>
  static Error::Kind kind_of_refusal(const Result<T>& result) {
    return result ? Error::Kind::usage : result.error().kind;
  }
};

}  // namespace

TEST_F(RunCourse, lets_missed_plates_and_as_many_read_ones_come_again) {
  NewPractical practical;
  practical.again = true;
  for (const std::size_t misses : {0U, 1U, 3U}) {
    SittingState state = answer_round(begin_in(practical, {.consent = true, .tell = Tell::tell}));
    std::size_t missed = 0;
    state = answer_round(state, [&](std::int64_t at, std::vector<std::string> drawn) {
      const bool misses_it = kind_of(state.sitting, at) == PlateKind::vanishing && missed < misses;
      if (misses_it) ++missed;
      return sent(at, misses_it ? std::vector<std::string>() : std::move(drawn));
    });
    while (state.round && state.round->name != "again") state = answer_round(state);
    ASSERT_TRUE(state.round) << misses;
    // Some come in any case, so that their coming tells nobody anything.
    EXPECT_EQ(state.round->items.size(), misses + std::max<std::size_t>(misses, 2));
    state = answer_round(state);
    EXPECT_TRUE(state.ended);
  }
}

TEST_F(RunCourse, weighs_the_first_reading_and_shows_the_second_beside_it) {
  open(1, build_reading_tables);
  NewPractical practical;
  practical.again = true;
  SittingState state = answer_round(begin_in(practical, {.consent = true, .tell = Tell::tell}));
  const auto missed = state.round->items[1].item;
  state = answer_round(state, [&](std::int64_t at, std::vector<std::string> drawn) {
    return sent(at, at == missed ? std::vector<std::string>() : std::move(drawn));
  });
  state = answer_all(state);
  const auto outcome = desk->outcome(state.sitting);
  ASSERT_TRUE(outcome.has_value());
  ASSERT_EQ(outcome->again.size(), 3U);
  EXPECT_EQ(outcome->debrief->plates.size(), outcome->shown.size());
  EXPECT_EQ(std::count_if(outcome->again.begin(), outcome->again.end(),
                          [](const auto& one) { return one.agree; }),
            2);
  for (const auto& shown : outcome->shown) EXPECT_NE(shown.round, "again");
  EXPECT_EQ(std::count_if(outcome->debrief->plates.begin(), outcome->debrief->plates.end(),
                          [](const auto& plate) { return !plate.as_drawn; }),
            1);
}

TEST_F(RunCourse, ends_before_what_comes_again_and_nowhere_else) {
  NewPractical practical;
  practical.again = true;
  SittingState state = begin_in(practical, {.consent = true, .tell = Tell::tell});
  EXPECT_EQ(kind_of_refusal(desk->end_before_again(state.sitting)), Error::Kind::conflict);
  while (state.round->name != "again") state = answer_round(state);
  EXPECT_TRUE(desk->end_before_again(state.sitting)->ended);
  EXPECT_EQ(kind_of_refusal(desk->end_before_again(state.sitting)), Error::Kind::conflict);
  open(2);
  EXPECT_TRUE(desk->state_of(state.sitting)->ended);
}

TEST_F(RunCourse, prepares_last_years_practical_once_more) {
  NewPractical wish;
  wish.name = "Week 4";
  wish.exposure_ms = 2500;
  wish.lateness = "note";
  wish.again = true;
  wish.keep_until = "2031-01-31";
  wish.course = "Perception";
  const auto was = desk->create_practical(wish);
  const auto copy = courses().copy(was->id, "Week 4 once more", "Perception", "Tuesday");
  ASSERT_TRUE(copy.has_value()) << copy.error().message;
  EXPECT_NE(copy->id, was->id);
  EXPECT_EQ(copy->state, "preparing");
  EXPECT_EQ(copy->exposure_ms, 2500);
  EXPECT_EQ(copy->lateness, "note");
  EXPECT_TRUE(copy->again);
  EXPECT_EQ(copy->group, "Tuesday");
  EXPECT_EQ(copy->keep_until, "");  // another year, another last day
  EXPECT_EQ(kind_of_refusal(courses().copy(was->id, std::string(65, 'x'), "", "")),
            Error::Kind::bad_input);
  EXPECT_EQ(kind_of_refusal(courses().copy(std::string(32, '0'), "x", "", "")),
            Error::Kind::not_found);
}

// Nothing leads from the list to a sitting: entries alone, in the order of the alphabet.
TEST_F(RunCourse, lists_who_took_part_without_a_way_to_an_answer) {
  const auto practical = desk->create_practical({});
  for (const char* entry : {"s4711", "a0815", "m1234", "a0815"})
    ASSERT_TRUE(courses().take_part(practical->id, entry).has_value());
  EXPECT_EQ(*courses().participations(practical->id),
            (std::vector<std::string>{"a0815", "m1234", "s4711"}));
  for (const std::string& wrong : {std::string(), std::string(65, 'x'), std::string("a\nb")})
    EXPECT_EQ(kind_of_refusal(courses().take_part(practical->id, wrong)), Error::Kind::bad_input);
  NewPractical later;
  later.prepare = true;
  EXPECT_EQ(kind_of_refusal(courses().take_part(desk->create_practical(later)->id, "x")),
            Error::Kind::conflict);
}

TEST_F(RunCourse, finds_a_sitting_by_its_own_code_alone) {
  const SittingState state = answer_all(begin(Tell::later));
  const auto code = courses().new_collect_code(state.sitting);
  ASSERT_TRUE(code.has_value());
  ASSERT_EQ(code->size(), 16U);
  std::string typed;
  for (const char c : *code) {
    typed += static_cast<char>(c >= 'A' ? c - 'A' + 'a' : c);
    if (typed.size() % 5 == 4) typed += '-';
  }
  EXPECT_EQ(*courses().collect(typed), state.sitting);
  const auto next = courses().new_collect_code(state.sitting);
  EXPECT_EQ(kind_of_refusal(courses().collect(*code)), Error::Kind::not_found);
  EXPECT_EQ(*courses().collect(*next), state.sitting);
  for (const char* wrong : {"", "7K3M-9QXT", "7K3M-9QXT-7K3M-9QX!"})
    EXPECT_EQ(kind_of_refusal(courses().collect(wrong)), Error::Kind::bad_input);
  // The store has no code, only what it hashes to.
  store.reset();
  desk.reset();
  const std::string bytes = *read_file(scratch.path() / "copunctal.db");
  EXPECT_EQ(bytes.find(*next), std::string::npos);
  EXPECT_NE(bytes.find(state.sitting), std::string::npos);
}

TEST_F(RunCourse, removes_a_practical_for_good_once_its_last_day_has_passed) {
  const auto kept = desk->create_practical({});
  const auto gone = desk->create_practical({});
  ASSERT_TRUE(courses().keep_until(gone->id, "2030-01-02").has_value());
  ASSERT_TRUE(courses().keep_until(kept->id, "2030-01-02").has_value());
  ASSERT_TRUE(courses().keep_until(kept->id, std::nullopt).has_value());
  for (const char* wrong : {"2030-01-01", "2030-02-30", "soon", "2030-1-2"})
    EXPECT_EQ(kind_of_refusal(courses().keep_until(gone->id, wrong)), Error::Kind::bad_input);
  const SittingState state = *desk->begin_sitting(gone->id, {.consent = true, .tell = Tell::tell});
  desk.reset();
  store.reset();
  const auto at = [&](const char* day) {
    return remove_expired(scratch.path(), [day] { return std::string(day) + "T08:00:00.000Z"; });
  };
  EXPECT_TRUE(at("2030-01-02")->empty());
  EXPECT_EQ(*at("2030-01-03"), std::vector<std::string>{gone->name});
  EXPECT_TRUE(at("2030-01-03")->empty());
  const std::string bytes = *read_file(scratch.path() / "copunctal.db");
  EXPECT_EQ(bytes.find(gone->id), std::string::npos);
  EXPECT_EQ(bytes.find(state.sitting), std::string::npos);
  EXPECT_NE(bytes.find(kept->id), std::string::npos);
  EXPECT_TRUE(
      remove_expired(scratch.path() / "nothing here", [] { return std::string(now); })->empty());
}

// Published worked example of an area and its error: normals and deficient of the teaching set in
// the science notes, computed there for this project: area .990000, error .022843 (Hanley & McNeil
// 1982, Radiology 143:29-36, its formula).
TEST(RatedArea, AgreesWithTheWorkedExample) {
  const std::vector<double> normals = {0, 0, 0, 1, 0, 2, 1, 0, 0, 3, 0, 1, 0, 0, 1, 0, 2, 0, 1, 0},
                            deficient = {12, 15, 9, 14, 4, 16, 13, 2, 11, 10};
  const RatedArea area = rated_area(deficient, normals);
  EXPECT_NEAR(area.area, 0.99, 1e-6);
  EXPECT_NEAR(area.error, 0.022843, 1e-6);
  // Whoever guesses is at a half; a perfect rater at one.
  EXPECT_NEAR(rated_area({3, 3}, {3, 3, 3}).area, 0.5, 1e-12);
  EXPECT_NEAR(rated_area({5, 4}, {1, 2}).area, 1, 1e-12);
}

TEST_F(RunCourse, lets_the_class_judge_sheets_without_names_once_it_is_closed) {
  open(1, build_reading_tables);
  NewPractical wish;
  wish.prepare = true;
  wish.loans = {"deutan:0"};
  const auto practical = desk->create_practical(wish);
  Result<PracticalInFull> opened = tl::unexpected(Error{});
  do opened = desk->classes().open(practical->id, {.men = 10, .women = 10, .misses = 3});
  while (!opened && opened.error().kind == Error::Kind::conflict);
  ASSERT_TRUE(opened.has_value()) << opened.error().message;
  std::vector<std::string> sittings;
  for (int person = 0; person < 12; ++person) {
    NewSitting sitting{.consent = true, .tell = Tell::tell};
    sitting.on_loan = true;
    sitting.for_class = person != 11;  // one who does not agree
    SittingState state = *desk->begin_sitting(practical->id, sitting);
    sittings.push_back(state.sitting);
    const auto record = *store->read<std::optional<SittingRecord>>(
        [&](const Records& records) { return records.sitting(state.sitting); });
    const bool is_lent = record->loan != "own";
    while (state.round)
      state = answer_round(state, [&](std::int64_t at, std::vector<std::string> drawn) {
        const bool misses = is_lent && kind_of(state.sitting, at) == PlateKind::vanishing;
        return sent(at, misses ? std::vector<std::string>() : std::move(drawn));
      });
  }
  EXPECT_EQ(kind_of_refusal(courses().blind_sheets(practical->id, rater)), Error::Kind::conflict);
  ASSERT_TRUE(desk->classes().close(practical->id).has_value());
  const auto sheets = courses().blind_sheets(practical->id, rater);
  ASSERT_TRUE(sheets.has_value());
  ASSERT_EQ(sheets->size(), 11U);

  for (const BlindSheet& sheet : *sheets) {
    EXPECT_FALSE(sheet.rating.has_value());
    const auto misses = std::count_if(sheet.rows.begin(), sheet.rows.end(),
                                      [](const auto& row) { return row.read != row.drawn; });
    ASSERT_TRUE(courses()
                    .rate(practical->id, rater, sheet.number, misses > 3 ? 5 : 1,
                          misses > 3 ? "deutan" : "normal")
                    .has_value());
  }
  // The same rater once more: the last word counts, and no vote is added.
  ASSERT_TRUE(courses().rate(practical->id, rater, 1, 3, "normal").has_value());
  const auto result = courses().blind_result(practical->id);
  ASSERT_TRUE(result.has_value()) << result.error().message;
  EXPECT_EQ(result->raters, 1);
  EXPECT_EQ(result->sheets, 11);
  EXPECT_EQ(result->ratings, 11);
  EXPECT_EQ(result->with + result->without, 11);
  ASSERT_GE(std::min(result->with, result->without), 5);
  EXPECT_GT(result->area, 0.85);
  ASSERT_EQ(result->points.size(), 4U);
  EXPECT_GT(result->points[0].hits, 0.8);
  EXPECT_EQ(result->points[0].false_alarms, 0);
  EXPECT_GT(result->computed_area, 0.5);

  EXPECT_EQ(kind_of_refusal(courses().rate(practical->id, rater, 12, 3, "normal")),
            Error::Kind::bad_input);
  EXPECT_EQ(kind_of_refusal(courses().rate(practical->id, rater, 1, 6, "normal")),
            Error::Kind::bad_input);
  EXPECT_EQ(kind_of_refusal(courses().rate(practical->id, rater, 1, 3, "tired")),
            Error::Kind::bad_input);
  EXPECT_EQ(kind_of_refusal(courses().rate(practical->id, "somebody", 1, 3, "normal")),
            Error::Kind::bad_input);
}

}  // namespace copunctal
