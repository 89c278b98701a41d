#include "copunctal/colour/tone_curve.h"

#include <algorithm>
#include <cmath>

#include "copunctal/base/expects.h"
#include "copunctal/base/text.h"
#include "copunctal/colour/encoding.h"

namespace copunctal {
namespace {

// The value on straight lines through (from, to) at `x`; `from` rises, perhaps with level
// stretches.
double between(const std::vector<double>& from, const std::vector<double>& to, double x) {
  const auto above = std::lower_bound(from.begin() + 1, from.end() - 1, x);
  const auto i = static_cast<std::size_t>(above - from.begin());
  const double width = from[i] - from[i - 1];
  if (width <= 0) return to[i - 1];
  return to[i - 1] + (x - from[i - 1]) / width * (to[i] - to[i - 1]);
}

tl::unexpected<Error> curve_error(const std::string& what, const std::string& remedy) {
  return fail(Error::Kind::bad_input, "tone curve: " + what, "tone curve", "", remedy);
}

}  // namespace

Result<ToneCurve> ToneCurve::power(double exponent) {
  if (!(exponent > 0 && exponent <= 10))
    return curve_error("gamma " + shortest(exponent) + " is impossible",
                       "give a number above 0 and up to 10; displays lie near 2.2");
  ToneCurve curve;
  curve.shape_ = exponent;
  return curve;
}

Result<ToneCurve> ToneCurve::sampled(std::span<const double> encoded,
                                     std::span<const double> light) {
  expects(encoded.size() == light.size());
  if (encoded.size() < 2)
    return curve_error("there are fewer than two samples", "measure at least black and white");
  for (std::size_t i = 0; i < encoded.size(); ++i) {
    const std::string at = "sample " + std::to_string(i + 1);
    if (!std::isfinite(encoded[i]) || !std::isfinite(light[i]) || light[i] < 0)
      return curve_error(at + " is not a number from 0 up", "correct or remove the sample");
    if (i > 0 && encoded[i] <= encoded[i - 1])
      return curve_error(at + " does not follow the one before it", "sort the samples by code");
    if (i > 0 && light[i] < light[i - 1])
      return curve_error(at + " is darker than the one before it",
                         "measure again: light must not fall as the code rises");
  }
  if (encoded.front() != 0 || encoded.back() != 1)
    return curve_error("the samples do not reach from code 0 to the largest",
                       "measure black and full drive as well");
  const double black = light.front(), range = light.back() - black;
  if (!(range > 0)) return curve_error("black is as bright as white", "measure again");
  Samples samples;
  samples.encoded.assign(encoded.begin(), encoded.end());
  for (const double value : light) samples.light.push_back((value - black) / range);
  samples.light.back() = 1;
  ToneCurve curve;
  curve.shape_ = std::move(samples);
  return curve;
}

double ToneCurve::decoded(double encoded) const {
  expects(encoded >= 0 && encoded <= 1);
  if (const auto* exponent = std::get_if<double>(&shape_)) return std::pow(encoded, *exponent);
  if (const auto* samples = std::get_if<Samples>(&shape_))
    return between(samples->encoded, samples->light, encoded);
  return srgb_decoded(encoded);
}

double ToneCurve::encoded(double light) const {
  expects(light >= 0 && light <= 1);
  if (const auto* exponent = std::get_if<double>(&shape_)) return std::pow(light, 1 / *exponent);
  if (const auto* samples = std::get_if<Samples>(&shape_))
    return between(samples->light, samples->encoded, light);
  return srgb_encoded(light);
}

std::optional<double> ToneCurve::exponent() const {
  const auto* exponent = std::get_if<double>(&shape_);
  return exponent == nullptr ? std::nullopt : std::optional(*exponent);
}

std::span<const double> ToneCurve::sample_values() const {
  const auto* samples = std::get_if<Samples>(&shape_);
  return samples == nullptr ? std::span<const double>() : samples->encoded;
}

std::span<const double> ToneCurve::sample_lights() const {
  const auto* samples = std::get_if<Samples>(&shape_);
  return samples == nullptr ? std::span<const double>() : samples->light;
}

std::uint8_t ToneCurve::code(double light) const {
  return static_cast<std::uint8_t>(std::lround(255 * encoded(light)));
}

double ToneCurve::step_at(double encoded_value, int bits) const {
  const double largest = std::ldexp(1.0, bits) - 1;
  const double code = std::round(encoded_value * largest);
  expects(code >= 1 && code <= largest);
  const double below = decoded((code - 1) / largest);
  return below > 0 ? decoded(code / largest) / below - 1 : 0;
}

std::array<double, 256> ToneCurve::code_table() const {
  if (is_srgb()) return srgb_code_table();
  std::array<double, 256> table{};
  for (std::size_t code = 0; code < table.size(); ++code)
    table[code] = decoded(static_cast<double>(code) / 255);
  return table;
}

double ToneCurve::nearest_exponent() const {
  const std::array<double, 256> light = code_table();
  const auto miss = [&](double exponent) {
    double sum = 0;
    for (std::size_t code = 0; code < light.size(); ++code) {
      const double d = std::pow(light[code], 1 / exponent) - static_cast<double>(code) / 255;
      sum += d * d;
    }
    return sum;
  };
  // Golden section: the sum has one minimum for a rising curve.
  constexpr double ratio = 0.6180339887498949;
  double low = 0.05, high = 10;
  for (int step = 0; step < 60; ++step) {
    const double a = high - ratio * (high - low), b = low + ratio * (high - low);
    if (miss(a) < miss(b))
      high = b;
    else
      low = a;
  }
  return (low + high) / 2;
}

std::string ToneCurve::words() const {
  if (const auto* exponent = std::get_if<double>(&shape_)) return "power " + shortest(*exponent);
  if (const auto* samples = std::get_if<Samples>(&shape_))
    return std::to_string(samples->encoded.size()) + " samples, near power " +
           decimals(nearest_exponent(), 2);
  return "sRGB";
}

CodeLight::CodeLight(const std::array<ToneCurve, 3>& curves) : curves_(curves), tables_{} {
  for (std::size_t p = 0; p < 3; ++p) tables_[p] = curves[p].code_table();
}

const CodeLight& CodeLight::srgb() {
  static const CodeLight light({ToneCurve(), ToneCurve(), ToneCurve()});
  return light;
}

std::vector<LinearRgb> CodeLight::linear(const std::vector<std::vector<Code>>& codes) const {
  std::vector<LinearRgb> colours;
  for (const auto& part : codes)
    for (const Code& code : part) colours.push_back(linear(code));
  return colours;
}

Code CodeLight::code(const LinearRgb& colour) const {
  return {curves_[0].code(colour.r), curves_[1].code(colour.g), curves_[2].code(colour.b)};
}

}  // namespace copunctal
