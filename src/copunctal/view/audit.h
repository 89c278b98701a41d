// The error of a view: how far what the other observer's eye makes of it is from what that eye
// makes of the original.
#pragma once

#include "copunctal/base/result.h"
#include "copunctal/display/display.h"
#include "copunctal/image/picture.h"

namespace copunctal {

/// CIEDE2000 between original and view after both are reduced, exactly and without gamut limits, to
/// what a dichromat's remaining cones tell apart (half-planes): 0 where that observer cannot tell
/// them apart, else in a normal observer's just noticeable differences. docs/science/views.md.
struct AuditResult {
  double mean = 0, p95 = 0, largest = 0;
  double mean_cone_error = 0;  ///< |excitation ratio - 1| of the remaining cones, flare .005 added.
  std::size_t pixels = 0;
};

/// Audits a view of dichromat `observer`. Errors: bad_input when sizes differ, usage for an
/// observer with no missing cone (for those the claim is another one, not yet audited).
Result<AuditResult> audit(const Picture& original, const Picture& view, const Observer& observer,
                          const Display& display);

}  // namespace copunctal
