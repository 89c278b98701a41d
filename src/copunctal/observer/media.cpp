#include "copunctal/observer/media.h"

#include <algorithm>
#include <cmath>

#include "copunctal/base/expects.h"

namespace copunctal {

const LensParts& lens_parts() {
  // The fixed part is the published total minus the ageing part, so that age 32 gives the published
  // total exactly.
  static const LensParts both = [] {
    const Table& ageing = table("lens_cie_1_ageing");
    const auto& nm = ageing.columns.front();
    const auto& density = ageing.column("density");
    const CubicSpline spline(nm, density);
    const double slope = (density[1] - density[0]) / (nm[1] - nm[0]);
    const auto total = spectrum_from<DensityKind>(table("lens_ssf"), "density");
    LensParts parts;
    for (std::size_t i = 0; i < spectrum_size; ++i) {
      const double at = nm_at(i);
      if (at < nm.front())
        parts.ageing[i] = density.front() + slope * (at - nm.front());
      else if (at <= nm.back())
        parts.ageing[i] = spline(at);
      parts.fixed[i] = total[i] - parts.ageing[i];
    }
    return parts;
  }();
  return both;
}

const DensitySpectrum& macular_shape() {
  static const auto shape = spectrum_from<DensityKind>(table("macular_bone"), "density");
  return shape;
}

double lens_ageing_factor(Years age) {
  expects(age.years >= 20 && age.years <= 80);
  return age.years <= 60 ? 1 + 0.02 * (age.years - 32) : 1.56 + 0.0667 * (age.years - 60);
}

double pupil_factor(Millimetres pupil) {
  constexpr double wide = 0.86207;
  return 1 - (1 - wide) * (std::clamp(pupil.mm, 3.0, 7.0) - 3) / 4;
}

Density macular_peak(Degrees field) {
  return {0.485 * std::exp(-valid_field(field).deg / 6.132)};
}

Years valid_age(Years age) {
  return {std::clamp(age.years, 20.0, 80.0)};
}

Degrees valid_field(Degrees field) {
  return {std::clamp(field.deg, 1.0, 10.0)};
}

DensitySpectrum lens_density(Years age, Millimetres pupil) {
  const LensParts& parts = lens_parts();
  const double k = lens_ageing_factor(valid_age(age));
  const double open = pupil_factor(pupil);
  DensitySpectrum density;
  for (std::size_t i = 0; i < spectrum_size; ++i)
    density[i] = open * (parts.ageing[i] * k + parts.fixed[i]);
  return density;
}

DensitySpectrum macular_density(Degrees field) {
  const DensitySpectrum& shape = macular_shape();
  const double peak = macular_peak(field).log10;
  DensitySpectrum density;
  for (std::size_t i = 0; i < spectrum_size; ++i) density[i] = peak * shape[i] / 0.350;
  return density;
}

Density long_wave_pigment_density(Degrees field) {
  return {0.38 + 0.54 * std::exp(-valid_field(field).deg / 1.333)};
}

Density short_wave_pigment_density(Degrees field) {
  return {0.30 + 0.45 * std::exp(-valid_field(field).deg / 1.333)};
}

}  // namespace copunctal
