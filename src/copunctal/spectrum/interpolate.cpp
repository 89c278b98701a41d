#include "copunctal/spectrum/interpolate.h"

#include <algorithm>
#include <cmath>
#include <cstddef>

#include "copunctal/base/expects.h"

namespace copunctal {

CubicSpline::CubicSpline(std::span<const double> x, std::span<const double> y)
    : x_(x.begin(), x.end()), y_(y.begin(), y.end()), second_(x.size()) {
  expects(x.size() == y.size() && x.size() >= 2);
  // Tridiagonal system for the second derivatives, natural ends.
  const std::size_t n = x_.size();
  std::vector<double> upper(n), right(n);
  for (std::size_t i = 1; i + 1 < n; ++i) {
    const double before = x_[i] - x_[i - 1], after = x_[i + 1] - x_[i];
    expects(before > 0 && after > 0);
    const double pivot = 2 * (before + after) - before * upper[i - 1];
    upper[i] = after / pivot;
    right[i] =
        (6 * ((y_[i + 1] - y_[i]) / after - (y_[i] - y_[i - 1]) / before) - before * right[i - 1]) /
        pivot;
  }
  for (std::size_t i = n - 1; i-- > 1;) second_[i] = right[i] - upper[i] * second_[i + 1];
}

double CubicSpline::operator()(double x) const {
  const auto above = std::upper_bound(x_.begin() + 1, x_.end() - 1, x);
  const auto i = static_cast<std::size_t>(above - x_.begin());
  const double width = x_[i] - x_[i - 1];
  const double a = (x_[i] - x) / width, b = (x - x_[i - 1]) / width;
  return a * y_[i - 1] + b * y_[i] +
         ((a * a * a - a) * second_[i - 1] + (b * b * b - b) * second_[i]) * width * width / 6;
}

std::array<double, 441> resampled(std::span<const double> nm, std::span<const double> values,
                                  double outside) {
  const CubicSpline spline(nm, values);
  std::array<double, 441> result{};
  for (std::size_t i = 0; i < result.size(); ++i) {
    const double x = 390 + static_cast<double>(i);
    // A knot is met exactly: published 1 nm tables pass through unchanged.
    if (const auto knot = std::lower_bound(nm.begin(), nm.end(), x); knot != nm.end() && *knot == x)
      result[i] = values[static_cast<std::size_t>(knot - nm.begin())];
    else if (x < nm.front() || x > nm.back())
      result[i] = outside;
    else
      result[i] = spline(x);
  }
  return result;
}

}  // namespace copunctal
