// The sRGB tone curve (IEC 61966-2-1) and 8-bit codes.
#pragma once

#include <array>
#include <cstdint>

#include "copunctal/colour/quantities.h"

namespace copunctal {

/// Three 8-bit code values: red, green, blue.
using Code = std::array<std::uint8_t, 3>;

/// Linear drive of an encoded value; both 0..1. Continued oddly below 0.
double srgb_decoded(double encoded);
/// Encoded value of a linear drive; the inverse of srgb_decoded.
double srgb_encoded(double linear);

/// The linear drive of each of the 256 codes under the sRGB curve.
const std::array<double, 256>& srgb_code_table();

/// Nearest 8-bit code of a linear drive in 0..1 (expects); halves round up.
std::uint8_t srgb_code(double linear);

/// Linear drives of three codes.
inline LinearRgb linear_from_codes(const Code& code) {
  const auto& table = srgb_code_table();
  return {table[code[0]], table[code[1]], table[code[2]]};
}

/// True when all three drives lie in [0, 1], within `slack`.
constexpr bool in_gamut(const LinearRgb& c, double slack = 0) {
  const auto inside = [slack](double v) { return v >= -slack && v <= 1 + slack; };
  return inside(c.r) && inside(c.g) && inside(c.b);
}

/// The nearest colour with drives in [0, 1], channel by channel. Callers say when they clip.
constexpr LinearRgb clipped(const LinearRgb& c) {
  const auto clip = [](double v) { return v < 0 ? 0 : v > 1 ? 1 : v; };
  return {clip(c.r), clip(c.g), clip(c.b)};
}

}  // namespace copunctal
