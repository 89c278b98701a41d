// On loan: normals answer as the lent observer does, over individuals no loan was fitted on.
#include <cmath>
#include <cstdio>

#include <gtest/gtest.h>

#include "copunctal/design/lend.h"
#include "copunctal/design/make_set.h"
#include "copunctal/vision/signals.h"

namespace copunctal {
namespace {

const PlateSet& seven() {
  static const PlateSet set = *load_set(COPUNCTAL_SEVEN);  // made by another ctest entry
  return set;
}

// Other individuals than designs, verdicts and loans have seen, numbered alike for every kind.
std::vector<Eye> others(const std::string& observer, const Display& display) {
  const IndividualEyes individuals(*observer_from(observer), display);
  std::vector<Eye> eyes;
  for (std::uint32_t i = 0; i < 400; ++i) eyes.push_back(individuals(99, i));
  return eyes;
}

TEST(Loan, OfADichromatLeavesTheNominalNormalNoSignalOfThatKindAtAll) {
  const Display display = *display_from("srgb");
  const Eye normal = nominal_eye(Observer{}, display);
  RandomStream random(5, 1);
  for (const char* name : {"protan:0", "deutan:0", "tritan"}) {
    const Observer lent = *observer_from(name);
    const Eye eye = nominal_eye(lent, display);
    const Loan loan = *Loan::make(lent, display, normal.l_weight);
    for (int i = 0; i < 1000; ++i) {
      const LinearRgb colour{random.uniform(0.05, 0.9), random.uniform(0.05, 0.9),
                             random.uniform(0.05, 0.9)};
      const OpponentSignal seen = signal_of(normal, Adaptation{}, loan(colour)),
                           meant = signal_of(eye, Adaptation{}, colour);
      EXPECT_NEAR(lent.kind == ObserverKind::tritan ? seen.yellow_violet : seen.red_green, 0, 1e-9);
      EXPECT_NEAR(seen.luminance, meant.luminance, 1e-9) << name;
      if (lent.kind == ObserverKind::tritan)
        EXPECT_NEAR(seen.red_green, meant.red_green, 1e-9);
      else
        EXPECT_NEAR(seen.yellow_violet, meant.yellow_violet, 1e-9) << name;
    }
  }
}

TEST(Loan, OfAnAnomalousObserverGivesTheNominalNormalExactlyTheirSignals) {
  const Display display = *display_from("srgb,black=0.4,lux=100");
  const Eye normal = nominal_eye(Observer{}, display);
  for (const char* name : {"protan:5", "deutan:10", "deutan:20,age=60", "tritan,s-density=.2"}) {
    const Observer lent = *observer_from(name);
    const Eye eye = nominal_eye(lent, display);
    const Loan loan = *Loan::make(lent, display, normal.l_weight);
    for (const LinearRgb colour : {LinearRgb{.2, .3, .1}, LinearRgb{.5, .2, .4}}) {
      const ConeExcitation seen = excitation_of(normal, loan(colour)),
                           meant = excitation_of(eye, colour);
      EXPECT_NEAR(seen.l, meant.l, 1e-12) << name;
      EXPECT_NEAR(seen.m, meant.m, 1e-12) << name;
      EXPECT_NEAR(seen.s, meant.s, 1e-12) << name;
      // A gain of 2 doubles ln(L/M) and keeps luminance.
      const ConeExcitation twice = excitation_of(normal, loan(colour, 2));
      EXPECT_NEAR(std::log(twice.l / twice.m), 2 * std::log(meant.l / meant.m), 1e-12);
      EXPECT_NEAR(luminance_of(normal, twice), luminance_of(normal, meant), 1e-12);
    }
  }
}

TEST(Loan, GivesTheLentObserversAnswers) {
  const Display display = *display_from("srgb");
  const CodeLight light(display.curves);
  const std::vector<Eye> normals = others("normal", display);
  for (const std::string observer : {"protan:0", "deutan:0", "tritan", "protan:5", "deutan:5"}) {
    const auto lent = lent_observer(observer, display);
    ASSERT_TRUE(lent.has_value());
    const std::vector<Eye> eyes = others(observer, display);
    double worst = 0;
    int refused = 0;
    // Every other plate: all kinds and aims are among them.
    for (std::size_t p = 0; p < seven().plates.size(); p += 2) {
      const Plate& plate = seven().plates[p];
      const PlateReader itself = PlateReader::of(plate, answer_row(seven(), plate));
      const std::vector<LinearRgb> colours = light.linear(plate.codes);
      const auto codes = lend(plate, colours, itself, *lent, light);
      if (!codes) {
        // Not designed to be lent: some colours have no room. The refusal says by how much.
        EXPECT_NE(codes.error().message.find("leaves the display's range by 0."), std::string::npos)
            << codes.error().message;
        ++refused;
        continue;
      }
      const std::vector<std::size_t> drawn = itself.drawn_on(plate);
      const PredictedReading meant = predicted_reading(itself, drawn, eyes),
                             given = predicted_reading(looking_at(itself, codes->codes, light),
                                                       drawn, normals);
      for (const auto field : {&PredictedReading::intended, &PredictedReading::second,
                               &PredictedReading::nothing, &PredictedReading::other}) {
        EXPECT_NEAR(meant.*field, given.*field, loan_allowance) << observer << " " << plate.name;
        worst = std::max(worst, std::abs(meant.*field - given.*field));
      }
    }
    EXPECT_LE(refused, 2) << observer;
    std::printf("on loan of %s: answers differ by %.3f at most, %d plates refused\n",
                observer.c_str(), worst, refused);
  }
}

TEST(Loan, ASetKeepsWhoIsLent) {
  const auto set = make_set("exhibits", *display_from("srgb"), 7, {.loan = "protan"});
  ASSERT_TRUE(set.has_value()) << set.error().message;
  EXPECT_EQ(set->loan, "protan:0");
  EXPECT_NE(set_json(*set).find("\"loan\": \"protan:0\""), std::string::npos);
}

TEST(Loan, MonochromatsAndUnknownObserversAreRefused) {
  const Display display = *display_from("srgb");
  EXPECT_EQ(make_set("exhibits", display, 7, {.loan = "rod-monochromat"}).error().kind,
            Error::Kind::unsupported);
  EXPECT_EQ(make_set("exhibits", display, 7, {.loan = "protan:40"}).error().kind,
            Error::Kind::usage);
}

}  // namespace
}  // namespace copunctal
