#include "copunctal/observer/luminance.h"

#include <algorithm>

namespace copunctal {

LuminanceWeights luminance_weights(Degrees field) {
  constexpr LuminanceWeights two{0.68990272, 0.34832189}, ten{0.69283932, 0.34967567};
  const double t = std::clamp((field.deg - 2) / 8, 0.0, 1.0);
  return {two.l + t * (ten.l - two.l), two.m + t * (ten.m - two.m)};
}

EnergySensitivity luminous_efficiency_of(const Observer& observer) {
  const Fundamentals f = fundamentals_of(observer);
  const LuminanceWeights w = luminance_weights(observer.field);
  EnergySensitivity v;
  for (std::size_t i = 0; i < spectrum_size; ++i) v[i] = w.l * f.l[i] + w.m * f.m[i];
  return v;
}

LinearMap<ConeExcitation, Xyz> xyz_f_from_lms(Degrees field) {
  if (field.deg < 4)
    return {
        {{{1.94735469, -1.41445123, 0.36476327}, {0.68990272, 0.34832189, 0}, {0, 0, 1.93485343}}}};
  return {
      {{{1.93986443, -1.34664359, 0.43044935}, {0.69283932, 0.34967567, 0}, {0, 0, 2.14687945}}}};
}

}  // namespace copunctal
