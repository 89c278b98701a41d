// What follows from the fundamentals: luminance, neutral points, the Rayleigh match, codons, the
// other templates.
#include <algorithm>
#include <cmath>
#include <iostream>

#include <gtest/gtest.h>

#include "copunctal/observer/codons.h"
#include "copunctal/observer/formulae.h"
#include "copunctal/observer/luminance.h"
#include "copunctal/observer/media.h"
#include "copunctal/observer/neutral.h"
#include "copunctal/observer/population.h"
#include "copunctal/observer/rayleigh.h"

namespace copunctal {
namespace {

Observer known(std::string_view text) {
  return *observer_from(text);
}

Fundamentals tabulated(const char* name) {
  const Table& published = table(name);
  return {spectrum_from<EnergySensitivityKind>(published, "L"),
          spectrum_from<EnergySensitivityKind>(published, "M"),
          spectrum_from<EnergySensitivityKind>(published, "S")};
}

// CIE 170-2:2015 XYZ_F from the tabulated fundamentals: 5e-6, the tables' last digits. S beyond
// 615 nm is tabulated as 0.
TEST(Luminance, XyzFIsTheTable) {
  for (const int field : {2, 10}) {
    const std::string degrees = std::to_string(field) + "deg";
    const Fundamentals f = tabulated(("lms_cie2006_" + degrees).c_str());
    const Table& published = table("xyzF_" + degrees);
    const auto map = xyz_f_from_lms({static_cast<double>(field)});
    double largest = 0;
    for (std::size_t i = 0; i < spectrum_size; ++i) {
      const Xyz c = map({f.l[i], f.m[i], f.s[i]});
      largest = std::max({largest, std::abs(c.x - published.column("xF")[i]),
                          std::abs(c.y - published.column("yF")[i]),
                          std::abs(c.z - published.column("zF")[i])});
    }
    std::cout << "XYZ_F " << field << " degrees: largest residual " << largest << "\n";
    EXPECT_LE(largest, 5e-6);
  }
}

// CIE 170-2:2015: white's share of L in MacLeod-Boynton coordinates, and additivity of luminance.
TEST(Luminance, MacLeodBoyntonHasWhiteAtTheShareOfL) {
  const MacLeodBoynton white = macleod_boynton({1, 1, 1}, 0.7);
  EXPECT_DOUBLE_EQ(white.l, 0.7);
  EXPECT_DOUBLE_EQ(white.s, 1);
  // Along an L-only change every point keeps S / M: protan confusion lines meet at (1, 0).
  const MacLeodBoynton a = macleod_boynton({2, 0.8, 0.5}, 0.7),
                       b = macleod_boynton({3, 0.8, 0.5}, 0.7);
  EXPECT_NEAR(a.s / (1 - a.l), b.s / (1 - b.l), 1e-14);
}

// Published near 492 (protan), 498 (deutan), 569 nm (tritan) for whites near 6500 K (Pitt; Walls &
// Mathews; Wright; from memory). Computed elsewhere from the same tables: equal energy 491.4,
// 498.3, 569.7; D65 490.9, 497.4, 566.7; C 490.0, 496.6, 567.1; A 502.0, 508.5, 578.9.
TEST(Neutral, PointsAreWherePublished) {
  const Fundamentals f = fundamentals_of(Observer{});
  Power equal;
  equal.values.fill(1);
  const auto check = [&](const Power& white, double protan, double deutan, double tritan) {
    EXPECT_NEAR(*neutral_nm(f, MissingCone::l, white), protan, 0.7);
    EXPECT_NEAR(*neutral_nm(f, MissingCone::m, white), deutan, 0.7);
    EXPECT_NEAR(*neutral_nm(f, MissingCone::s, white), tritan, 0.7);
  };
  check(equal, 491.4, 498.3, 569.7);
  check(illuminant("illum_D65"), 490.9, 497.4, 566.7);
  check(illuminant("illum_C"), 490.0, 496.6, 567.1);
  check(illuminant("illum_A"), 502.0, 508.5, 578.9);
}

// The law behind it: at that wavelength the remaining cones cannot tell it from the white.
TEST(Neutral, RemainingConesAreInWhitesRatio) {
  const Power d65 = illuminant("illum_D65");
  const Fundamentals f = fundamentals_of(known("deutan:0"));
  const double nm = *neutral_nm(f, MissingCone::m, d65);
  const auto at = [&](const EnergySensitivity& cone) {
    const int low = static_cast<int>(std::floor(nm));
    return std::pow(cone.at(low), low + 1 - nm) * std::pow(cone.at(low + 1), nm - low);
  };
  EXPECT_NEAR(at(f.l) / at(f.s), integral(d65, f.l) / integral(d65, f.s), 1e-6);
}

// Computed elsewhere from the same standard (2 degrees, 32 years): x .4316, y .9999.
TEST(Rayleigh, TheNormalMatch) {
  const RayleighMatch match = rayleigh_match(Observer{});
  EXPECT_NEAR(match.x, 0.4316, 5e-4);
  EXPECT_NEAR(match.y, 0.9999, 5e-4);
  EXPECT_NEAR(match.low, 0.413, 1e-3);
  EXPECT_NEAR(match.high, 0.450, 1e-3);
  EXPECT_NEAR(*match.quotient, 1, 1e-12);
  EXPECT_NEAR(rayleigh_match(Observer{}, {666, 549, 589}).x, 0.4193, 5e-4);
  EXPECT_NEAR(rayleigh_match(Observer{}, {650, 545, 589}).x, 0.4477, 5e-4);
}

// As published qualitatively (Wyszecki & Stiles 1982): a protanope accepts every mixture and needs
// little yellow against red, a deuteranope accepts every mixture at nearly one yellow. Numbers
// computed elsewhere: 1.641, .898, .156 and .825, 1.028, 1.230.
TEST(Rayleigh, DichromatsAcceptEveryMixture) {
  const RayleighMatch protan = rayleigh_match(known("protan:0")),
                      deutan = rayleigh_match(known("deutan:0"));
  for (const RayleighMatch& match : {protan, deutan}) {
    EXPECT_TRUE(match.accepts_all);
    EXPECT_EQ(match.low, 0);
    EXPECT_EQ(match.high, 1);
    EXPECT_FALSE(match.quotient.has_value());
    EXPECT_NEAR(match.y, 1, 0.002);  // their lines cross at the normal match
  }
  const Fundamentals f = fundamentals_of(Observer{});
  EXPECT_NEAR(yellow_for(f.m, 0), 1.641, 2e-3);
  EXPECT_NEAR(yellow_for(f.m, 1), 0.156, 2e-3);
  EXPECT_NEAR(yellow_for(f.l, 0), 0.825, 2e-3);
  EXPECT_NEAR(yellow_for(f.l, 1), 1.230, 2e-3);
}

// Law: at the exact match both cones are satisfied by one yellow.
TEST(Rayleigh, BothConesAgreeAtTheMatch) {
  for (const char* name : {"normal", "protan:10", "protan:3", "deutan:7", "normal,age=60"}) {
    const Fundamentals f = fundamentals_of(known(name));
    const RayleighMatch match = rayleigh_match(f);
    EXPECT_NEAR(yellow_for(f.l, match.x), yellow_for(f.m, match.x), 1e-12) << name;
    EXPECT_NEAR(match.y, yellow_for(f.l, match.x), 1e-12) << name;
  }
}

// The range grows as the separation falls, and the sides are the trade's: protanomalous match with
// more red (quotient below .7), deuteranomalous with more green (above 1.4; DIN 6160, from memory).
TEST(Rayleigh, AnomalousMatchesLieOnTheirSide) {
  double last_protan = 0, last_deutan = 0;
  for (const double s : {12.0, 8.0, 5.0, 3.0, 2.0}) {
    const RayleighMatch protan = rayleigh_match(known("protan:" + std::to_string(s))),
                        deutan = rayleigh_match(known("deutan:" + std::to_string(s)));
    EXPECT_LT(*protan.quotient, 0.7);
    EXPECT_GT(*deutan.quotient, 1.4);
    EXPECT_GT(protan.high - protan.low, last_protan);
    EXPECT_GT(deutan.high - deutan.low, last_deutan);
    last_protan = protan.high - protan.low;
    last_deutan = deutan.high - deutan.low;
  }
}

// DeMarco, Pokorny & Smith 1992 curves in the same match: .754 (.253) and .171 (3.78), computed
// elsewhere from the same tables. Theirs stand beside Smith & Pokorny's M and L.
TEST(Rayleigh, DemarcosCurvesMatchWhereTheyShould) {
  Fundamentals protan = tabulated("lms_smith_pokorny"), deutan = protan;
  protan.l = spectrum_from<EnergySensitivityKind>(table("anomalous_L_demarco"),
                                                  table("anomalous_L_demarco").column_names[1]);
  deutan.m = spectrum_from<EnergySensitivityKind>(table("anomalous_M_demarco"),
                                                  table("anomalous_M_demarco").column_names[1]);
  EXPECT_NEAR(rayleigh_match(protan).x, 0.754, 0.01);
  EXPECT_NEAR(rayleigh_match(deutan).x, 0.171, 0.01);
}

// Other effects, computed elsewhere: denser L or M, field and age move the quotient.
TEST(Rayleigh, DensityFieldAndAgeMoveTheQuotient) {
  const auto quotient = [](const char* name) { return *rayleigh_match(known(name)).quotient; };
  EXPECT_NEAR(quotient("normal,density-l=.4"), 0.943, 0.005);
  EXPECT_NEAR(quotient("normal,density-l=.6"), 1.059, 0.005);
  EXPECT_NEAR(quotient("normal,density-m=.4"), 0.896, 0.005);
  EXPECT_NEAR(quotient("normal,density-m=.6"), 1.115, 0.005);
  EXPECT_NEAR(quotient("normal,field=1"), 1.25, 0.01);
  EXPECT_NEAR(quotient("normal,field=10"), 0.81, 0.01);
  EXPECT_NEAR(quotient("normal,age=20"), 0.95, 0.01);
  EXPECT_NEAR(quotient("normal,age=80"), 1.49, 0.02);
}

// Normals are quoted within .7 to 1.4 (DIN 6160, from memory); the spread of Asano, Fairchild &
// Blonde 2016 gives .71 to 1.38 for the middle 95 %, of age 32.
TEST(Rayleigh, NormalsSpreadAsQuoted) {
  PopulationSpread spread;
  spread.youngest = spread.oldest = 32;
  std::vector<double> quotients;
  for (std::uint32_t i = 0; i < 1500; ++i)
    quotients.push_back(*rayleigh_match(individual(Observer{}, 11, i, spread)).quotient);
  std::sort(quotients.begin(), quotients.end());
  const double low = quotients[37], median = quotients[750], high = quotients[1462];
  std::cout << "anomalous quotient of 1,500 normals: " << low << " " << median << " " << high
            << "\n";
  // Standard error of these quantiles of 1,500: about .012 and .025; three of them.
  EXPECT_NEAR(low, 0.71, 0.04);
  EXPECT_NEAR(median, 1.00, 0.03);
  EXPECT_NEAR(high, 1.38, 0.08);
}

// Stockman & Rider 2023, Table 3: 27 and -31 in all; within a class 0 to 6 and 0 to 10 nm.
TEST(Codons, SumAsPrinted) {
  double up = 0, down = 0;
  for (const Codon& codon : codons()) {
    up += codon.m_to_l_nm;
    down += codon.l_to_m_nm;
  }
  EXPECT_EQ(up, 27);
  EXPECT_EQ(down, -31);
  EXPECT_EQ(separation_by_codons(ObserverKind::protan, {116, 180, 230, 233})->nm, 6);
  EXPECT_EQ(separation_by_codons(ObserverKind::deutan, {116, 180, 230, 233})->nm, 10);
  EXPECT_EQ(known("deutan,codons=180").separation.nm, 4);
  EXPECT_EQ(observer_from("protan,codons=285").error().kind, Error::Kind::usage);
  EXPECT_EQ(observer_from("protan:4,codons=180").error().kind, Error::Kind::usage);
  EXPECT_EQ(observer_from("protan,codons=180+180").error().kind, Error::Kind::usage);
  EXPECT_EQ(observer_from("tritan,codons=180").error().kind, Error::Kind::usage);
}

// The paper says of its formulae: peaks 551.9, 529.8, 416.9 nm; lens 1.7649 at 400 nm; macula .350
// at 460 nm; and fundamentals that depart from the tables by .019 linear, .024 log10 at most above
// 400 nm (measured here).
TEST(Formulae, AreNearTheTables) {
  EXPECT_NEAR(lens_by_formula().at(400), 1.7649, 1e-3);
  EXPECT_NEAR(macula_by_formula().at(460), 0.350, 1e-3);
  for (const auto which : {PigmentClass::l, PigmentClass::m, PigmentClass::s}) {
    const LogAbsorbance pigment = pigment_by_formula(which, {0});
    const auto top = std::max_element(pigment.values.begin(), pigment.values.end());
    const double peak = nm_at(static_cast<std::size_t>(top - pigment.values.begin()));
    const double published = which == PigmentClass::l   ? l_peak_nm
                             : which == PigmentClass::m ? m_peak_nm
                                                        : s_peak_nm;
    EXPECT_NEAR(peak, published, 0.7);
    EXPECT_NEAR(*top, 0, 5e-4);
  }
  const Fundamentals f = fundamentals_of(known("normal,templates=formulae")),
                     published = tabulated("lms_cie2006_2deg");
  double linear = 0, logarithmic = 0;
  const auto compare = [&](const EnergySensitivity& a, const EnergySensitivity& b, int to) {
    for (int nm = 400; nm <= to; ++nm) {
      linear = std::max(linear, std::abs(a.at(nm) - b.at(nm)));
      logarithmic = std::max(logarithmic, std::abs(std::log10(a.at(nm) / b.at(nm))));
    }
  };
  compare(f.l, published.l, 830);
  compare(f.m, published.m, 830);
  compare(f.s, published.s, 615);
  std::cout << "formulae against the tables: " << linear << " linear, " << logarithmic
            << " log10\n";
  EXPECT_LE(linear, 0.0195);
  EXPECT_LE(logarithmic, 0.0245);
  EXPECT_GT(linear, 0.005);  // they are different templates
}

// CIE 170-1:2006, note to Table 6.10: lens x .86207 for pupils over 7 mm.
TEST(Pupil, WideOnesLookThroughLessLens) {
  EXPECT_NEAR(lens_density({32}, {7}).at(420) / lens_density({32}).at(420), 0.86207, 1e-12);
  EXPECT_EQ(lens_density({32}, {2}).at(420), lens_density({32}).at(420));
  EXPECT_EQ(notes_on(known("normal,pupil=5")).size(), 1U);
}

// Regression values of another implementation of CIE 170-1:2006 (energy, peak 1), four decimals:
// L, M at 450, 550, 650 nm, S at 420, 450, 500.
TEST(Observer, OtherAgesAndFieldsAgree) {
  const auto check = [](const char* name, std::array<double, 3> l, std::array<double, 3> m,
                        std::array<double, 3> s) {
    const Fundamentals f = fundamentals_of(known(name));
    constexpr std::array long_nm = {450, 550, 650}, short_nm = {420, 450, 500};
    for (std::size_t i = 0; i < 3; ++i) {
      EXPECT_NEAR(f.l.at(long_nm[i]), l[i], 1.5e-4) << name;
      EXPECT_NEAR(f.m.at(long_nm[i]), m[i], 1.5e-4) << name;
      EXPECT_NEAR(f.s.at(short_nm[i]), s[i], 1.5e-4) << name;
    }
  };
  check("normal", {.0499, .9402, .1652}, {.0871, .9772, .0155}, {.5436, .9554, .1229});
  check("normal,age=20", {.0556, .9526, .1599}, {.0953, .9722, .0147}, {.5831, .9334, .1133});
  check("normal,age=60", {.0386, .9087, .1776}, {.0704, .9877, .0174}, {.4527, .9897, .1457});
  check("normal,age=80", {.0204, .8175, .2060}, {.0417, .9934, .0225}, {.2720, .9997, .2031});
  check("normal,field=10", {.0796, .9446, .1496}, {.1395, .9620, .0138}, {.4626, .9914, .0968});
  check("normal,field=1", {.0479, .9348, .1833}, {.0828, .9871, .0174}, {.5555, .9516, .1385});
}

// Names are read back to the same observer.
TEST(Observer, EveryNameReadsBack) {
  for (const char* name :
       {"normal", "protan:6,age=45", "tritan", "tritan,s-density=0.2", "deutan:28,field=10",
        "normal,pupil=7,density-l=0.4,density-m=0.6,density-s=0.3,lens=1.2,macula=0.5,shift-l=-2,"
        "shift-m=1.5,shift-s=0.7,templates=formulae"})
    EXPECT_EQ(name_of(known(name)), name);
  EXPECT_EQ(name_of(known("protan,codons=180+230")), "protan:6");
  for (const char* wrong :
       {"normal,age=nan", "normal,age", "normal,age=32,age=33", "normal,lens=-1", "protan:nan",
        "normal,templates=best", "normal,codons="})
    EXPECT_EQ(observer_from(wrong).error().kind, Error::Kind::usage) << wrong;
  const Error error = observer_from("protan:30").error();
  EXPECT_EQ(error.message.find(error.remedy), std::string::npos) << "the remedy is said once";
}

}  // namespace
}  // namespace copunctal
