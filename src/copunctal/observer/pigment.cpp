#include "copunctal/observer/pigment.h"

#include <algorithm>
#include <cmath>
#include <vector>

#include "copunctal/base/expects.h"

namespace copunctal {
namespace {

// log10 absorbance as a smooth function of log10 wavelength.
const CubicSpline& template_of(PigmentClass which) {
  static const auto build = [](const char* column) {
    const Table& absorbance = table("abs_lms_log10");
    std::vector<double> log_nm;
    for (const double nm : absorbance.columns.front()) log_nm.push_back(std::log10(nm));
    return CubicSpline(log_nm, absorbance.column(column));
  };
  static const CubicSpline l = build("log10_L"), m = build("log10_M"), s = build("log10_S");
  return of_class(which, l, m, s);
}

double peak_nm(PigmentClass which) {
  return of_class(which, l_peak_nm, m_peak_nm, s_peak_nm);
}

const std::array<double, spectrum_size>& log_wavelengths() {
  static const std::array<double, spectrum_size> values = [] {
    std::array<double, spectrum_size> logs{};
    for (std::size_t i = 0; i < spectrum_size; ++i) logs[i] = std::log10(nm_at(i));
    return logs;
  }();
  return values;
}

}  // namespace

LogAbsorbance pigment(PigmentClass which, Nanometres shift) {
  const CubicSpline& log_a = template_of(which);
  const double move = std::log10(peak_nm(which) / (peak_nm(which) + shift.nm));
  LogAbsorbance result;
  for (std::size_t i = 0; i < spectrum_size; ++i) result[i] = log_a(log_wavelengths()[i] + move);
  return result;
}

double table_log_absorbance(PigmentClass which, double log10_nm) {
  return template_of(which)(log10_nm);
}

Blend blend_for(PigmentClass affected, Separation separation, Nanometres shift) {
  expects(affected != PigmentClass::s);
  expects(separation.nm >= 0 && separation.nm <= normal_separation_nm);
  const bool protan = affected == PigmentClass::l;
  const double log_r = std::log10((m_peak_nm + normal_separation_nm) / m_peak_nm);
  const double direction = protan ? 1 : -1;
  Blend blend;
  blend.other = protan ? PigmentClass::m : PigmentClass::l;
  blend.t = separation.nm / normal_separation_nm;
  blend.move_other = -direction * blend.t * log_r;
  blend.move_own = direction * (1 - blend.t) * log_r;
  // Where the blend peaks, for the shift's sake: between the two peaks on log wavelength.
  const double peak = std::pow(10, (1 - blend.t) * std::log10(protan ? m_peak_nm : l_peak_nm) +
                                       blend.t * std::log10(protan ? l_peak_nm : m_peak_nm));
  blend.move = std::log10(peak / (peak + shift.nm));
  return blend;
}

LogAbsorbance blended_pigment(PigmentClass affected, Separation separation, Nanometres shift) {
  const Blend blend = blend_for(affected, separation, shift);
  const CubicSpline& own = template_of(affected);
  const CubicSpline& other = template_of(blend.other);
  LogAbsorbance result;
  for (std::size_t i = 0; i < spectrum_size; ++i) {
    const double x = log_wavelengths()[i] + blend.move;
    result[i] = (1 - blend.t) * other(x + blend.move_other) + blend.t * own(x + blend.move_own);
  }
  if (blend.t > 0 && blend.t < 1) {
    const double top = *std::max_element(result.values.begin(), result.values.end());
    for (double& value : result.values) value -= top;
  }
  return result;
}

}  // namespace copunctal
