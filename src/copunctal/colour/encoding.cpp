#include "copunctal/colour/encoding.h"

#include <cmath>

#include "copunctal/base/expects.h"

namespace copunctal {

double srgb_decoded(double encoded) {
  if (encoded < 0) return -srgb_decoded(-encoded);
  return encoded <= 0.04045 ? encoded / 12.92 : std::pow((encoded + 0.055) / 1.055, 2.4);
}

double srgb_encoded(double linear) {
  if (linear < 0) return -srgb_encoded(-linear);
  return linear <= 0.0031308 ? linear * 12.92 : 1.055 * std::pow(linear, 1 / 2.4) - 0.055;
}

const std::array<double, 256>& srgb_code_table() {
  static const std::array<double, 256> table = [] {
    std::array<double, 256> values{};
    for (std::size_t code = 0; code < values.size(); ++code)
      values[code] = srgb_decoded(static_cast<double>(code) / 255);
    return values;
  }();
  return table;
}

std::uint8_t srgb_code(double linear) {
  expects(linear >= 0 && linear <= 1);
  return static_cast<std::uint8_t>(std::lround(255 * srgb_encoded(linear)));
}

}  // namespace copunctal
