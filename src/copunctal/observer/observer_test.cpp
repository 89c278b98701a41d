#include "copunctal/observer/observer.h"

#include <algorithm>
#include <cmath>
#include <iostream>

#include <gtest/gtest.h>

#include "copunctal/observer/media.h"
#include "copunctal/observer/pigment.h"
#include "copunctal/observer/population.h"

namespace copunctal {
namespace {

struct Residual {
  double linear = 0, log10 = 0;
};

Residual residual(const EnergySensitivity& ours, const std::vector<double>& published, int to_nm) {
  Residual largest;
  for (int nm = 400; nm <= to_nm; ++nm) {
    const double p = published[static_cast<std::size_t>(nm - first_nm)], q = ours.at(nm);
    largest.linear = std::max(largest.linear, std::abs(q - p));
    if (p > 0) largest.log10 = std::max(largest.log10, std::abs(std::log10(q / p)));
  }
  return largest;
}

// Against the tabulated CIE 170-1:2006 fundamentals; 4e-4 in both measures: the tables carry six
// digits, the formulae's constants three, and the lens components are printed every 5 nm.
void compare_with(const char* name, Degrees field) {
  Observer observer;
  observer.field = field;
  const Fundamentals f = fundamentals_of(observer);
  const Table& published = table(name);
  const Residual l = residual(f.l, published.column("L"), 830),
                 m = residual(f.m, published.column("M"), 830),
                 s = residual(f.s, published.column("S"), 615);
  std::cout << name << ": largest residual linear " << std::max({l.linear, m.linear, s.linear})
            << ", log10 " << std::max({l.log10, m.log10, s.log10}) << "\n";
  for (const Residual& r : {l, m, s}) {
    EXPECT_LE(r.linear, 4e-4);
    EXPECT_LE(r.log10, 4e-4);
  }
}

// Continuous in the separation: from one step of .05 nm to the next no wavelength changes by more
// than a curve changes in the nanometres its peak may move meanwhile (at most .05 nm of a slope of
// .03 per nm), and the ends are reached.
TEST(Blend, IsContinuousFromTheDichromatToTheNormal) {
  for (const char* kind : {"protan", "deutan"}) {
    const auto curves = [&](double nm) {
      return fundamentals_of(*observer_from(std::string(kind) + ":" + std::to_string(nm)));
    };
    Fundamentals before = curves(0);
    double largest = 0;
    for (int step = 1; step <= 560; ++step) {
      const Fundamentals now = curves(0.05 * step);
      for (std::size_t i = 0; i < spectrum_size; ++i)
        largest =
            std::max({largest, std::abs(now.l[i] - before.l[i]), std::abs(now.m[i] - before.m[i])});
      before = now;
    }
    EXPECT_LT(largest, 0.0015) << kind;
    EXPECT_GT(largest, 0.0003) << kind << ": something does move";
    const Fundamentals normal = fundamentals_of(Observer{});
    for (std::size_t i = 0; i < spectrum_size; ++i) {
      EXPECT_NEAR(before.l[i], normal.l[i], 1e-12);
      EXPECT_NEAR(before.m[i], normal.m[i], 1e-12);
    }
  }
}

TEST(Observer, TwoDegreeFundamentalsAreTheCieTables) {
  compare_with("lms_cie2006_2deg", {2});
}
TEST(Observer, TenDegreeFundamentalsAreTheCieTables) {
  compare_with("lms_cie2006_10deg", {10});
}

// CIE 170-1:2006 Table 6.10 total at 32 years; other ages from its formula worked by hand.
TEST(Observer, LensGrowsDenserWithAge) {
  EXPECT_NEAR(lens_density({32}).at(400), 1.7649, 1e-4);
  EXPECT_NEAR(lens_density({20}).at(400), 1.7649 - 0.24 * 0.661837, 1e-4);
  EXPECT_NEAR(lens_density({80}).at(400), 1.7649 + (1.56 + 0.0667 * 20 - 1) * 0.661837, 1e-4);
  EXPECT_EQ(lens_density({90}).at(450), lens_density({80}).at(450));
  EXPECT_EQ(notes_on(*observer_from("normal,age=90")).size(), 1U);
}

// CIE 170-1:2006: 2 degrees .35 macula, .50 L and M, .40 S; 10 degrees .095, .38, .30.
TEST(Observer, DensitiesFollowTheField) {
  EXPECT_NEAR(macular_density({2}).at(460), 0.350, 5e-4);
  EXPECT_NEAR(macular_density({10}).at(460), 0.095, 5e-4);
  EXPECT_NEAR(long_wave_pigment_density({2}).log10, 0.50, 5e-3);
  EXPECT_NEAR(short_wave_pigment_density({2}).log10, 0.40, 5e-3);
  EXPECT_NEAR(long_wave_pigment_density({10}).log10, 0.38, 5e-3);
}

TEST(Observer, TheBlendEndsAtTheTwoPigments) {
  const auto l = pigment(PigmentClass::l, {0}), m = pigment(PigmentClass::m, {0});
  const auto protan_0 = blended_pigment(PigmentClass::l, {0}, {0}),
             protan_28 = blended_pigment(PigmentClass::l, {28}, {0}),
             deutan_0 = blended_pigment(PigmentClass::m, {0}, {0}),
             deutan_28 = blended_pigment(PigmentClass::m, {28}, {0});
  for (std::size_t i = 0; i < spectrum_size; ++i) {
    EXPECT_NEAR(protan_0[i], m[i], 1e-12);
    EXPECT_NEAR(protan_28[i], l[i], 1e-12);
    EXPECT_NEAR(deutan_0[i], l[i], 1e-12);
    EXPECT_NEAR(deutan_28[i], m[i], 1e-12);
  }
}

TEST(Observer, TheBlendMovesMonotonically) {
  double last_l = -10, last_m = 10;
  for (double s = 0; s <= 28; s += 1) {
    const double l = blended_pigment(PigmentClass::l, {s}, {0}).at(620);
    const double m = blended_pigment(PigmentClass::m, {s}, {0}).at(620);
    EXPECT_GT(l, last_l);  // the protan's cone moves toward long wavelengths as s grows
    EXPECT_LT(m, last_m);  // the deutan's away from them
    last_l = l;
    last_m = m;
  }
}

// DeMarco, Pokorny & Smith (1992): separations of 10 nm (protanomalous) and 6 nm (deuteranomalous)
// describe their curves; on our scale the best fits are 10 +- 1 and 7 +- 1 nm.
double best_separation(ObserverKind kind, const char* name, const char* column) {
  const Table& published = table(name);
  double best = 0, least = 1e9;
  for (double s = 1; s <= 20; s += 0.25) {
    Observer observer;
    observer.kind = kind;
    observer.separation = {s};
    const Fundamentals f = fundamentals_of(observer);
    const EnergySensitivity& ours = kind == ObserverKind::protan ? f.l : f.m;
    double sum = 0;
    for (std::size_t i = 0; i < published.rows(); ++i) {
      const double nm = published.columns.front()[i];
      if (nm < 430 || nm > 680) continue;
      const double d = ours.at(static_cast<int>(nm)) - published.column(column)[i];
      sum += d * d;
    }
    if (sum < least) {
      least = sum;
      best = s;
    }
  }
  return best;
}

TEST(Observer, AnomalousCurvesFitTheirPublishedSeparations) {
  EXPECT_NEAR(best_separation(ObserverKind::protan, "anomalous_L_demarco", "L_anom"), 10, 1);
  EXPECT_NEAR(best_separation(ObserverKind::deutan, "anomalous_M_demarco", "M_anom"), 7, 1);
}

TEST(Observer, DichromatsHoldOnePigmentTwice) {
  const Fundamentals protan = fundamentals_of(*observer_from("protan:0"));
  const Fundamentals deutan = fundamentals_of(*observer_from("deutan"));
  EXPECT_EQ(protan.l.values, protan.m.values);
  EXPECT_EQ(deutan.l.values, deutan.m.values);
  const Fundamentals tritan = fundamentals_of(*observer_from("tritan"));
  EXPECT_EQ(*std::max_element(tritan.s.values.begin(), tritan.s.values.end()), 0);
}

// CIE 1951 V'(lambda): V'(500) = .982, V'(550) = .481 (from memory of CIE 15).
TEST(Observer, RodsFollowTheScotopicCurve) {
  const Fundamentals rods = fundamentals_of(*observer_from("rod-monochromat"));
  EXPECT_NEAR(rods.l.at(500), 0.982, 0.002);
  EXPECT_NEAR(rods.l.at(550), 0.481, 0.002);
}

TEST(Observer, NamesAreReadAndWritten) {
  for (const char* name : {"normal", "protan:0", "protan:6,age=45", "deutan:12.5,field=10",
                           "tritan", "tritan,s-density=0.2", "rod-monochromat"}) {
    const auto observer = observer_from(name);
    ASSERT_TRUE(observer.has_value()) << name;
    EXPECT_EQ(name_of(*observer), name);
  }
  EXPECT_EQ(name_of(*observer_from("deutan")), "deutan:0");
}

TEST(Observer, WrongNamesAreUsageErrorsThatSayWhatIsRight) {
  for (const char* name : {"", "protanope", "protan:29", "protan:-1", "protan:x", "normal:3",
                           "normal,age=x", "normal,weight=3", "deutan:5,age=999"}) {
    const auto observer = observer_from(name);
    ASSERT_FALSE(observer.has_value()) << name;
    EXPECT_EQ(observer.error().kind, Error::Kind::usage);
    EXPECT_FALSE(observer.error().remedy.empty());
  }
}

TEST(Population, IsSeededAndCentred) {
  const Observer centre;
  EXPECT_EQ(individual(centre, 7, 3).shift_l.nm, individual(centre, 7, 3).shift_l.nm);
  EXPECT_NE(individual(centre, 7, 3).shift_l.nm, individual(centre, 8, 3).shift_l.nm);
  double sum = 0, squares = 0;
  constexpr int n = 4000;
  for (std::uint32_t i = 0; i < n; ++i) {
    const double shift = individual(centre, 7, i).shift_l.nm;
    sum += shift;
    squares += shift * shift;
  }
  EXPECT_NEAR(sum / n, 0, 4 * 2.0 / std::sqrt(n));
  EXPECT_NEAR(std::sqrt(squares / n), 2.0, 4 * 2.0 / std::sqrt(2.0 * n));
}

}  // namespace
}  // namespace copunctal
