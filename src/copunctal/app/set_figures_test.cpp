#include "copunctal/app/set_figures.h"

#include <cmath>

#include <gtest/gtest.h>

#include "copunctal/base/random.h"

namespace copunctal {
namespace {

double normal_cdf(double x) {
  return std::erfc(-x / std::sqrt(2.0)) / 2;
}

// Abramowitz & Stegun 26.1.20: the binomial distribution is what equal chances give.
TEST(Misses, OfEqualPlatesAreBinomial) {
  const std::vector<double> misses = misses_of(std::vector<double>(5, 0.3));
  const std::vector<double> binomial = {0.16807, 0.36015, 0.3087, 0.1323, 0.02835, 0.00243};
  ASSERT_EQ(misses.size(), binomial.size());
  for (std::size_t k = 0; k < binomial.size(); ++k) EXPECT_NEAR(misses[k], binomial[k], 1e-12);
}

TEST(Misses, OfUnequalPlatesSumToOneAndKeepTheirMean) {
  const std::vector<double> chances = {0.01, 0.9, 0.5, 0.2};
  double sum = 0, mean = 0;
  const std::vector<double> misses = misses_of(chances);
  for (std::size_t k = 0; k < misses.size(); ++k) {
    sum += misses[k];
    mean += static_cast<double>(k) * misses[k];
  }
  EXPECT_NEAR(sum, 1, 1e-12);
  EXPECT_NEAR(mean, 1.61, 1e-12);
}

// The area for two normal distributions of equal variance is Phi(d' / sqrt 2): Green & Swets 1966,
// Signal Detection Theory and Psychophysics (from memory).
TEST(Roc, AreaOfTwoNormalDistributionsIsGreenAndSwets) {
  for (const double d : {0.0, 0.5, 1.0, 2.0, 3.0}) {
    const auto spread = [](double mean) {
      std::vector<double> pmf;
      for (int i = -800; i < 1200; ++i)
        pmf.push_back(normal_cdf((i + 1) / 100.0 - mean) - normal_cdf(i / 100.0 - mean));
      return pmf;
    };
    EXPECT_NEAR(roc_area({spread(d)}, {spread(0)}).area, normal_cdf(d / std::sqrt(2.0)), 1e-4) << d;
  }
}

// Of plain counts it is the Mann-Whitney U over the product of the group sizes, and its standard
// error that of DeLong, DeLong & Clarke-Pearson 1988, Biometrics 44:837 (equations from memory).
TEST(Roc, AreaOfCountsIsMannWhitneysU) {
  const auto counts = [](const std::vector<std::size_t>& values) {
    std::vector<std::vector<double>> group;
    for (const std::size_t v : values) {
      group.emplace_back(8);
      group.back()[v] = 1;
    }
    return group;
  };
  const std::vector<std::size_t> with = {3, 5, 5, 7, 2}, without = {0, 2, 1, 3};
  double u = 0;
  for (const std::size_t a : with)
    for (const std::size_t b : without) u += a > b ? 1 : a == b ? 0.5 : 0;
  const RocArea area = roc_area(counts(with), counts(without));
  EXPECT_NEAR(area.area, u / 20, 1e-12);
  // Placement values: of those with .875 1 1 1 .625, of those without 1 .9 1 .7.
  EXPECT_NEAR(area.area, 0.9, 1e-12);
  EXPECT_NEAR(area.error,
              std::sqrt((2 * 0.01 + 2 * 0.0 + 0.000625 + 0.075625 + 0.01) / 4 / 5 +
                        (0.01 + 0 + 0.01 + 0.04) / 3 / 4),
              1e-9);
  EXPECT_NEAR(roc_area(counts(without), counts(with)).area, 1 - area.area, 1e-12);
}

// A set of two vanishing plates and one fork plate, with readings of certain eyes.
TEST(Figures, FollowFromReadings) {
  PlateSet set;
  for (const PlateKind kind : {PlateKind::vanishing, PlateKind::vanishing, PlateKind::fork}) {
    Plate plate;
    plate.kind = kind;
    set.plates.push_back(plate);
  }
  const auto reading = [](double intended, double second) {
    PredictedReading one;
    one.intended = intended;
    one.second = second;
    return one;
  };
  std::vector<std::vector<std::vector<PredictedReading>>> readings(3);
  for (const std::string& name : standard_observers()) {
    const bool blind = name == "protan:0" || name == "deutan:0";
    readings[0].push_back({reading(blind ? 0 : 1, 0)});
    readings[1].push_back({reading(blind ? 0.25 : 1, 0)});
    readings[2].push_back({reading(name == "deutan:0" ? 0 : 1, name == "protan:0" ? 0.1 : 1)});
  }
  const SetFigures figures = set_figures(set, readings);
  EXPECT_EQ(figures.red_green.plates, 2U);
  ASSERT_EQ(figures.red_green.points.size(), 2U);
  EXPECT_EQ(figures.red_green.misses, 1U);
  EXPECT_NEAR(figures.red_green.points[0].false_alarms.share, 0, 1e-12);
  const auto at = [&](std::string_view name) {
    return static_cast<std::size_t>(
        std::find(figures.red_green.observers.begin(), figures.red_green.observers.end(), name) -
        figures.red_green.observers.begin());
  };
  EXPECT_NEAR(figures.red_green.points[0].hits[at("protan:0")].share, 1, 1e-12);
  EXPECT_NEAR(figures.red_green.points[1].hits[at("protan:0")].share, 0.75, 1e-12);
  EXPECT_NEAR(figures.area[at("protan:0")].area, 1, 1e-12);
  EXPECT_NEAR(figures.area[at("protan:5")].area, 0.5, 1e-12);
  for (const KindNamed& named : figures.kinds) {
    EXPECT_NEAR(named.right + named.wrong + named.cannot_tell, 1, 1e-12);
    if (named.observer == "protan:0") {
      EXPECT_NEAR(named.right, 0.9, 1e-12);
    } else if (named.observer == "deutan:0") {
      EXPECT_NEAR(named.right, 1, 1e-12);
    } else {
      EXPECT_NEAR(named.cannot_tell, 1, 1e-12);
    }
  }
}

}  // namespace
}  // namespace copunctal
