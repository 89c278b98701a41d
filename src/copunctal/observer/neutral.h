// The neutral point: the wavelength a dichromat takes for white.
#pragma once

#include <optional>

#include "copunctal/observer/observer.h"
#include "copunctal/spectrum/spectrum.h"

namespace copunctal {

/// Which cone a dichromat lacks.
enum class MissingCone { l, m, s };

/// Wavelength at which the two remaining cones of `fundamentals` stand in the ratio `white` gives
/// them: M and S (no L), L and S (no M), or L and M (no S). Found between whole nanometres by the
/// change of sign, over 400..650 nm (400..610 without L or M: beyond, S is nothing); nothing where
/// the ratio is never met.
std::optional<double> neutral_nm(const Fundamentals& fundamentals, MissingCone missing,
                                 const Power& white);

/// The cone an observer lacks, if it is a dichromat.
std::optional<MissingCone> missing_cone(const Observer& observer);

/// CIE illuminant "A", "C" or "D65" on our grid, from the tables of 5 nm; 0 beyond 780 nm.
Power illuminant(const char* table_name);

}  // namespace copunctal
