// A million observers read the default set: time, against the plain path and the machine's peak.
#pragma once

#include "copunctal/design/plate_set.h"

namespace copunctal {

void bench_crowd(const PlateSet& set, const Display& display);

}  // namespace copunctal
