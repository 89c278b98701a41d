#include "copunctal/judge/cones.h"

#include <algorithm>
#include <cmath>
#include <iostream>

#include <gtest/gtest.h>

#include "copunctal/data/table.h"
#include "copunctal/judge/screen.h"

namespace copunctal {
namespace {

TEST(JudgeCones, AreALinearMapOfTheJuddVosObserver) {
  EXPECT_LT(smith_pokorny_residual(), 1e-9);
  // The coefficients usually printed (from memory), five decimals; the tables have four digits.
  const double printed[2][3] = {{0.15514, 0.54312, -0.03286}, {-0.15514, 0.45684, 0.03286}};
  for (std::size_t cone = 0; cone < 2; ++cone)
    for (std::size_t k = 0; k < 3; ++k)
      EXPECT_NEAR(lms_from_judd_vos()[cone][k], printed[cone][k], 0.00003) << cone << k;
  EXPECT_NEAR(lms_from_judd_vos()[2][0], 0, 1e-6);
  EXPECT_NEAR(lms_from_judd_vos()[2][1], 0, 1e-6);
}

// The copunctal points usually printed for these cones (from memory); half of the last digit.
TEST(JudgeCones, HaveThePublishedCopunctalPoints) {
  const JudgeXy protan = smith_pokorny_copunctal(0), deutan = smith_pokorny_copunctal(1),
                tritan = smith_pokorny_copunctal(2);
  EXPECT_NEAR(protan[0], 0.7465, 0.00005);
  EXPECT_NEAR(protan[1], 0.2535, 0.00005);
  EXPECT_NEAR(deutan[0], 1.400, 0.0005);
  EXPECT_NEAR(deutan[1], -0.400, 0.0005);
  EXPECT_NEAR(tritan[0], 0.1748, 0.00005);
  EXPECT_NEAR(tritan[1], 0, 0.00005);
}

// Vos' correction, from memory, must bring one table's spectral locus onto the other's.
TEST(JudgeCones, TheCorrectionBringsOneSpectralLocusOntoTheOther) {
  const Table &cie = table("xyz1931"), &judd = table("xyz_judd_vos");
  const auto xy = [](const Table& t, std::size_t row) {
    const double x = t.columns[1][row], y = t.columns[2][row], z = t.columns[3][row];
    return JudgeXy{x / (x + y + z), y / (x + y + z)};
  };
  double to_620 = 0, to_700 = 0, uncorrected = 0;
  for (std::size_t row = 0; row < judd.rows(); ++row) {
    const double nm = judd.column("nm")[row];
    const auto at = static_cast<std::size_t>(nm - cie.column("nm").front());
    ASSERT_EQ(cie.column("nm")[at], nm);
    const JudgeXy wanted = xy(judd, row), plain = xy(cie, at), corrected = judd_vos_xy(plain);
    const double miss = std::hypot(corrected[0] - wanted[0], corrected[1] - wanted[1]);
    if (nm <= 620) to_620 = std::max(to_620, miss);
    if (nm <= 700) to_700 = std::max(to_700, miss);
    if (nm <= 620)
      uncorrected = std::max(uncorrected, std::hypot(plain[0] - wanted[0], plain[1] - wanted[1]));
  }
  std::cout << "spectral loci: largest miss to 620 nm " << to_620 << ", to 700 nm " << to_700
            << "; uncorrected " << uncorrected << "\n";
  EXPECT_LE(to_620, 0.0002);
  EXPECT_LE(to_700, 0.0013);
  EXPECT_GT(uncorrected, 0.005);
}

TEST(JudgeCones, AnomalousPigmentsLieBetweenTheNormalOnes) {
  const PigmentMixture &l = protanomalous_l(), &m = deuteranomalous_m();
  std::cout << "protanomalous L' = " << l.l << " L + " << l.m << " M + " << l.s
            << " S; deuteranomalous M' = " << m.l << " L + " << m.m << " M + " << m.s << " S\n";
  // As lights of luminance 1, shares of L and M add to about 1; S hardly counts.
  const JudgeCones white = JudgeLight(*standard_screen("srgb")).white();
  for (const PigmentMixture* mixture : {&l, &m}) {
    EXPECT_GT(std::min(mixture->l, mixture->m), 0);
    EXPECT_LT(std::abs(mixture->s) * white[2],
              0.05 * (mixture->l * white[0] + mixture->m * white[1]));
  }
  const auto share_of_l = [&](const PigmentMixture& mixture) {
    const double in_l = mixture.l * white[0], in_m = mixture.m * white[1];
    return in_l / (in_l + in_m);
  };
  EXPECT_LT(share_of_l(l), 0.5);  // 10 nm from M is nearer to M
  EXPECT_GT(share_of_l(m), 0.5);  // 6 nm from L is nearer to L
}

double interpolated(const Table& t, std::string_view column, double nm) {
  const auto& grid = t.column("nm");
  const auto& values = t.column(column);
  if (nm <= grid.front()) return values.front();
  if (nm >= grid.back()) return values.back();
  const double at = (nm - grid.front()) / (grid[1] - grid[0]);
  const auto i = static_cast<std::size_t>(at);
  const double f = at - static_cast<double>(i);
  return f == 0 ? values[i] : (1 - f) * values[i] + f * values[i + 1];
}

// Another route to the same numbers: the integrals of the published curves over whole spectra,
// against what the chromaticities alone give. This is the price of knowing no spectra.
TEST(JudgeCones, AgreeWithIntegralsOverSpectra) {
  const double normal_bound = 0.02, difference_bound = 0.012;
  for (const char* panel : {"monitor_crt_basis", "template_oled", "template_wled", "template_qd"}) {
    const Table& spectra = table(panel);
    const auto integral = [&](std::size_t primary, const char* curves, const char* column) {
      double sum = 0;
      for (std::size_t i = 0; i < spectra.rows(); ++i)
        if (spectra.columns[0][i] <= 780)
          sum += spectra.columns[1 + primary][i] *
                 interpolated(table(curves), column, spectra.columns[0][i]);
      return sum;
    };
    // A white of D65 from these primaries fixes how much of each there is.
    JudgeScreen screen;
    double xyz[3][3];
    for (std::size_t p = 0; p < 3; ++p) {
      xyz[p][0] = integral(p, "xyz1931", "x");
      xyz[p][1] = integral(p, "xyz1931", "y");
      xyz[p][2] = integral(p, "xyz1931", "z");
      const double sum = xyz[p][0] + xyz[p][1] + xyz[p][2];
      screen.primaries[p] = {xyz[p][0] / sum, xyz[p][1] / sum};
    }
    // The panel's own white, all primaries equally driven, after scaling each to the luminance
    // shares of a usual white: the comparison holds for any.
    const double share[3] = {0.21, 0.72, 0.07};
    double amount[3], white[3] = {0, 0, 0};
    for (std::size_t p = 0; p < 3; ++p) {
      amount[p] = share[p] / xyz[p][1];
      for (std::size_t k = 0; k < 3; ++k) white[k] += amount[p] * xyz[p][k];
    }
    const double sum = white[0] + white[1] + white[2];
    screen.white = {white[0] / sum, white[1] / sum};
    const JudgeLight light(screen);

    const auto relative = [&](std::size_t p, const char* curves, const char* column) {
      double all = 0;
      for (std::size_t other = 0; other < 3; ++other)
        all += amount[other] * integral(other, curves, column);
      return amount[p] * integral(p, curves, column) / all;
    };
    double worst = 0, worst_difference = 0;
    for (std::size_t p = 0; p < 3; ++p) {
      std::array<double, 3> drives{};
      drives[p] = 1;
      const JudgeCones cones = light.cones_of_drives(drives);
      const double exact[3] = {relative(p, "lms_smith_pokorny", "L"),
                               relative(p, "lms_smith_pokorny", "M"),
                               relative(p, "lms_smith_pokorny", "S")};
      for (std::size_t cone = 0; cone < 3; ++cone)
        worst = std::max(worst, std::abs(cones[cone] - exact[cone]));
      // What an anomalous eye tells red from green by: the difference of its two long-wave cones.
      const JudgeCones pa = cones_of(JudgeEye::protanomalous, cones, light.white()),
                       da = cones_of(JudgeEye::deuteranomalous, cones, light.white());
      worst_difference = std::max(
          {worst_difference,
           std::abs(pa[0] - pa[1] - (relative(p, "anomalous_L_demarco", "L_anom") - exact[1])),
           std::abs(da[0] - da[1] - (exact[0] - relative(p, "anomalous_M_demarco", "M_anom")))});
      std::cout << panel << " "
                << "RGB"[p] << ": L-M normal " << cones[0] - cones[1] << " (" << exact[0] - exact[1]
                << " from spectra), protanomalous " << pa[0] - pa[1] << " ("
                << relative(p, "anomalous_L_demarco", "L_anom") - exact[1] << "), deuteranomalous "
                << da[0] - da[1] << " (" << exact[0] - relative(p, "anomalous_M_demarco", "M_anom")
                << ")\n";
    }
    std::cout << panel << ": largest error of a cone " << worst << ", of an anomalous difference "
              << worst_difference << ", white 1\n";
    EXPECT_LT(worst, normal_bound) << panel;
    EXPECT_LT(worst_difference, difference_bound) << panel;
  }
}

}  // namespace
}  // namespace copunctal
