// The Rayleigh match: which mixture of a red and a green light looks like a yellow one, computed.
#pragma once

#include <optional>

#include "copunctal/observer/observer.h"

namespace copunctal {

/// The three lights, nm, and what counts as a difference.
struct RayleighLights {
  double red_nm = 670.8, green_nm = 546.1, yellow_nm = 589.3;
  /// Accepted are mixtures with |ln(L/M) - ln(L/M)_yellow| up to this. .035 gives a normal a range
  /// of .037 of the scale, the size usually quoted (common practice, no source).
  double criterion = 0.035;
};

/// A match: mixture x (0 all green, 1 all red), brightness y of the yellow light. The scales are
/// ours: x R / V(R) + (1 - x) G / V(G) against y Y / V(Y), all three of equal luminance V_F (CIE
/// 170-2:2015) at x, y = 1.
struct RayleighMatch {
  double x = 0, y = 0;
  double low = 0, high = 1;  ///< Mixtures accepted, y set anew for each.
  /// [(1 - x) / x] over a normal's of 32 years and 2 degrees; nothing for an observer who accepts
  /// every mixture or whose match lies at an end of the scale.
  std::optional<double> quotient;
  bool accepts_all = false;
};

/// The match of an observer's L and M cones: exact where both can be satisfied (2 x 2 linear
/// equations), at the end of the scale where they cannot. An observer with one long-wave pigment,
/// or with one signal only, accepts all mixtures: x is then the normal's, y what that cone asks
/// for. S plays no part (S is .3 % of its peak at 546 nm).
RayleighMatch rayleigh_match(const Observer& observer, const RayleighLights& lights = {});
/// The same for given fundamentals, as for tabulated ones; column l against column m.
RayleighMatch rayleigh_match(const Fundamentals& fundamentals, const RayleighLights& lights = {});

/// The brightness y that satisfies one cone at mixture x.
double yellow_for(const EnergySensitivity& cone, double x, const RayleighLights& lights = {});

/// The cone's excitation by the mixture x.
double mixture_excitation(const EnergySensitivity& cone, double x,
                          const RayleighLights& lights = {});

}  // namespace copunctal
