#include "copunctal/observer/formulae.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "copunctal/base/expects.h"

namespace copunctal {
namespace {

// One column of the table of coefficients.
class FourierPolynomial {
 public:
  explicit FourierPolynomial(const char* column) {
    const auto& rows = table("sr2023_templates").column(column);
    reference_nm_ = rows[0];
    order_ = static_cast<int>(rows[1]);
    trim_ = rows[2];
    coefficients_.assign(rows.begin() + 3, rows.end());
  }
  double operator()(double t) const {
    double sum = coefficients_[0];
    for (int k = 1; k <= order_; ++k) {
      const auto at = 2 * static_cast<std::size_t>(k);
      sum += coefficients_[at - 1] * std::cos(k * t) + coefficients_[at] * std::sin(k * t);
    }
    return sum;
  }
  /// s of the pigments, d of macula and lens.
  double trim() const { return trim_; }
  double reference_nm() const { return reference_nm_; }

 private:
  double reference_nm_, trim_;
  int order_;
  std::vector<double> coefficients_;
};

const FourierPolynomial& polynomial(PigmentClass which) {
  static const FourierPolynomial l("Lmean"), m("M"), s("S");
  return of_class(which, l, m, s);
}

double log_absorbance(PigmentClass which, double log_nm) {
  const double t =
      std::numbers::pi * (log_nm - std::log10(360.0)) / (std::log10(850.0) - std::log10(360.0));
  const FourierPolynomial& p = polynomial(which);
  return p(t) + p.trim();
}

void set_peak_to_zero(LogAbsorbance& pigment) {
  const double top = *std::max_element(pigment.values.begin(), pigment.values.end());
  for (double& value : pigment.values) value -= top;
}

}  // namespace

LogAbsorbance pigment_by_formula(PigmentClass which, Nanometres shift) {
  const double peak = polynomial(which).reference_nm();
  const double move = std::log10(peak / (peak + shift.nm));
  LogAbsorbance result;
  for (std::size_t i = 0; i < spectrum_size; ++i)
    result[i] = log_absorbance(which, std::log10(nm_at(i)) + move);
  return result;
}

LogAbsorbance blended_pigment_by_formula(PigmentClass affected, Separation separation,
                                         Nanometres shift) {
  const Blend blend = blend_for(affected, separation, shift);
  LogAbsorbance result;
  for (std::size_t i = 0; i < spectrum_size; ++i) {
    const double x = std::log10(nm_at(i)) + blend.move;
    result[i] = (1 - blend.t) * log_absorbance(blend.other, x + blend.move_other) +
                blend.t * log_absorbance(affected, x + blend.move_own);
  }
  if (blend.t > 0 && blend.t < 1) set_peak_to_zero(result);
  return result;
}

DensitySpectrum lens_by_formula() {
  static const FourierPolynomial p("lens");
  DensitySpectrum density;
  for (std::size_t i = 0; i < spectrum_size; ++i)
    if (nm_at(i) <= 660) density[i] = p.trim() * p(std::numbers::pi * (nm_at(i) - 360) / 300);
  return density;
}

DensitySpectrum macula_by_formula() {
  static const FourierPolynomial p("macular");
  DensitySpectrum density;
  for (std::size_t i = 0; i < spectrum_size; ++i)
    if (nm_at(i) >= 375 && nm_at(i) <= 550)
      density[i] = p.trim() * p(std::numbers::pi * (nm_at(i) - 375) / 175);
  return density;
}

}  // namespace copunctal
