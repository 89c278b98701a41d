// Figures of plates for slides: readers' rows, and a plate taken apart.
#pragma once

#include <string>

#include "copunctal/base/result.h"
#include "copunctal/design/plate_set.h"
#include "copunctal/display/display.h"

namespace copunctal {

/// The set's plates named `only` (all if empty), one under the other, each with its readers' row:
/// for every standard observer a bar up or down from what is needed, and P(read) as a number; and
/// what its kind rests on. Error: not_found, with the nearest name, for a plate that is not there.
Result<std::string> readers_rows_svg(const PlateSet& set, const std::string& only,
                                     const Display& display);

/// One plate as the three cones of an observer get it and as its three mechanisms do, six grey
/// pictures with their scales, and in which of them the figure stands out. Error: not_found.
Result<std::string> apart_svg(const PlateSet& set, const std::string& plate,
                              const Observer& observer, const Display& display);

/// The plate of that name. Error: not_found, with the nearest name.
Result<const Plate*> plate_named(const PlateSet& set, const std::string& name);

}  // namespace copunctal
