// How codes become light on one channel: the sRGB curve, a power law, or measured samples.
#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <variant>
#include <vector>

#include "copunctal/base/result.h"
#include "copunctal/colour/encoding.h"
#include "copunctal/colour/quantities.h"

namespace copunctal {

/// A rising curve from encoded value 0..1 to light 0..1, 0 to 0 and 1 to 1.
class ToneCurve {
 public:
  /// IEC 61966-2-1.
  ToneCurve() = default;
  /// light = encoded^exponent. Error (bad_input) unless 0 < exponent <= 10.
  static Result<ToneCurve> power(double exponent);
  /// Straight lines between measured samples, scaled to light 0..1 after the first sample's light
  /// (black) is taken off. Errors (bad_input): fewer than 2 samples, not finite, encoded values not
  /// rising from 0 to 1, light that falls, black as bright as white.
  static Result<ToneCurve> sampled(std::span<const double> encoded, std::span<const double> light);

  /// Light of an encoded value in 0..1 (expects).
  double decoded(double encoded) const;
  /// Encoded value of light in 0..1 (expects); where the curve is level, the smallest.
  double encoded(double light) const;
  /// Nearest 8-bit code, halves up.
  std::uint8_t code(double light) const;
  /// The light of a code of so many bits over that of the one below, less 1: how coarse the codes
  /// are there. Code from 1 (expects).
  double step_at(double encoded, int bits) const;
  /// The light of each of the 256 codes.
  std::array<double, 256> code_table() const;
  bool is_srgb() const { return std::holds_alternative<Srgb>(shape_); }
  /// What power() was given; nothing for another shape.
  std::optional<double> exponent() const;
  /// The samples, encoded value and light from 0 to 1; empty for another shape.
  std::span<const double> sample_values() const;
  std::span<const double> sample_lights() const;
  /// "sRGB", "power 2.2", "measured at 17 codes"; and the exponent that fits best.
  std::string words() const;
  /// Exponent of the power law nearest in encoded value (least squares over the 256 codes).
  double nearest_exponent() const;

 private:
  struct Srgb {};
  struct Samples {
    std::vector<double> encoded, light;
  };
  std::variant<Srgb, double, Samples> shape_;
};

/// Three curves as tables: 8-bit codes to light and back.
class CodeLight {
 public:
  explicit CodeLight(const std::array<ToneCurve, 3>& curves);
  /// Of the sRGB curve.
  static const CodeLight& srgb();
  LinearRgb linear(const Code& code) const {
    return {tables_[0][code[0]], tables_[1][code[1]], tables_[2][code[2]]};
  }
  /// Of lists of codes, one after the other: a plate's colours by part and level.
  std::vector<LinearRgb> linear(const std::vector<std::vector<Code>>& codes) const;
  /// Nearest codes of drives in 0..1 (expects).
  Code code(const LinearRgb& colour) const;
  /// Encoded values, 0 to 1, of drives in 0..1 (expects).
  EncodedRgb encoded(const LinearRgb& colour) const {
    return {curves_[0].encoded(colour.r), curves_[1].encoded(colour.g),
            curves_[2].encoded(colour.b)};
  }
  /// Codes of a neutral drive in 0..1.
  Code grey(double drive) const { return code({drive, drive, drive}); }

 private:
  std::array<ToneCurve, 3> curves_;
  std::array<std::array<double, 256>, 3> tables_;
};

}  // namespace copunctal
