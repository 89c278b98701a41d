// Methods as others published them, for comparison and for audits: nothing of our own rests on
// them.
#pragma once

#include "copunctal/base/result.h"
#include "copunctal/colour/quantities.h"
#include "copunctal/display/display.h"
#include "copunctal/observer/observer.h"

namespace copunctal {

/// What the 2009 matrices call severity, in percent, for one of our observers: their pigment moves
/// until nothing is left of its separation, so (28 - separation) / 28 of 100; of a tritan what is
/// missing of the S density. 0 for others. Our assignment: theirs counts a shift of 20 nm as all.
double published_severity(const Observer& observer);

/// The matrix of Machado, Oliveira & Fernandes 2009 for linear RGB, interpolated linearly between
/// the tens of percent. Error: usage for an observer that is neither protan, deutan nor tritan.
Result<LinearMap<LinearRgb, LinearRgb>> severity_matrix(ObserverKind kind, double percent);

/// Their construction redone for another display (protan and deutan; expects one of them): cones of
/// Smith & Pokorny 1975, one pigment blended into the other with areas kept (x .96), the opponent
/// stage of Ingling & Tsou 1977. With the primaries of `monitor_crt_basis` as tabulated it gives
/// their tables within .004.
LinearMap<LinearRgb, LinearRgb> severity_matrix_for(ObserverKind kind, double percent,
                                                    const std::array<Power, 3>& primaries);

/// The single plane of Viénot, Brettel & Mollon 1999, their matrices and coefficients, for protan
/// and deutan (expects one of them).
LinearMap<LinearRgb, LinearRgb> plane_of_1999(ObserverKind kind);

/// Their compression of the original: R -> scale x R + offset, all channels alike.
struct AffineStep {
  double scale = 1, offset = 0;
  LinearRgb operator()(const LinearRgb& c) const {
    return {scale * c.r + offset, scale * c.g + offset, scale * c.b + offset};
  }
};
AffineStep compression_of_1999(ObserverKind kind);

/// RGB to their cones, and the coefficients (a, b) of the missing cone in the two others, as
/// printed.
extern const LinearMap<LinearRgb, ConeExcitation> cones_of_1999;
std::array<double, 2> coefficients_of_1999(ObserverKind kind);

}  // namespace copunctal
