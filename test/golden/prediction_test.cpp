// What predictions say of the default set and how they move with what they assume.
#include <algorithm>

#include <gtest/gtest.h>

#include "copunctal/app/predict_set.h"
#include "copunctal/design/plate_set.h"

namespace copunctal {
namespace {

const PlateSet& seven() {
  static const PlateSet set = *load_set(COPUNCTAL_SEVEN);  // made by another ctest entry
  return set;
}

std::size_t index_of(std::string_view observer) {
  const auto& names = standard_observers();
  return static_cast<std::size_t>(std::find(names.begin(), names.end(), observer) - names.begin());
}

TEST(Prediction, EveryAnswerHasItsProbabilityAndTheyAddUp) {
  const auto predictions = predict_set(seven(), 20);
  ASSERT_TRUE(predictions.has_value());
  for (const PlatePredictions& plate : predictions->plates)
    for (const PredictedReading& reading : plate.by_observer) {
      EXPECT_EQ(reading.places.size(), plate.fork ? 2U : 1U);
      for (const SlotReading& place : reading.places) {
        double sum = place.nothing;
        for (const double p : place.reads) sum += p;
        EXPECT_NEAR(sum, 1, 1e-9);
      }
    }
  // The figures' text stands in both forms.
  EXPECT_NE(predictions_text(*predictions).find("area under the ROC"), std::string::npos);
  EXPECT_NE(predictions_json(*predictions).find("\"kind_by_forks\""), std::string::npos);
}

TEST(Prediction, TheSetTellsDichromatsAndSaysWhomItCannotTell) {
  const auto predictions = predict_set(seven(), {.population = 200, .sittings = 60});
  ASSERT_TRUE(predictions.has_value());
  const SetFigures& figures = predictions->figures;
  EXPECT_EQ(figures.plates, 10U);
  ASSERT_GE(figures.rule_misses, 1U);
  EXPECT_LE(figures.rule_misses, 4U);
  const RulePoint& rule = figures.rule[figures.rule_misses - 1];
  EXPECT_LE(rule.false_alarms, 0.05);
  for (std::size_t o = 0; o < figures.observers.size(); ++o) {
    if (figures.observers[o].ends_with(":0")) {
      EXPECT_GE(rule.hits[o], 0.99);
    }
    // Observers at 20 nm overlap with normals: biology, not design.
    if (figures.observers[o].ends_with(":20")) {
      EXPECT_LE(figures.area[o].area, 0.8);
    }
    EXPECT_GE(figures.area[o].area, 0.5);
  }
  for (const KindNamed& named : figures.kinds)
    if (named.observer.ends_with(":0")) {
      EXPECT_GE(named.right, 0.98) << named.observer;
    }

  ASSERT_EQ(predictions->sittings.size(), standard_observers().size());
  const auto share = [&](std::string_view observer, std::size_t end) {
    return predictions->sittings[index_of(observer)].shares[end];
  };
  EXPECT_GE(share("normal", 0), 0.85);
  EXPECT_GE(share("protan:0", 1), 0.9);
  EXPECT_GE(share("deutan:0", 2), 0.9);
  EXPECT_GE(share("protan:10", 4) + share("deutan:10", 4), 0.5) << "cannot tell is said often";
  for (const SittingsEnd& end : predictions->sittings) {
    double sum = 0;
    for (const double one : end.shares) sum += one;
    EXPECT_NEAR(sum, 1, 1e-9);
  }
}

TEST(Prediction, AssumptionsMoveItTheWayTheyMust) {
  const Display display = *display_from("srgb");
  const AssumptionFigures figures = assumption_figures(seven(), display, 40);
  ASSERT_EQ(figures.rows.size(), 1 + other_assumptions(display).size());
  const auto row = [&](std::string_view assumption, std::string_view value) -> const Headline& {
    for (const auto& one : figures.rows)
      if (one.assumption == assumption && one.value == value) return one.headline;
    ADD_FAILURE() << assumption << " " << value;
    return figures.rows.front().headline;
  };
  const Headline& as_is = figures.rows.front().headline;
  EXPECT_LE(row("element noise K", "3.6").false_alarms, as_is.false_alarms);
  EXPECT_GE(row("element noise K", "9.6").false_alarms, as_is.false_alarms);
  EXPECT_LE(row("efficiency", "0.2").false_alarms, as_is.false_alarms);
  EXPECT_GE(row("efficiency", "0.05").false_alarms, as_is.false_alarms);
  EXPECT_LT(row("post-receptoral gain", "1").hits_at_5, as_is.hits_at_5);
  EXPECT_NEAR(row("post-receptoral gain", "1").hits_at_0, as_is.hits_at_0, 1e-12)
      << "a dichromat has nothing to amplify";
  // Plates at dichromats hold for dichromats whatever is assumed; at 5 nm hardly anything does.
  for (std::size_t p = 0; p < seven().plates.size(); ++p) {
    const Plate& plate = seven().plates[p];
    if (plate.kind != PlateKind::vanishing || plate.aim != Aim::dichromat) continue;
    EXPECT_LE(figures.ranges[p][index_of("protan:0")][0].most, 0.08) << plate.name;
    const Range& at_five = figures.ranges[p][index_of("protan:5")][0];
    EXPECT_GE(at_five.most - at_five.least, 0.05) << plate.name;
    EXPECT_FALSE(at_five.by.empty());
  }
}

TEST(Prediction, APlateSaysHowItFails) {
  const Display display = *display_from("srgb");
  const auto at = std::find_if(seven().plates.begin(), seven().plates.end(),
                               [](const Plate& plate) { return plate.aim == Aim::ten_nm; });
  const auto failure = how_it_fails(seven(), at->name, display, 60);
  ASSERT_TRUE(failure.has_value());
  EXPECT_EQ(failure->aimed, (std::vector<std::string>{"protan:10", "deutan:10"}));
  const auto normal = [&](std::string_view what, std::string_view value) {
    for (const FailureRow& row : failure->rows)
      if (row.what == what && row.value == value) return row.normal;
    ADD_FAILURE() << what << " " << value;
    return 0.0;
  };
  const double made = normal("as made", "");
  EXPECT_LT(normal("light in the room", "2000 lux"), made);
  EXPECT_LT(normal("light in the room", "2000 lux"), normal("light in the room", "100 lux"));
  EXPECT_LT(normal("viewing distance", "x 4"), normal("viewing distance", "x 2"));
  EXPECT_LT(normal("viewing distance", "x 2"), made);
  EXPECT_GE(normal("viewing distance", "x 0.5"), made);
  EXPECT_NE(failure->words.find("viewing distance x 4"), std::string::npos) << failure->words;

  const auto unknown = how_it_fails(seven(), "calm rivr", display, 10);
  ASSERT_FALSE(unknown.has_value());
  EXPECT_EQ(unknown.error().kind, Error::Kind::not_found);
  EXPECT_NE(unknown.error().remedy.find("nearest is '"), std::string::npos);
}

}  // namespace
}  // namespace copunctal
