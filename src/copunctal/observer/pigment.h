// Photopigments: log10 quantal absorbance, shifted on log wavelength and blended between L and M.
#pragma once

#include "copunctal/base/units.h"
#include "copunctal/spectrum/spectrum.h"

namespace copunctal {

/// Wavelengths of peak absorbance of the mean pigments, nm (Stockman & Rider 2023).
inline constexpr double l_peak_nm = 551.9, m_peak_nm = 529.8, s_peak_nm = 416.9;

/// The separation of a normal observer on our scale, nm.
inline constexpr double normal_separation_nm = 28;

enum class PigmentClass { l, m, s };

/// The one of three things that belongs to a class.
template <class T>
constexpr const T& of_class(PigmentClass which, const T& l, const T& m, const T& s) {
  return which == PigmentClass::l ? l : which == PigmentClass::m ? m : s;
}

/// The published pigment, its peak moved by `shift_nm` at constant shape on log wavelength:
/// a(lambda) -> a(lambda peak / (peak + shift)). Shift 0 is the table itself (CIE 170-1:2006
/// Table 6.6). Meant for shifts of a few nm; larger ones need blended_pigment().
LogAbsorbance pigment(PigmentClass which, Nanometres shift);

/// How two pigments blend on log10 wavelength x: (1-t) other(x + move + move_other) +
/// t own(x + move + move_own).
struct Blend {
  PigmentClass other = PigmentClass::m;
  double t = 0, move_own = 0, move_other = 0, move = 0;
};
/// expects 0 <= separation <= 28 and L or M affected.
Blend blend_for(PigmentClass affected, Separation separation, Nanometres shift);

/// The published log10 absorbance at any log10 wavelength.
double table_log_absorbance(PigmentClass which, double log10_nm);

/// The pigment in the affected cone of a protan (`affected` = l) or deutan (m) observer of residual
/// separation s: the two published shapes, aligned on log wavelength, blended in log absorbance
/// with weight t = s / 28, r = (529.8 + 28) / 529.8:
///   protan: (1-t) log a_M(lambda / r^t) + t log a_L(lambda r^(1-t))
///   deutan: (1-t) log a_L(lambda r^t) + t log a_M(lambda / r^(1-t))
/// then renormalised to peak 0. Exact at both ends, continuous and monotone between (our own
/// construction; best fit to DeMarco, Pokorny & Smith 1992 at s = 10 protan, 7 deutan). `shift`
/// moves the result as in pigment(). expects 0 <= s <= 28.
LogAbsorbance blended_pigment(PigmentClass affected, Separation separation, Nanometres shift);

}  // namespace copunctal
