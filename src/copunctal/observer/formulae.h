// The Stockman & Rider 2023 formulae: pigments, lens and macula as Fourier polynomials.
//
// An alternative to the tables of CIE 170-1:2006. Smooth everywhere and meant for shifting; it
// departs from the tables by up to .019 of the peak (docs/science/templates.md), so the tables are
// the default and the formulae are chosen by name.
#pragma once

#include "copunctal/base/units.h"
#include "copunctal/observer/pigment.h"
#include "copunctal/spectrum/spectrum.h"

namespace copunctal {

/// log10 quantal absorbance, peak 0: a0 + sum_{k=1..8} a_k cos k t + b_k sin k t + s with
/// t = pi log10(nm / 360) / log10(850 / 360); a shift moves t by pi log10(peak / (peak + shift)) /
/// log10(850 / 360). L is the population mean of its two alleles. Stockman & Rider 2023, Table 1.
LogAbsorbance pigment_by_formula(PigmentClass which, Nanometres shift);

/// As blended_pigment(), between the formulae's L and M.
LogAbsorbance blended_pigment_by_formula(PigmentClass affected, Separation separation,
                                         Nanometres shift);

/// Lens density, 1.7649 at 400 nm, order 9, t = pi (nm - 360) / 300, 0 beyond 660 nm (Table 4).
/// For an average of 32 years only.
DensitySpectrum lens_by_formula();

/// Macular density, .350 at 460 nm, order 11, t = pi (nm - 375) / 175, 0 outside 375..550 nm
/// (Table 2).
DensitySpectrum macula_by_formula();

}  // namespace copunctal
