#include "copunctal/display/population_map.h"

#include <bit>
#include <cmath>
#include <cstdint>

#include <Eigen/Dense>

#include "copunctal/base/expects.h"
#include "copunctal/observer/media.h"
#include "copunctal/observer/pigment.h"

namespace copunctal {
namespace {

constexpr double first_node_nm = 390, node_step_nm = 5,
                 shift_step_nm = PopulationMap::shift_unit_nm, most_shift_nm = 10;
constexpr double ln10 = 2.302585092994045684;

double node_nm(std::size_t j) {
  return first_node_nm + node_step_nm * static_cast<double>(j);
}

// e^x for -700 <= x <= 700: x = n ln 2 + r, a polynomial in r of degree 11 (Taylor; |r| <= .347, so
// the first term left out is below 1e-14), and n into the exponent's bits.
inline double exponential(double x) {
  constexpr double log2_e = 1.442695040888963407, ln2_high = 6.93147180369123816490e-01,
                   ln2_low = 1.90821492927058770002e-10, shifter = 6755399441055744.0;
  const double shifted = x * log2_e + shifter;
  const double n = shifted - shifter;
  const double r = (x - n * ln2_high) - n * ln2_low;
  double p = 1.0 / 39916800;
  p = p * r + 1.0 / 3628800;
  p = p * r + 1.0 / 362880;
  p = p * r + 1.0 / 40320;
  p = p * r + 1.0 / 5040;
  p = p * r + 1.0 / 720;
  p = p * r + 1.0 / 120;
  p = p * r + 1.0 / 24;
  p = p * r + 1.0 / 6;
  p = p * r + 0.5;
  p = p * r + 1.0;
  p = p * r + 1.0;
  const std::uint64_t exponent = (std::bit_cast<std::uint64_t>(shifted) + 1023) << 52;
  return p * std::bit_cast<double>(exponent);
}

// The same source for the widest units this machine has; sums run in eight fixed lanes, so the
// bits do not depend on which one is taken.
#if defined(__x86_64__) && !defined(__SANITIZE_ADDRESS__) && !defined(__SANITIZE_THREAD__)
#define COPUNCTAL_WIDEST __attribute__((target_clones("avx512f", "avx2", "default")))
#else
#define COPUNCTAL_WIDEST
#endif

constexpr std::size_t lanes = 8;
using Row = std::array<double, PopulationMap::padded>;

struct ConeTask {
  const std::array<Row, 5>* log_absorbance;
  double shift, density;  ///< Shift in units of the step; peak optical density.
};

COPUNCTAL_WIDEST
void excite(const ConeTask& cone, const double* media, const Row* weights, double* by_primary) {
  std::array<double, 3 * lanes> sums{};
  const auto& c = *cone.log_absorbance;
  const double u = cone.shift, depth = -ln10 * cone.density;
  for (std::size_t j = 0; j < PopulationMap::padded; j += lanes) {
    for (std::size_t k = 0; k < lanes; ++k) {
      const std::size_t i = j + k;
      const double log_a = (((c[4][i] * u + c[3][i]) * u + c[2][i]) * u + c[1][i]) * u + c[0][i];
      const double absorptance = 1 - exponential(depth * exponential(ln10 * log_a));
      const double excitation = absorptance * media[i];
      sums[k] += weights[0][i] * excitation;
      sums[lanes + k] += weights[1][i] * excitation;
      sums[2 * lanes + k] += weights[2][i] * excitation;
    }
  }
  for (std::size_t p = 0; p < 3; ++p) {
    double total = 0;
    for (std::size_t k = 0; k < lanes; ++k) total += sums[p * lanes + k];
    by_primary[p] = total;
  }
}

COPUNCTAL_WIDEST
void transmit(const Row& ageing, const Row& fixed, const Row& macula, double age_factor,
              double lens_factor, double macula_factor, double* media) {
  for (std::size_t i = 0; i < PopulationMap::padded; ++i)
    media[i] = exponential(
        -ln10 * (lens_factor * (ageing[i] * age_factor + fixed[i]) + macula_factor * macula[i]));
}

// Cardinal natural splines of the nodes, one column each, at our grid's wavelengths.
Eigen::MatrixXd cardinal_splines() {
  std::vector<double> nm;
  for (std::size_t j = 0; j < PopulationMap::nodes; ++j) nm.push_back(node_nm(j));
  Eigen::MatrixXd basis(static_cast<Eigen::Index>(spectrum_size),
                        static_cast<Eigen::Index>(PopulationMap::nodes));
  for (std::size_t j = 0; j < PopulationMap::nodes; ++j) {
    std::vector<double> unit(PopulationMap::nodes, 0);
    unit[j] = 1;
    const CubicSpline spline(nm, unit);
    // Beyond the last node, 770 nm, every fundamental is below 1e-4 of its peak: what light is
    // there is left out.
    for (std::size_t i = 0; i < spectrum_size; ++i)
      basis(static_cast<Eigen::Index>(i), static_cast<Eigen::Index>(j)) =
          nm_at(i) <= nm.back() ? spline(nm_at(i)) : 0;
  }
  return basis;
}

double log_absorbance(const Observer& centre, PigmentClass which, double nm, double shift_nm) {
  const bool affected = (which == PigmentClass::l && centre.kind == ObserverKind::protan) ||
                        (which == PigmentClass::m && centre.kind == ObserverKind::deutan);
  const double x = std::log10(nm);
  if (!affected) {
    const double peak = which == PigmentClass::l   ? l_peak_nm
                        : which == PigmentClass::m ? m_peak_nm
                                                   : s_peak_nm;
    return table_log_absorbance(which, x + std::log10(peak / (peak + shift_nm)));
  }
  const Blend blend = blend_for(which, centre.separation, {shift_nm});
  return (1 - blend.t) * table_log_absorbance(blend.other, x + blend.move + blend.move_other) +
         blend.t * table_log_absorbance(which, x + blend.move + blend.move_own);
}

}  // namespace

PopulationMap::PopulationMap(const Observer& centre, const Display& display)
    : centre_(centre), display_(display) {
  static const Eigen::MatrixXd basis = cardinal_splines();
  const LensParts& lens = lens_parts();
  const DensitySpectrum& macula = macular_shape();
  for (std::size_t j = 0; j < nodes; ++j) {
    const auto i = static_cast<std::size_t>(node_nm(j) - first_nm);
    ageing_[j] = lens.ageing[i];
    fixed_[j] = lens.fixed[i];
    macula_[j] = macula[i] / 0.350;
    for (std::size_t p = 0; p < 3; ++p) {
      double weight = 0;
      for (std::size_t at = 0; at < spectrum_size; ++at)
        weight += display.primaries[p][at] *
                  basis(static_cast<Eigen::Index>(at), static_cast<Eigen::Index>(j));
      weights_[p][j] = weight * node_nm(j);
    }
  }
  constexpr std::array classes = {PigmentClass::l, PigmentClass::m, PigmentClass::s};
  for (std::size_t k = 0; k < 3; ++k) {
    // A blend is brought back to peak 0; its height hardly depends on the shift.
    double top = 0;
    const bool blended = (k == 0 && centre.kind == ObserverKind::protan) ||
                         (k == 1 && centre.kind == ObserverKind::deutan);
    if (blended && centre.separation.nm > 0 && centre.separation.nm < normal_separation_nm) {
      top = -1e9;
      for (std::size_t i = 0; i < spectrum_size; ++i)
        top = std::max(top, log_absorbance(centre, classes[k], nm_at(i), 0));
    }
    for (std::size_t j = 0; j < nodes; ++j) {
      std::array<double, 5> at{};
      for (std::size_t s = 0; s < 5; ++s)
        at[s] = log_absorbance(centre, classes[k], node_nm(j),
                               shift_step_nm * (static_cast<double>(s) - 2)) -
                top;
      // The quartic through (-2, at[0]) ... (2, at[4]).
      auto& c = cones_[k].log_absorbance;
      c[0][j] = at[2];
      c[1][j] = (at[0] - 8 * at[1] + 8 * at[3] - at[4]) / 12;
      c[2][j] = (-at[0] + 16 * at[1] - 30 * at[2] + 16 * at[3] - at[4]) / 24;
      c[3][j] = (-at[0] + 2 * at[1] - 2 * at[3] + at[4]) / 12;
      c[4][j] = (at[0] - 4 * at[1] + 6 * at[2] - 4 * at[3] + at[4]) / 24;
    }
  }
}

bool PopulationMap::is_exact_needed(const Observer& o) const {
  return o.by_formulae || o.kind == ObserverKind::rod_monochromat ||
         o.kind == ObserverKind::s_cone_monochromat || std::abs(o.shift_l.nm) > most_shift_nm ||
         std::abs(o.shift_m.nm) > most_shift_nm || std::abs(o.shift_s.nm) > most_shift_nm;
}

LinearMap<LinearRgb, ConeExcitation> PopulationMap::operator()(const Observer& o) const {
  expects(o.kind == centre_.kind && o.separation.nm == centre_.separation.nm &&
          o.by_formulae == centre_.by_formulae);
  if (is_exact_needed(o)) return lms_from_linear_rgb(fundamentals_of(o), display_);
  alignas(64) Row media;
  transmit(ageing_, fixed_, macula_, lens_ageing_factor(valid_age(o.age)),
           o.lens_factor * pupil_factor(o.pupil), o.macula_factor * macular_peak(o.field).log10,
           media.data());
  const double long_wave = long_wave_pigment_density(o.field).log10;
  const std::array<ConeTask, 3> tasks = {{
      {&cones_[0].log_absorbance, o.shift_l.nm / shift_step_nm,
       o.density_l ? o.density_l->log10 : long_wave},
      {&cones_[1].log_absorbance, o.shift_m.nm / shift_step_nm,
       o.density_m ? o.density_m->log10 : long_wave},
      {&cones_[2].log_absorbance, o.shift_s.nm / shift_step_nm,
       o.s_density_factor *
           (o.density_s ? o.density_s->log10 : short_wave_pigment_density(o.field).log10)},
  }};
  LinearMap<LinearRgb, ConeExcitation> map;
  for (std::size_t k = 0; k < 3; ++k) {
    if (!(tasks[k].density > 0)) continue;
    auto& row = map.rows[k];
    excite(tasks[k], media.data(), weights_.data(), row.data());
    const double white = row[0] + row[1] + row[2];
    for (double& entry : row) entry /= white;
  }
  return map;
}

}  // namespace copunctal
