// Readers before the plates of a set, as a display shows them.
#pragma once

#include <vector>

#include "copunctal/colour/tone_curve.h"
#include "copunctal/design/plate_set.h"
#include "copunctal/reader/reader.h"

namespace copunctal {

/// The reader of one plate of the set, its codes as `light` shows them.
PlateReader reader_of(const PlateSet& set, const Plate& plate, const CodeLight& light,
                      const DiscriminationModel& model = {});
/// The same of every plate, in the set's order; on all cores, some 100 ms of one each.
std::vector<PlateReader> readers_of(const PlateSet& set, const CodeLight& light,
                                    const DiscriminationModel& model = {});

}  // namespace copunctal
