// Luminous efficiency from cones, XYZ from cones, and MacLeod-Boynton chromaticity (CIE
// 170-2:2015).
#pragma once

#include "copunctal/colour/quantities.h"
#include "copunctal/observer/observer.h"

namespace copunctal {

/// Weights of L and M in V_F = l L + m M, each fundamental of peak 1.
struct LuminanceWeights {
  double l = 0, m = 0;
};

/// .68990272, .34832189 at 2 degrees and .69283932, .34967567 at 10 (CIE 170-2:2015); between and
/// outside by the fundamentals' field, linearly, clamped (our choice).
LuminanceWeights luminance_weights(Degrees field);

/// V_F of an observer, l L + m M: what its own cones make of luminance, with the standard's
/// weights.
EnergySensitivity luminous_efficiency_of(const Observer& observer);

/// XYZ_F from the fundamentals of 2 or 10 degrees, each of peak 1 (CIE 170-2:2015). These are not
/// CIE 1931 values. `field` picks the matrix: 10 from 4 degrees on.
LinearMap<ConeExcitation, Xyz> xyz_f_from_lms(Degrees field);

/// A point of the MacLeod-Boynton diagram: shares of luminance, l = L share, s = S over luminance.
struct MacLeodBoynton {
  double l = 0, s = 0;
};

/// Of cone excitations that are each 1 for white, with `l_weight` the share of L in the luminance
/// of white: l = w L / (w L + (1 - w) M), s = S / (w L + (1 - w) M), so that white is (w, 1). The
/// luminance must not be 0.
constexpr MacLeodBoynton macleod_boynton(const ConeExcitation& cones, double l_weight) {
  const double luminance = l_weight * cones.l + (1 - l_weight) * cones.m;
  return {l_weight * cones.l / luminance, cones.s / luminance};
}

}  // namespace copunctal
