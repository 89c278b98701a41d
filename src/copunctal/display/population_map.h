// The cone matrices of very many individuals on one display, fast.
#pragma once

#include <array>
#include <span>
#include <vector>

#include "copunctal/display/display.h"
#include "copunctal/observer/observer.h"

namespace copunctal {

/// Maps individuals of one kind and separation to their white-normalised 3 x 3 on one display.
///
/// The integral of fundamental x primary is a weighted sum of the fundamental at 77 wavelengths, 5
/// nm apart: the weights are the primary's integrals over the cardinal natural cubic splines of
/// those wavelengths, made once (product integration), so the narrow lines of a display cost
/// nothing and only the smooth fundamental is interpolated. At each wavelength a pigment's log
/// absorbance is a quartic in its shift, through five exact values 4 nm apart. Exponentials are our
/// own polynomial, so that the compiler may take eight at a time and every machine gets the same
/// bits.
///
/// The double twin is lms_from_linear_rgb(fundamentals_of(o), display): population_map_test prints
/// and holds the largest difference over 10^4 individuals (docs/science/population.md). Shifts
/// beyond 10 nm, formulae and monochromats are handed to the twin.
class PopulationMap {
 public:
  /// `centre` gives kind, separation and templates; its other numbers are not used.
  PopulationMap(const Observer& centre, const Display& display);

  /// `observer` must be of the centre's kind, separation and templates (expects).
  LinearMap<LinearRgb, ConeExcitation> operator()(const Observer& observer) const;

  static constexpr std::size_t nodes = 77, padded = 80;
  static constexpr double shift_unit_nm = 4;  ///< Of the shifts in the tables.

 private:
  friend struct CrowdTasks;  ///< reader/crowd.cpp does the same for many at a time.

  using Row = std::array<double, padded>;
  struct Cone {
    /// log10 absorbance = c[0] + c[1] u + ... + c[4] u^4, u the shift in units of 4 nm.
    std::array<Row, 5> log_absorbance{};
  };

  bool is_exact_needed(const Observer& observer) const;

  Observer centre_;
  Display display_;
  std::array<Cone, 3> cones_{};
  Row ageing_{}, fixed_{}, macula_{};
  std::array<Row, 3> weights_{};  ///< Per primary, wavelength in nm included (quanta to energy).
};

}  // namespace copunctal
