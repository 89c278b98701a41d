#include "copunctal/app/room_show.h"

#include <gtest/gtest.h>

#include "copunctal/app/print_plates.h"
#include "copunctal/app/run_sitting_sample_set.h"

using namespace copunctal;

namespace {

using Cells = std::vector<std::optional<std::size_t>>;

struct Shown : testing::Test {
  std::int64_t now_ns = 0;
  PlateSet set = sample_set();
  PlateWorkshop workshop{"/nonexistent", set};
  ShowDesk desk{workshop, kernel_random(), [this] { return now_ns; }};
  std::string id = desk.begin("in-use")->id;

  std::string symbol(std::size_t place) { return set.plates[place].figures[0].symbol; }
  ShowState at(std::size_t step) { return *desk.go_to(id, step); }
};

}  // namespace

TEST_F(Shown, goes_through_the_set_in_the_order_of_the_answer_sheet) {
  const ShowState begun = *desk.state(id);
  EXPECT_EQ(begun.phase, ShowPhase::blank);
  EXPECT_EQ(begun.of, set.plates.size());
  for (std::size_t step = 0; step < begun.steps; ++step) {
    const ShowState state = at(step);
    EXPECT_EQ(state.place, step / 3);
    EXPECT_EQ(state.plate.name, set.plates[step / 3].name);
    EXPECT_EQ(static_cast<std::size_t>(state.phase), step % 3) << "blank between two plates";
  }
  EXPECT_TRUE(at(begun.steps).is_over);
  EXPECT_EQ(at(begun.steps).phase, ShowPhase::blank);
  EXPECT_FALSE(desk.go_to(id, begun.steps + 1));
  // The sheet numbers its rows of boxes 1 to n in the set's order, with the plate's own symbols.
  std::string sheet;
  for (const std::string& page : answer_sheet(set)) sheet += page;
  EXPECT_NE(sheet.find(">" + std::to_string(set.plates.size()) + "<"), std::string::npos);
  EXPECT_EQ(sheet.find(">" + std::to_string(set.plates.size() + 1) + "<"), std::string::npos);
}

TEST_F(Shown, keeps_its_place_and_the_time_a_plate_stands) {
  at(1);
  now_ns += 2'500'000'000;
  EXPECT_EQ(desk.state(id)->on_for_ms, 2500);
  EXPECT_EQ(at(2).on_for_ms, 2500) << "revealing is no new plate";
  EXPECT_EQ(at(3).on_for_ms, std::nullopt);
  EXPECT_EQ(at(4).on_for_ms, 0);
}

TEST_F(Shown, takes_answers_while_the_plate_stands_and_no_longer) {
  EXPECT_FALSE(desk.answer(1, 0, {symbol(0)})) << "not before";
  at(1);
  const auto given = desk.answer(1, 0, {symbol(0)});
  ASSERT_TRUE(given) << given.error().message;
  EXPECT_EQ(given->mine, std::vector{symbol(0)});
  EXPECT_FALSE(desk.answer(1, 1, {})) << "another plate";
  EXPECT_FALSE(desk.answer(1, 0, {"9"})) << "no symbol of the row";
  ASSERT_TRUE(desk.answer(1, 0, {})) << "changed while it stands";
  EXPECT_EQ(desk.state(id)->tally.answered, 1U);
  EXPECT_FALSE(desk.state(id)->tally.is_told) << "nothing is told before it is revealed";
  EXPECT_TRUE(desk.state(id)->tally.cells.empty());
  at(2);
  EXPECT_FALSE(desk.answer(2, 0, {}));
  at(1);
  EXPECT_FALSE(desk.answer(2, 0, {})) << "nor when it is shown once more";
  EXPECT_FALSE(desk.for_phone(2)->is_open);
}

TEST_F(Shown, counts_answers_with_small_cells_hidden) {
  at(1);
  const std::string other = symbol(0) == "1" ? "2" : "1";
  for (int device = 1; device <= 13; ++device)
    ASSERT_TRUE(
        desk.answer(device, 0, device <= 8 ? std::vector{symbol(0)} : std::vector<std::string>{}));
  ShowTally tally = at(2).tally;
  EXPECT_EQ(tally.answered, 13U);
  EXPECT_EQ(tally.as_drawn.as_drawn, 8);
  for (const auto& [name, count] : tally.cells) {
    if (name == symbol(0))
      EXPECT_EQ(count, 8U);
    else if (name == "no figure")
      EXPECT_EQ(count, 5U);
    else
      EXPECT_EQ(count, std::nullopt) << name;
  }
  // The next plate: three of ten read nothing, which the seven others would give away.
  at(4);
  for (int device = 1; device <= 10; ++device)
    ASSERT_TRUE(
        desk.answer(device, 1, device <= 7 ? std::vector{symbol(1)} : std::vector<std::string>{}));
  tally = at(5).tally;
  EXPECT_EQ(tally.as_drawn.as_drawn, std::nullopt);
  for (const auto& [name, count] : tally.cells) EXPECT_EQ(count, std::nullopt) << name;
}

TEST(ShowTally, leaves_out_so_much_that_the_rest_cannot_be_worked_out) {
  EXPECT_EQ(without_small_cells({8, 5, 0}), (Cells{8, 5, std::nullopt}));
  EXPECT_EQ(without_small_cells({20, 6, 2}), (Cells{20, std::nullopt, std::nullopt}));
  EXPECT_EQ(without_small_cells({20, 3, 2}), (Cells{20, std::nullopt, std::nullopt}));
  EXPECT_EQ(without_small_cells({20, 4}), (Cells{std::nullopt, std::nullopt}));
  EXPECT_EQ(without_small_cells({4, 4, 4}), (Cells{std::nullopt, std::nullopt, std::nullopt}));
  EXPECT_EQ(without_small_cells({}), Cells{});
}

TEST_F(Shown, draws_its_plates_for_the_projector) {
  const auto picture = desk.picture(id, 0, 400);
  ASSERT_TRUE(picture);
  EXPECT_EQ(picture->bytes->size(), 3U * 400 * 400);
  EXPECT_EQ(desk.picture(id, 0, 400)->bytes, picture->bytes) << "drawn once";
  EXPECT_FALSE(desk.picture(id, set.plates.size(), 400));
  EXPECT_FALSE(desk.picture(id, 0, 199));
  EXPECT_FALSE(desk.picture(id, 0, 1601));
}

TEST_F(Shown, ends_with_everything_that_was_answered) {
  at(1);
  ASSERT_TRUE(desk.answer(1, 0, {}));
  ASSERT_TRUE(desk.end(id));
  EXPECT_FALSE(desk.state(id));
  EXPECT_EQ(desk.for_phone(1), std::nullopt);
  EXPECT_FALSE(desk.answer(1, 0, {}));
  id = desk.begin("in-use")->id;
  EXPECT_EQ(at(2).tally.answered, 0U);
  EXPECT_FALSE(desk.begin("no such set"));
}
