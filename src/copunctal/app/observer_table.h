// An observer's cone fundamentals as a table.
#pragma once

#include <string>

#include "copunctal/observer/observer.h"

namespace copunctal {

/// CSV with header nm,L,M,S: 390 to 830 nm in 1 nm, energy units, each cone's peak 1; comment
/// lines, starting with '#', say which observer, its sources, what was clamped and the intended
/// use.
std::string observer_table_csv(const Observer& observer);

}  // namespace copunctal
