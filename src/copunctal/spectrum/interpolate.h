// Interpolation of tabulated functions.
#pragma once

#include <array>
#include <span>
#include <vector>

namespace copunctal {

/// Natural cubic spline through points with strictly ascending x; at least two points.
class CubicSpline {
 public:
  CubicSpline(std::span<const double> x, std::span<const double> y);
  /// The value at x; beyond the ends the end pieces are continued.
  double operator()(double x) const;

 private:
  std::vector<double> x_, y_, second_;
};

/// Values at 390..830 nm of a function tabulated at ascending wavelengths.
std::array<double, 441> resampled(std::span<const double> nm, std::span<const double> values,
                                  double outside);

}  // namespace copunctal
