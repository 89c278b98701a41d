// Plates on loan: drawn so that a normal viewer answers as a lent observer would.
//
// A view shows what an observer cannot tell apart; a loan goes further and takes from the viewer
// what the observer lacks: on the plane through blue a normal keeps a red-green signal, on loan
// that signal is exactly 0 (docs/science/loans.md).
#pragma once

#include <string>

#include "copunctal/base/result.h"
#include "copunctal/display/display.h"

namespace copunctal {

/// Colours of a display to colours of the display whose cone excitations in the nominal normal
/// viewer are those the lent observer would have had.
class Loan {
 public:
  /// `l_weight`: share of L in the viewer's luminance. Cones, relative to the display's white:
  ///   protan:0   L' = M, M' = M, S' = S        deutan:0   L' = L, M' = L, S' = S
  ///   tritan     L' = L, M' = M, S' = w L + (1 - w) M
  ///   others of three cones: L', M', S' are the lent observer's own.
  /// Black level and ambient light are counted on both sides. Error: unsupported for monochromats.
  static Result<Loan> make(const Observer& lent, const Display& display, double l_weight);

  /// Exact; the result may leave the display's range. `gain` multiplies the viewer's ln(L' / M'),
  /// luminance kept: individuals differ otherwise in the lent observer than in viewers, and a gain
  /// near 1 makes their mean answers agree. It changes nothing for dichromats.
  LinearRgb operator()(const LinearRgb& colour, double gain = 1) const;

 private:
  LinearMap<LinearRgb, ConeExcitation> cones_;
  LinearMap<ConeExcitation, LinearRgb> back_;
  ConeExcitation wanted_veil_, veil_;
  double l_weight_ = 0;
};

}  // namespace copunctal
