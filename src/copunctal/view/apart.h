// How far apart two colours are for an observer, in units of what that observer can just see.
#pragma once

#include "copunctal/display/display.h"
#include "copunctal/view/audit.h"

namespace copunctal {

/// Distances in the observer's own cones: sqrt of the squares of ln L / .01, ln (M / L) / .006 and
/// ln (S / L) / .05, of the cones there are, flare added (docs/science/views.md). 1 is about what
/// can just be told apart under good conditions; design constants, no measurement.
class ColoursApart {
 public:
  ColoursApart(const Observer& observer, const Display& display,
               const AuditThresholds& thresholds = {});
  double operator()(const LinearRgb& a, const LinearRgb& b) const;

 private:
  LinearMap<LinearRgb, ConeExcitation> cones_;
  bool has_s_ = true, is_monochromat_ = false;
  double flare_ = 0;
  AuditThresholds thresholds_;
};

}  // namespace copunctal
