// The second judge against the reader on a whole set: two models that share the codes and nothing
// else.
#include <filesystem>
#include <iomanip>
#include <iostream>

#include <gtest/gtest.h>

#include "copunctal/app/judge_set.h"
#include "copunctal/app/predict_set.h"
#include "copunctal/base/files.h"
#include "copunctal/base/text.h"
#include "copunctal/design/plate_set.h"

namespace copunctal {
namespace {

bool is_mean_or_dichromat(const std::string& observer) {
  return observer == "normal" || observer == "protan:0" || observer == "deutan:0" ||
         observer == "tritan";
}

struct Agreement {
  int not_contradicted = 0, decided = 0;  ///< Plates.
};

// Over normals and dichromats: plates on which neither contradicts the other, and plates on which
// the judge also never calls a figure marginal.
Agreement agreement_of(const std::vector<PlateJudgement>& judgements) {
  Agreement agreement;
  for (const PlateJudgement& judgement : judgements) {
    bool contradicted = false, marginal = false;
    for (const auto& figure : judgement.figures)
      for (const SecondOpinion& opinion : figure)
        if (is_mean_or_dichromat(opinion.observer)) {
          contradicted = contradicted || opinion.disagree();
          marginal = marginal || opinion.judge.verdict == JudgeVerdict::marginal;
        }
    if (!contradicted) ++agreement.not_contradicted;
    if (!contradicted && !marginal) ++agreement.decided;
  }
  return agreement;
}

TEST(Judge, AgreesWithTheReaderOnTheDefaultSet) {
  const auto set = load_set(COPUNCTAL_SEVEN);  // made by another ctest entry
  ASSERT_TRUE(set.has_value()) << set.error().message;
  const auto predictions = predict_set(*set, 100);
  ASSERT_TRUE(predictions.has_value());
  std::vector<PlateJudgement> judgements;
  std::cout << std::fixed << std::setprecision(3);
  for (const PlatePredictions& plate : predictions->plates) {
    judgements.push_back(plate.judge);
    for (std::size_t f = 0; f < plate.judge.figures.size(); ++f) {
      std::cout << plate.name << " " << plate.judge.symbols[f];
      for (const SecondOpinion& opinion : plate.judge.figures[f])
        std::cout << " | " << opinion.observer << " " << opinion.reader << " "
                  << name_of(opinion.judge.verdict) << " " << opinion.judge.together;
      std::cout << "\n";
    }
  }
  const Agreement agreement = agreement_of(judgements);
  std::cout << "normals and dichromats: " << agreement.not_contradicted
            << " of 18 plates not contradicted, " << agreement.decided << " decided alike\n";
  EXPECT_GE(agreement.not_contradicted, 17);
  // The two plates aimed at 10 nm leave dichromats something to see; see docs/science/judge.md.
  EXPECT_GE(agreement.decided, 16);

  // What the judge's assumed constants do to it, printed: docs/science/judge.md has the table.
  const JudgeScreen screen = judge_screen_of(*display_from(set->display));
  std::vector<JudgePlate> judged;
  for (const Plate& plate : set->plates) judged.push_back(judge_plate_of(plate));
  const auto with = [&](const JudgeConstants& constants) {
    std::vector<PlateJudgement> moved;
    for (std::size_t p = 0; p < set->plates.size(); ++p) {
      std::vector<std::vector<double>> reader;
      for (const auto& figure : judgements[p].figures) {
        reader.emplace_back();
        for (const SecondOpinion& opinion : figure) reader.back().push_back(opinion.reader);
      }
      moved.push_back(judgement_of(set->plates[p], judged[p], screen, reader, constants));
    }
    return agreement_of(moved);
  };
  const auto page =
      read_file(std::filesystem::path(COPUNCTAL_SOURCE_DIR) / "docs/science/judge.md");
  ASSERT_TRUE(page.has_value());
  const auto expect_on_the_page = [&](const char* constant, double value, const Agreement& a) {
    std::cout << constant << " " << value << ": " << a.not_contradicted << " not contradicted, "
              << a.decided << " decided alike\n";
    std::string number = decimals(value, 3);
    if (value < 1) number.erase(0, 1);
    const std::string row = "| " + std::string(constant) + " " + number + " | " +
                            std::to_string(a.not_contradicted) + " | " + std::to_string(a.decided) +
                            " |";
    EXPECT_NE(page->find(row), std::string::npos) << "docs/science/judge.md has no row " << row;
  };
  for (const double efficiency : {0.05, 0.1, 0.2, 0.4, 0.8}) {
    JudgeConstants constants;
    constants.efficiency = efficiency;
    expect_on_the_page("efficiency", efficiency, with(constants));
  }
  for (const double element : {1.0, 2.0, 2.85, 4.0}) {
    JudgeConstants constants;
    constants.small_element = element;
    expect_on_the_page("small element", element, with(constants));
  }
  for (const double noise : {0.015, 0.03, 0.06}) {
    JudgeConstants constants;
    constants.luminance_noise = noise;
    expect_on_the_page("luminance noise", noise, with(constants));
  }
  // Agreement is no foregone conclusion: an eye a hundred times duller, or one that needs no
  // evidence, is contradicted.
  JudgeConstants dull;
  dull.efficiency = 0.00002;
  EXPECT_LT(with(dull).not_contradicted, 9);
  JudgeConstants keen;
  keen.efficiency = 20;
  EXPECT_LT(with(keen).not_contradicted, 9);
}

}  // namespace
}  // namespace copunctal
