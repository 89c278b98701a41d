// Three-number colour quantities, one type each, and the arithmetic light allows.
//
// Light adds: radiances and everything linear in them may be summed and scaled.
// Codes do not: the sum of two EncodedRgb means nothing, so it does not compile.
#pragma once

#include <array>
#include <cstddef>

namespace copunctal {

/// Linear drive of a display's primaries; 1 is full drive. May leave [0, 1]
/// when a colour lies outside the gamut: nothing in this library clamps it.
struct LinearRgb {
  double r = 0, g = 0, b = 0;
};

/// Code values as stored in a picture, scaled so that 1 is the largest code.
struct EncodedRgb {
  double r = 0, g = 0, b = 0;
};

/// CIE 1931 2-deg tristimulus values; Y in cd/m2.
struct Xyz {
  double x = 0, y = 0, z = 0;
};

/// Cone excitations, each cone normalised to unit peak in energy terms at the
/// cornea, or divided by the display white's where a function says so.
struct ConeExcitation {
  double l = 0, m = 0, s = 0;
};

/// Opt-in: quantities that are linear in light.
template <class Q>
inline constexpr bool is_additive = false;
template <>
inline constexpr bool is_additive<LinearRgb> = true;
template <>
inline constexpr bool is_additive<Xyz> = true;
template <>
inline constexpr bool is_additive<ConeExcitation> = true;

template <class Q>
concept Additive = is_additive<Q>;

template <Additive Q>
constexpr Q operator+(const Q& p, const Q& q) {
  const auto& [p0, p1, p2] = p;
  const auto& [q0, q1, q2] = q;
  return {p0 + q0, p1 + q1, p2 + q2};
}

template <Additive Q>
constexpr Q operator-(const Q& p, const Q& q) {
  const auto& [p0, p1, p2] = p;
  const auto& [q0, q1, q2] = q;
  return {p0 - q0, p1 - q1, p2 - q2};
}

template <Additive Q>
constexpr Q operator*(double k, const Q& q) {
  const auto& [q0, q1, q2] = q;
  return {k * q0, k * q1, k * q2};
}

/// CIE 1931 chromaticity.
struct Chromaticity {
  double x = 0, y = 0;
};

/// Chromaticity of tristimulus values; their sum must not be 0.
constexpr Chromaticity chromaticity_of(const Xyz& c) {
  const double sum = c.x + c.y + c.z;
  return {c.x / sum, c.y / sum};
}

/// Tristimulus values of luminance Y = 1 and the given chromaticity; y must not be 0.
constexpr Xyz xyz_of(Chromaticity c) {
  return {c.x / c.y, 1, (1 - c.x - c.y) / c.y};
}

/// A 3x3 matrix that remembers what it maps. Rows are To, columns are From.
template <Additive From, Additive To>
struct LinearMap {
  std::array<std::array<double, 3>, 3> rows{};

  constexpr To operator()(const From& from) const {
    const auto& [f0, f1, f2] = from;
    const auto& [r0, r1, r2] = rows;
    return {r0[0] * f0 + r0[1] * f1 + r0[2] * f2,  //
            r1[0] * f0 + r1[1] * f1 + r1[2] * f2,  //
            r2[0] * f0 + r2[1] * f1 + r2[2] * f2};
  }
};

/// `after * before`: apply `before` first. The middle space must agree.
template <Additive A, Additive B, Additive C>
constexpr LinearMap<A, C> operator*(const LinearMap<B, C>& after, const LinearMap<A, B>& before) {
  LinearMap<A, C> map;
  for (std::size_t i = 0; i < 3; ++i)
    for (std::size_t j = 0; j < 3; ++j)
      for (std::size_t k = 0; k < 3; ++k) map.rows[i][j] += after.rows[i][k] * before.rows[k][j];
  return map;
}

/// The map back. Precondition: the matrix is invertible (its determinant is not 0).
template <Additive From, Additive To>
constexpr LinearMap<To, From> inverse(const LinearMap<From, To>& map) {
  const auto& m = map.rows;
  const auto cofactor = [&](std::size_t i, std::size_t j) {
    const std::size_t i1 = (i + 1) % 3, i2 = (i + 2) % 3, j1 = (j + 1) % 3, j2 = (j + 2) % 3;
    return m[i1][j1] * m[i2][j2] - m[i1][j2] * m[i2][j1];
  };
  const double determinant =
      m[0][0] * cofactor(0, 0) + m[0][1] * cofactor(0, 1) + m[0][2] * cofactor(0, 2);
  LinearMap<To, From> back;
  for (std::size_t i = 0; i < 3; ++i)
    for (std::size_t j = 0; j < 3; ++j) back.rows[i][j] = cofactor(j, i) / determinant;
  return back;
}

}  // namespace copunctal
