// What light passes before it reaches the cones: lens and macular pigment (CIE 170-1:2006).
#pragma once

#include "copunctal/base/units.h"
#include "copunctal/spectrum/spectrum.h"

namespace copunctal {

/// Lens density of the average observer of an age, small pupil. Ageing part x k(a) + fixed part,
/// with k(a) = 1 + .02 (a - 32) to 60 years and 1.56 + .0667 (a - 60) beyond (CIE 170-1:2006 §5.3,
/// Pokorny, Smith & Lutze 1987). Valid 20..80 years: outside, the nearest valid age is used
/// (valid_age()). Below 400 nm the ageing part continues with its slope of 400..405 nm, our choice:
/// the standard's component table stops there.
DensitySpectrum lens_density(Years age);

/// Macular pigment density: .485 exp(-f / 6.132) at 460 nm for field size f, times the Bone et al.
/// 1992 shape (CIE 170-1:2006 §5.5). Valid 1..10 degrees, clamped by valid_field().
DensitySpectrum macular_density(Degrees field);

/// Peak densities of the photopigments for field size f: .38 + .54 exp(-f / 1.333) for L and M,
/// .30 + .45 exp(-f / 1.333) for S (CIE 170-1:2006 §5.6).
Density long_wave_pigment_density(Degrees field);
Density short_wave_pigment_density(Degrees field);

/// The age or field size the formulae are evaluated at: clamped to 20..80 years, 1..10 degrees.
Years valid_age(Years age);
Degrees valid_field(Degrees field);

}  // namespace copunctal
