#include <algorithm>
#include <cmath>
#include <numeric>

#include <gtest/gtest.h>

#include "copunctal/colour/encoding.h"
#include "copunctal/inference/posterior.h"

namespace copunctal {
namespace {

const Display& srgb() {
  static const Display display = *display_from("srgb");
  return display;
}
const std::vector<std::string> symbols = {"1", "2", "4", "6"};

// A plate whose figures change L, M or S by a factor, drawn and coloured as real plates are.
Plate plate_with(std::uint64_t seed, PlateKind kind, const std::vector<ConeExcitation>& factors,
                 double noise) {
  const auto rgb_from_lms = inverse(nominal_eye(Observer{}, srgb()).lms);
  Plate plate;
  plate.seed = seed;
  plate.kind = kind;
  plate.figures = factors.size() == 1
                      ? std::vector<Figure>{{symbols[seed % 4], Place::whole}}
                      : std::vector<Figure>{{"1", Place::upper_left}, {"4", Place::lower_right}};
  plate.codes.resize(1 + factors.size());
  for (std::size_t part = 0; part < plate.codes.size(); ++part)
    for (int level = 0; level < 4; ++level) {
      ConeExcitation c = std::exp(noise * (level - 1.5)) * ConeExcitation{0.24, 0.22, 0.16};
      if (part > 0)
        c = {c.l * factors[part - 1].l, c.m * factors[part - 1].m, c.s * factors[part - 1].s};
      const LinearRgb rgb = clipped(rgb_from_lms(c));
      plate.codes[part].push_back({srgb_code(rgb.r), srgb_code(rgb.g), srgb_code(rgb.b)});
    }
  return plate;
}

// Two red-green plates that both dichromats miss, two fork plates, two tritan plates.
std::vector<Plate> small_set() {
  std::vector<Plate> plates;
  for (std::uint64_t seed = 1; seed <= 2; ++seed)
    plates.push_back(plate_with(seed, PlateKind::vanishing, {{1.045, 0.975, 1}}, 0.2));
  for (std::uint64_t seed = 3; seed <= 4; ++seed)
    plates.push_back(plate_with(seed, PlateKind::fork, {{1, 1.25, 1}, {1.22, 1, 1}}, 0.03));
  for (std::uint64_t seed = 5; seed <= 6; ++seed)
    plates.push_back(plate_with(seed, PlateKind::tritan, {{1, 1, 2}}, 0.2));
  return plates;
}

const ReadingTables& tables() {
  static const auto built = ReadingTables::build(small_set(), symbols, srgb());
  return *built;
}

std::size_t drawn(std::size_t plate, std::size_t figure = 0) {
  const std::vector<Plate> plates = small_set();
  const auto& symbol = plates[plate].figures[figure].symbol;
  return static_cast<std::size_t>(std::find(symbols.begin(), symbols.end(), symbol) -
                                  symbols.begin());
}

// What each kind of observer would ideally answer.
std::vector<ScoredReading> readings_of(ObserverKind kind) {
  const bool red_green = kind == ObserverKind::protan || kind == ObserverKind::deutan;
  std::vector<ScoredReading> readings;
  for (std::size_t p = 0; p < 6; ++p) {
    ScoredReading reading{p, {}};
    if (p < 2 && !red_green) reading.answer = {drawn(p)};
    if (p == 2 || p == 3) {
      if (kind != ObserverKind::deutan) reading.answer.push_back(drawn(p, 0));
      if (kind != ObserverKind::protan) reading.answer.push_back(drawn(p, 1));
      std::sort(reading.answer.begin(), reading.answer.end());
    }
    if (p > 3 && kind != ObserverKind::tritan) reading.answer = {drawn(p)};
    readings.push_back(reading);
  }
  return readings;
}

TEST(Inference, EveryKindsOwnAnswersPointToIt) {
  for (std::size_t k = 0; k < 4; ++k) {
    const auto logs = log10_likelihoods(tables(), readings_of(all_red_green_blue_kinds[k]));
    const Posterior outcome = posterior(tables(), logs, {0.25, 0.25, 0.25, 0.25});
    const auto& p = outcome.evidence_only;
    EXPECT_EQ(std::max_element(p.begin(), p.end()) - p.begin(), static_cast<std::ptrdiff_t>(k));
    EXPECT_NEAR(std::accumulate(p.begin(), p.end(), 0.0), 1, 1e-12);
    EXPECT_NEAR(
        std::accumulate(outcome.protan_separation.begin(), outcome.protan_separation.end(), 0.0), 1,
        1e-12);
  }
}

TEST(Inference, DichromatAnswersPointToSmallSeparations) {
  const auto logs = log10_likelihoods(tables(), readings_of(ObserverKind::protan));
  const Posterior outcome = posterior(tables(), logs, kind_prior_men());
  EXPECT_EQ(verdict_of(outcome), 1);
  double near_zero = 0;
  std::size_t at = 0;
  for (const GridPoint& point : tables().grid())
    if (point.kind == ObserverKind::protan) {
      if (point.separation_nm <= 5) near_zero += outcome.protan_separation[at];
      ++at;
    }
  EXPECT_GT(near_zero, 0.9);
}

// Bayes' rule by hand: the odds with the prior are the odds of the evidence times the prior's.
TEST(Inference, ThePriorIsASecondStep) {
  const auto logs = log10_likelihoods(tables(), readings_of(ObserverKind::tritan));
  const Posterior outcome = posterior(tables(), logs, kind_prior_women());
  for (std::size_t k = 1; k < 4; ++k)
    EXPECT_NEAR(outcome.with_prior[k] / outcome.with_prior[0],
                outcome.evidence_only[k] / outcome.evidence_only[0] * kind_prior_women()[k] /
                    kind_prior_women()[0],
                1e-9 * outcome.with_prior[k] / outcome.with_prior[0]);
  for (const auto& prior : {kind_prior_men(), kind_prior_women(), kind_prior_mixed()})
    EXPECT_NEAR(std::accumulate(prior.begin(), prior.end(), 0.0), 1, 1e-12);
}

// Both tritan plates missed, but so rare: where evidence and prior pull apart, it cannot be told.
TEST(Inference, ARareKindIsNotOverruledSilently) {
  Posterior outcome;
  outcome.evidence_only = {0.002, 0, 0, 0.998};
  outcome.with_prior = {0.95, 0, 0, 0.05};
  EXPECT_EQ(verdict_of(outcome), -1);
  outcome.evidence_only = {0.6, 0.2, 0.2, 0};
  outcome.with_prior = {0.97, 0.01, 0.02, 0};
  EXPECT_EQ(verdict_of(outcome), 0);
  outcome.with_prior = {0.8, 0.1, 0.1, 0};
  EXPECT_EQ(verdict_of(outcome), -1);
}

// Individuals tie the plates together: missing one makes missing the next likelier than
// independence says.
TEST(Inference, PlatesAreNotIndependentGivenAKind) {
  const std::vector<ScoredReading> first = {{0, {}}}, second = {{1, {}}}, both = {{0, {}}, {1, {}}};
  const auto a = log10_likelihoods(tables(), first), b = log10_likelihoods(tables(), second),
             ab = log10_likelihoods(tables(), both);
  for (std::size_t point = 0; point < tables().grid().size(); ++point)
    EXPECT_GE(ab[point], a[point] + b[point] - 0.02) << tables().grid()[point].name;
  const auto normal = static_cast<std::size_t>(
      std::find_if(tables().grid().begin(), tables().grid().end(),
                   [](const GridPoint& g) { return g.name == "deutan:7.5"; }) -
      tables().grid().begin());
  EXPECT_GT(ab[normal], a[normal] + b[normal] + 0.01);
}

// The codes are what is judged: exchanging those of a red-green and a tritan plate changes the
// outcome.
TEST(Inference, ExchangingTwoPlatesCodesChangesTheOutcome) {
  std::vector<Plate> exchanged = small_set();
  std::swap(exchanged[0].codes, exchanged[4].codes);
  std::swap(exchanged[1].codes, exchanged[5].codes);
  const auto other = ReadingTables::build(exchanged, symbols, srgb());
  const auto readings = readings_of(ObserverKind::tritan);
  const Posterior before =
      posterior(tables(), log10_likelihoods(tables(), readings), {.25, .25, .25, .25});
  const Posterior after =
      posterior(*other, log10_likelihoods(*other, readings), {.25, .25, .25, .25});
  EXPECT_GT(before.evidence_only[3], 0.9);
  EXPECT_LT(after.evidence_only[3], 0.1);
}

TEST(Inference, TablesAreProbabilities) {
  for (std::size_t point = 0; point < tables().grid().size(); point += 5)
    for (std::size_t plate = 0; plate < tables().plates(); ++plate) {
      const PredictedReading p = tables().prediction(point, plate);
      if (tables().slots_of(plate) == 1) {
        EXPECT_NEAR(p.intended + p.nothing + p.other, 1, 1e-5);
      }
      EXPECT_GE(p.nothing, 0);
      EXPECT_FALSE(tables().margins(point, plate).empty());
    }
}

TEST(Inference, ThreadsDoNotChangeTheTables) {
  const std::vector<Plate> one = {small_set().front()};
  const auto a = ReadingTables::build(one, symbols, srgb(), 1),
             b = ReadingTables::build(one, symbols, srgb(), 2);
  for (std::size_t point = 0; point < a->grid().size(); ++point)
    EXPECT_EQ(a->probability(point, 3, 0, {0}), b->probability(point, 3, 0, {0}));
}

}  // namespace
}  // namespace copunctal
