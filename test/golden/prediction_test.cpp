// What predictions say of the default set and how they move with what they assume.
#include <algorithm>
#include <cmath>

#include <gtest/gtest.h>

#include "copunctal/app/predict_set.h"
#include "copunctal/design/plate_set.h"

namespace copunctal {
namespace {

const PlateSet& seven() {
  static const PlateSet set = *load_set(COPUNCTAL_SEVEN);  // made by another ctest entry
  return set;
}

/// Of 200 observers of a kind and 60 sittings of each, computed once.
const SetPredictions& as_made() {
  static const SetPredictions predictions =
      *predict_set(seven(), {.population = 200, .sittings = 60});
  return predictions;
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
  const SetFigures& figures = as_made().figures;
  EXPECT_EQ(figures.red_green.plates, 10U);
  EXPECT_EQ(figures.blue_yellow.plates, 2U);
  ASSERT_EQ(figures.blue_yellow.misses, 1U) << "one missed tritan plate is rare among normals";
  EXPECT_GE(figures.blue_yellow.points[1].hits[0].share, 0.95);
  ASSERT_GE(figures.red_green.misses, 1U);
  EXPECT_LE(figures.red_green.misses, 4U);
  const RulePoint& rule = figures.red_green.points[figures.red_green.misses - 1];
  EXPECT_LE(rule.false_alarms.share, 0.05);
  EXPECT_GT(rule.false_alarms.error, 0);
  for (std::size_t o = 0; o < figures.red_green.observers.size(); ++o) {
    const std::string& observer = figures.red_green.observers[o];
    if (observer.ends_with(":0")) {
      EXPECT_GE(rule.hits[o].share, 0.99);
    }
    // Observers at 20 nm overlap with normals: biology, not design.
    if (observer.ends_with(":20")) {
      EXPECT_LE(figures.area[o].area, 0.8);
    }
    EXPECT_GE(figures.area[o].area, 0.5);
  }
  for (const KindNamed& named : figures.kinds)
    if (named.observer.ends_with(":0")) {
      EXPECT_GE(named.right, 0.98) << named.observer;
    }

  ASSERT_EQ(as_made().sittings.size(), standard_observers().size());
  const auto share = [&](std::string_view observer, std::size_t end) {
    return as_made().sittings[index_of(observer)].shares[end];
  };
  EXPECT_GE(share("normal", 0), 0.85);
  EXPECT_GE(share("protan:0", 1), 0.9);
  EXPECT_GE(share("deutan:0", 2), 0.9);
  EXPECT_GE(share("protan:10", 4) + share("deutan:10", 4), 0.5) << "cannot tell is said often";
  for (const SittingsEnd& end : as_made().sittings) {
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
      if (row.what == what && row.value == value) return row.figures.front().normal;
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

// More than 2000 observers are counted, one answer each; the two ways agree within their errors.
TEST(Prediction, ACrowdAnswersAsItsProbabilitiesSay) {
  const auto each = predict_set(seven(), 1000), counted = predict_set(seven(), 40000);
  ASSERT_TRUE(each && counted);
  EXPECT_FALSE(each->counted);
  EXPECT_TRUE(counted->counted);
  for (std::size_t p = 0; p < seven().plates.size(); ++p)
    for (std::size_t o = 0; o < standard_observers().size(); ++o) {
      const PredictedReading &a = each->plates[p].by_observer[o],
                             &b = counted->plates[p].by_observer[o];
      const auto expect_alike = [&](double x, double y) {
        EXPECT_NEAR(x, y, 5 * std::hypot(a.mc_error, b.mc_error) + 0.002)
            << seven().plates[p].name << " " << standard_observers()[o];
      };
      expect_alike(a.intended, b.intended);
      expect_alike(a.second, b.second);
      expect_alike(a.nothing, b.nothing);
      expect_alike(a.other, b.other);
      expect_alike(a.first_clearer, b.first_clearer);
      ASSERT_EQ(a.places.size(), b.places.size());
      for (std::size_t s = 0; s < a.places.size(); ++s) {
        expect_alike(a.places[s].nothing, b.places[s].nothing);
        for (std::size_t k = 0; k < a.places[s].reads.size(); ++k)
          expect_alike(a.places[s].reads[k], b.places[s].reads[k]);
      }
    }
}

// What is amplified after the cones hides anomalous observers, and dichromats have nothing to
// amplify.
TEST(Prediction, AGainHidesAnomalousObserversAndNobodyElse) {
  const SetPredictions& none = as_made();
  const auto full = predict_set(seven(), {.population = 200, .sittings = 60, .gain = 1});
  ASSERT_TRUE(full.has_value());
  const auto hits = [](const SetPredictions& predictions, std::size_t o) {
    return predictions.figures.red_green.points[2].hits[o].share;
  };
  for (std::size_t o = 0; o < none.figures.red_green.observers.size(); ++o) {
    const std::string& observer = none.figures.red_green.observers[o];
    if (observer.ends_with(":0")) {
      EXPECT_NEAR(hits(*full, o), hits(none, o), 1e-12) << observer;
    }
    if (observer.ends_with(":5")) {
      EXPECT_LT(hits(*full, o), hits(none, o) - 0.05) << observer;
    }
  }
  const auto ends_normal = [&](const SetPredictions& predictions, std::string_view observer) {
    return predictions.sittings[index_of(observer)].shares[0];
  };
  EXPECT_GT(ends_normal(*full, "deutan:5"), ends_normal(none, "deutan:5"));
  EXPECT_NE(predictions_text(*full).find("post-receptoral gain"), std::string::npos);
}

TEST(Prediction, AForkPlateSaysHowBothItsFiguresFail) {
  const auto at = std::find_if(seven().plates.begin(), seven().plates.end(),
                               [](const Plate& plate) { return plate.kind == PlateKind::fork; });
  const auto failure = how_it_fails(seven(), at->name, *display_from("srgb"), 60);
  ASSERT_TRUE(failure.has_value());
  const FailureRow& made = failure->rows.front();
  ASSERT_EQ(made.figures.size(), 2U);
  EXPECT_EQ(failure->aimed, (std::vector<std::string>{"protan:0", "deutan:0"}));
  EXPECT_GT(made.figures[0].aimed[0], 0.8);
  EXPECT_LT(made.figures[0].aimed[1], 0.2);
  EXPECT_LT(made.figures[1].aimed[0], 0.2);
  EXPECT_GT(made.figures[1].aimed[1], 0.8);
  EXPECT_NE(failure_text(*failure).find("its second figure is read"), std::string::npos);
  EXPECT_NE(failure_json(*failure).find("second_read_by"), std::string::npos);
}

}  // namespace
}  // namespace copunctal
