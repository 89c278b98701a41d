#include "copunctal/observer/media.h"

#include <algorithm>
#include <cmath>

namespace copunctal {
namespace {

// The two components at age 32. The fixed part is the total minus the ageing part, so that age 32
// gives the published total exactly.
struct LensComponents {
  DensitySpectrum ageing, fixed;
};

const LensComponents& lens_components() {
  static const LensComponents components = [] {
    const Table& ageing = table("lens_cie_1_ageing");
    const auto& nm = ageing.columns.front();
    const auto& density = ageing.column("density");
    const CubicSpline spline(nm, density);
    const double slope = (density[1] - density[0]) / (nm[1] - nm[0]);
    const auto total = spectrum_from<DensityKind>(table("lens_ssf"), "density");
    LensComponents parts;
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
  return components;
}

double ageing_factor(double age) {
  return age <= 60 ? 1 + 0.02 * (age - 32) : 1.56 + 0.0667 * (age - 60);
}

}  // namespace

Years valid_age(Years age) {
  return {std::clamp(age.years, 20.0, 80.0)};
}

Degrees valid_field(Degrees field) {
  return {std::clamp(field.deg, 1.0, 10.0)};
}

DensitySpectrum lens_density(Years age) {
  const LensComponents& parts = lens_components();
  const double k = ageing_factor(valid_age(age).years);
  DensitySpectrum density;
  for (std::size_t i = 0; i < spectrum_size; ++i) density[i] = parts.ageing[i] * k + parts.fixed[i];
  return density;
}

DensitySpectrum macular_density(Degrees field) {
  static const auto shape = spectrum_from<DensityKind>(table("macular_bone"), "density");
  const double peak = 0.485 * std::exp(-valid_field(field).deg / 6.132);
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
