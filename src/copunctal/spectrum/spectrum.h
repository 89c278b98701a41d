// Functions of wavelength on one fixed grid, 390 to 830 nm in steps of 1 nm.
//
// A spectrum knows what it is: power, density, quantal or energy sensitivity. Mixing quanta and
// energy is the classic mistake of cone work, so the two are different types.
#pragma once

#include <array>
#include <cstddef>

#include "copunctal/base/units.h"
#include "copunctal/data/table.h"
#include "copunctal/spectrum/interpolate.h"

namespace copunctal {

inline constexpr int first_nm = 390, last_nm = 830;
inline constexpr std::size_t spectrum_size = last_nm - first_nm + 1;

/// Values at 390, 391, ... 830 nm of the quantity `Kind`.
template <class Kind>
struct Spectrum {
  std::array<double, spectrum_size> values{};

  double& operator[](std::size_t i) { return values[i]; }
  double operator[](std::size_t i) const { return values[i]; }
  /// At a whole wavelength on the grid.
  double at(int nm) const { return values.at(static_cast<std::size_t>(nm - first_nm)); }
};

/// Radiant power per nm, relative.
using Power = Spectrum<struct PowerKind>;
/// log10 optical density.
using DensitySpectrum = Spectrum<struct DensityKind>;
/// log10 of quantal absorbance, peak 0.
using LogAbsorbance = Spectrum<struct LogAbsorbanceKind>;
/// Relative sensitivity per unit energy, peak 1.
using EnergySensitivity = Spectrum<struct EnergySensitivityKind>;
/// A colour-matching function: response per unit energy, not peak-normalised.
using MatchingFunction = Spectrum<struct MatchingFunctionKind>;

/// Wavelength of entry i, nm.
constexpr double nm_at(std::size_t i) {
  return first_nm + static_cast<double>(i);
}

/// Sum over the grid of power x sensitivity, 1 nm steps.
template <class Kind>
double integral(const Power& power, const Spectrum<Kind>& sensitivity) {
  double sum = 0;
  for (std::size_t i = 0; i < spectrum_size; ++i) sum += power[i] * sensitivity[i];
  return sum;
}

/// A column of a table whose first column is the wavelength in nm, on our grid. Tables on the 1 nm
/// grid are taken as they are; coarser ones are interpolated by a natural cubic spline; outside the
/// table the value is `outside`.
template <class Kind>
Spectrum<Kind> spectrum_from(const Table& table, std::string_view column, double outside = 0) {
  Spectrum<Kind> spectrum;
  spectrum.values = resampled(table.columns.front(), table.column(column), outside);
  return spectrum;
}

}  // namespace copunctal
