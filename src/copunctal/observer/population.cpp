#include "copunctal/observer/population.h"

#include <algorithm>

#include "copunctal/base/random.h"
#include "copunctal/observer/media.h"

namespace copunctal {

Observer individual(const Observer& centre, std::uint64_t seed, std::uint32_t index,
                    const PopulationSpread& spread) {
  // Label 1: bodies. The same index gives the same body in every kind, so kinds are compared with
  // common random numbers.
  RandomStream random(seed, 1, index);
  const auto factor = [&](double sd) { return std::max(0.05, 1 + sd * random.normal()); };
  Observer o = centre;
  o.age = {random.uniform(spread.youngest, spread.oldest)};
  o.lens_factor *= factor(spread.lens);
  o.macula_factor *= factor(spread.macula);
  const double long_wave = long_wave_pigment_density(o.field).log10;
  o.density_l = {long_wave * factor(spread.density_l)};
  o.density_m = {long_wave * factor(spread.density_m)};
  o.density_s = {short_wave_pigment_density(o.field).log10 * factor(spread.density_s)};
  o.shift_l = {spread.peak_l_nm * random.normal()};
  o.shift_m = {spread.peak_m_nm * random.normal()};
  o.shift_s = {spread.peak_s_nm * random.normal()};
  if (o.separation.nm == 0 && o.kind == ObserverKind::protan) {
    o.shift_l = o.shift_m;
    o.density_l = o.density_m;
  }
  if (o.separation.nm == 0 && o.kind == ObserverKind::deutan) {
    o.shift_m = o.shift_l;
    o.density_m = o.density_l;
  }
  return o;
}

}  // namespace copunctal
