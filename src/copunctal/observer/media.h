// What light passes before it reaches the cones: lens and macular pigment (CIE 170-1:2006).
#pragma once

#include "copunctal/base/units.h"
#include "copunctal/spectrum/spectrum.h"

namespace copunctal {

/// Lens density of the average observer of an age, small pupil. Ageing part x k(a) + fixed part,
/// with k(a) = 1 + .02 (a - 32) to 60 years and 1.56 + .0667 (a - 60) beyond (CIE 170-1:2006 §5.3,
/// Pokorny, Smith & Lutze 1987). Valid 20..80 years: outside, the nearest valid age is used
/// (valid_age()). Below 400 nm the ageing part continues with its slope of 400..405 nm, our choice:
/// the standard's component table stops there. Pupils of 7 mm and more: x .86207 (CIE 170-1:2006,
/// note to Table 6.10); from 3 to 7 mm linear between, our choice; below 3 mm as at 3.
DensitySpectrum lens_density(Years age, Millimetres pupil = {3});

/// Macular pigment density: .485 exp(-f / 6.132) at 460 nm for field size f, times the Bone et al.
/// 1992 shape (CIE 170-1:2006 §5.5). Valid 1..10 degrees, clamped by valid_field().
DensitySpectrum macular_density(Degrees field);

/// Peak densities of the photopigments for field size f: .38 + .54 exp(-f / 1.333) for L and M,
/// .30 + .45 exp(-f / 1.333) for S (CIE 170-1:2006 §5.6).
Density long_wave_pigment_density(Degrees field);
Density short_wave_pigment_density(Degrees field);

/// Factor on the lens density for a pupil: 1 to 3 mm, .86207 from 7 mm.
double pupil_factor(Millimetres pupil);

/// The age or field size the formulae are evaluated at: clamped to 20..80 years, 1..10 degrees.
Years valid_age(Years age);
Degrees valid_field(Degrees field);

/// Factor on the ageing part of the lens: 1 at 32 years. expects 20 <= age <= 80.
double lens_ageing_factor(Years age);

/// The two parts of the lens at age 32: the ageing part, and what does not age.
struct LensParts {
  DensitySpectrum ageing, fixed;
};
const LensParts& lens_parts();

/// Density of the Bone et al. 1992 macular pigment, .3500 at 460 nm.
const DensitySpectrum& macular_shape();
/// Peak density of the macular pigment at 460 nm for a field size.
Density macular_peak(Degrees field);

}  // namespace copunctal
