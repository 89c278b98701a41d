#include "copunctal/app/judge_set.h"

#include <numeric>

#include <gtest/gtest.h>

#include "copunctal/plate/mosaic.h"

namespace copunctal {
namespace {

Plate plate_of(PlateKind kind, Aim aim) {
  Plate plate;
  plate.name = "still water";
  plate.kind = kind;
  plate.aim = aim;
  plate.seed = 100;
  plate.figures = {{"4", Place::whole}};
  if (kind == PlateKind::fork)
    plate.figures = {{"4", Place::upper_left}, {"7", Place::lower_right}};
  // Strong red on green for every figure.
  plate.codes = {{{118, 126, 84}, {134, 142, 98}}, {{188, 92, 84}, {204, 108, 98}}};
  if (kind == PlateKind::fork) plate.codes.push_back(plate.codes[1]);
  return plate;
}

std::vector<std::vector<double>> everybody(double probability, std::size_t figures = 1) {
  return std::vector<std::vector<double>>(figures,
                                          std::vector<double>(judge_eyes.size(), probability));
}

TEST(JudgeSet, TheWorseOfTwoIsWhatItSays) {
  using enum JudgeVerdict;
  EXPECT_EQ(worse_of(Meant::read, 0.9, visible), Standing::as_meant);
  EXPECT_EQ(worse_of(Meant::read, 0.5, visible), Standing::as_meant);
  EXPECT_EQ(worse_of(Meant::read, 0.9, marginal), Standing::doubtful);
  EXPECT_EQ(worse_of(Meant::read, 0.9, invisible), Standing::not_as_meant);
  EXPECT_EQ(worse_of(Meant::read, 0.49, visible), Standing::not_as_meant);
  EXPECT_EQ(worse_of(Meant::not_read, 0.1, invisible), Standing::as_meant);
  EXPECT_EQ(worse_of(Meant::not_read, 0.1, marginal), Standing::doubtful);
  EXPECT_EQ(worse_of(Meant::not_read, 0.1, visible), Standing::not_as_meant);
  EXPECT_EQ(worse_of(Meant::not_read, 0.9, invisible), Standing::not_as_meant);
  EXPECT_EQ(worse_of(Meant::free, 0.9, invisible), Standing::not_asked);
}

// docs/science/judge.md, table of what is meant.
TEST(JudgeSet, KnowsWhatEachKindIsMeantToDo) {
  const auto meant = [](PlateKind kind, Aim aim, std::size_t figure) {
    std::string words;
    for (const JudgeEye eye : judge_eyes)
      words += std::string(name_of(meant_of(plate_of(kind, aim), figure, eye))) + ",";
    return words;
  };
  // normal, protan:0, protan:10, deutan:0, deutan:6, tritan
  EXPECT_EQ(meant(PlateKind::opener, Aim::none, 0), "read,read,read,read,read,read,");
  EXPECT_EQ(meant(PlateKind::vanishing, Aim::dichromat, 0),
            "read,not read,free,not read,free,read,");
  EXPECT_EQ(meant(PlateKind::vanishing, Aim::five_nm, 0), "read,not read,free,not read,free,read,");
  EXPECT_EQ(meant(PlateKind::vanishing, Aim::ten_nm, 0),
            "read,not read,not read,not read,not read,read,");
  EXPECT_EQ(meant(PlateKind::fork, Aim::dichromat, 0), "read,read,read,not read,free,read,");
  EXPECT_EQ(meant(PlateKind::fork, Aim::dichromat, 1), "read,not read,free,read,read,read,");
  EXPECT_EQ(meant(PlateKind::tritan, Aim::none, 0), "read,read,read,read,read,not read,");
}

TEST(JudgeSet, ContradictionsAreSaidInWords) {
  const JudgeScreen screen = judge_screen_of(*display_from("srgb"));
  const Plate strong = plate_of(PlateKind::vanishing, Aim::dichromat);
  // The reader is said to read nothing where the judge sees it plainly.
  const PlateJudgement unread =
      judgement_of(strong, judge_plate_of(strong), screen, everybody(0.02));
  EXPECT_EQ(unread.worse, Standing::not_as_meant);
  ASSERT_FALSE(unread.disagreements().empty());
  EXPECT_TRUE(unread.disagreements().front().starts_with(
      "normal 4: not read by our reader (2 %), visible to the judge (d' "))
      << unread.disagreements().front();
  // A blank plate that the reader is said to read.
  Plate blank = strong;
  blank.codes[1] = blank.codes[0];
  const PlateJudgement read = judgement_of(blank, judge_plate_of(blank), screen, everybody(0.97));
  EXPECT_EQ(read.disagreements().size(), judge_eyes.size());
  EXPECT_EQ(read.disagreements().back(),
            "tritan 4: read by our reader (97 %), invisible to the judge (d' 0.0)");
  EXPECT_EQ(read.worse, Standing::not_as_meant);
  // And where both say nothing is there, they agree, and the plate does not do what it should.
  const PlateJudgement nothing =
      judgement_of(blank, judge_plate_of(blank), screen, everybody(0.01));
  EXPECT_TRUE(nothing.disagreements().empty());
  EXPECT_EQ(nothing.worse, Standing::not_as_meant);
}

TEST(JudgeSet, EveryPebbleIsCountedOnceInItsPart) {
  const Plate fork = plate_of(PlateKind::fork, Aim::dichromat);
  const JudgePlate judged = judge_plate_of(fork);
  ASSERT_EQ(judged.figures.size(), 2U);
  const auto pebbles = [](const JudgePart& part) {
    return std::accumulate(part.counts.begin(), part.counts.end(), std::size_t{0});
  };
  EXPECT_EQ(pebbles(judged.ground) + pebbles(judged.figures[0]) + pebbles(judged.figures[1]),
            mosaic_of(fork.seed).pebbles.size());
  for (const JudgePart& figure : judged.figures) {
    EXPECT_GT(pebbles(figure), 20U);
    EXPECT_LT(pebbles(figure), pebbles(judged.ground));
  }
  EXPECT_EQ(judged.ground.codes, fork.codes[0]);
  EXPECT_EQ(judged.figures[1].codes, fork.codes[2]);
  const PlateJudgement judgement =
      judgement_of(fork, judged, judge_screen_of(*display_from("srgb")), everybody(0.9, 2));
  EXPECT_EQ(judgement.symbols, (std::vector<std::string>{"4", "7"}));
  EXPECT_EQ(judgement.figures.size(), 2U);
}

// The numbers of a display against the judge's own copies of the standards.
TEST(JudgeSet, ScreensAreTheStandardsOnes) {
  for (const std::string name : {"srgb", "display-p3", "rec2020"}) {
    const JudgeScreen given = judge_screen_of(*display_from(name)), own = *standard_screen(name);
    // Ours for rec2020 are lines of whole nanometres: the standard's three digits hold.
    const double printed = name == "rec2020" ? 0.0005 : 1e-9;
    for (std::size_t p = 0; p < 3; ++p) {
      for (std::size_t k = 0; k < 2; ++k)
        EXPECT_NEAR(given.primaries[p][k], own.primaries[p][k], printed) << name;
      if (name == "rec2020") continue;  // and our display has another curve
      for (std::size_t code = 0; code < 256; ++code)
        EXPECT_NEAR(given.light[p][code], own.light[p][code], 1e-12) << name << code;
    }
    for (std::size_t k = 0; k < 2; ++k) EXPECT_NEAR(given.white[k], own.white[k], 1e-9) << name;
    EXPECT_EQ(given.veil, 0);
  }
  // 314.159 lux on 4 %: 4 cd/m2 with the black's 1, on a peak of 200.
  const Display lit = *display_from("srgb/oled,lux=314.159265,peak=200,black=1");
  EXPECT_NEAR(judge_screen_of(lit).veil, 0.025, 1e-9);
  // Another tone curve reaches the judge.
  EXPECT_NEAR(judge_screen_of(*display_from("srgb,gamma=2")).light[1][51], 0.04, 1e-12);
}

}  // namespace
}  // namespace copunctal
