// Colour differences as a normal observer sees them: CIE 1976 Lab and CIEDE2000.
#pragma once

#include "copunctal/colour/quantities.h"

namespace copunctal {

/// CIE 1976 L*a*b* (ISO/CIE 11664-4), relative to a white.
struct Lab {
  double l = 0, a = 0, b = 0;
};

/// Lab of tristimulus values relative to `white` (all three of white > 0).
Lab lab_from(const Xyz& colour, const Xyz& white);

/// CIEDE2000 (ISO/CIE 11664-6; Sharma, Wu & Dalal 2005, Color Res. Appl. 30:21-30), kL = kC = kH
/// = 1. Meant for differences below about 5; larger numbers order, they do not measure.
double ciede2000(const Lab& p, const Lab& q);

}  // namespace copunctal
