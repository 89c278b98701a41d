#include "copunctal/base/random.h"

#include <cmath>
#include <numbers>

#include "copunctal/base/expects.h"

namespace copunctal {

std::array<std::uint32_t, 4> philox4x32(std::array<std::uint32_t, 4> c,
                                        std::array<std::uint32_t, 2> k) {
  constexpr std::uint64_t multiplier_0 = 0xD2511F53, multiplier_1 = 0xCD9E8D57;
  constexpr std::uint32_t weyl_0 = 0x9E3779B9, weyl_1 = 0xBB67AE85;
  for (int round = 0; round < 10; ++round) {
    const std::uint64_t p0 = multiplier_0 * c[0];
    const std::uint64_t p1 = multiplier_1 * c[2];
    c = {static_cast<std::uint32_t>(p1 >> 32) ^ c[1] ^ k[0], static_cast<std::uint32_t>(p1),
         static_cast<std::uint32_t>(p0 >> 32) ^ c[3] ^ k[1], static_cast<std::uint32_t>(p0)};
    k[0] += weyl_0;
    k[1] += weyl_1;
  }
  return c;
}

std::uint32_t RandomStream::bits32() {
  if (used_ == 4) {
    block_ = philox4x32(counter_, key_);
    ++counter_[0];
    used_ = 0;
  }
  return block_[static_cast<std::size_t>(used_++)];
}

std::uint64_t RandomStream::bits64() {
  const std::uint64_t high = bits32();
  return high << 32 | bits32();
}

double RandomStream::uniform() {
  return static_cast<double>(bits64() >> 11) * 0x1p-53;
}

std::uint32_t RandomStream::below(std::uint32_t n) {
  expects(n > 0);
  // Refuse the last, incomplete run of n values.
  const auto limit = static_cast<std::uint32_t>((std::uint64_t{1} << 32) / n * n - 1);
  std::uint32_t bits = bits32();
  while (bits > limit) bits = bits32();
  return bits % n;
}

double RandomStream::normal() {
  // The midpoint of the cell: never 0 or 1.
  return normal_quantile((static_cast<double>(bits64() >> 12) + 0.5) * 0x1p-52);
}

double normal_cdf(double z) {
  return 0.5 * std::erfc(-z / std::numbers::sqrt2);
}

double normal_quantile(double p) {
  expects(p > 0 && p < 1);
  constexpr std::array a = {-3.969683028665376e+01, 2.209460984245205e+02,  -2.759285104469687e+02,
                            1.383577518672690e+02,  -3.066479806614716e+01, 2.506628277459239e+00};
  constexpr std::array b = {-5.447609879822406e+01, 1.615858368580409e+02, -1.556989798598866e+02,
                            6.680131188771972e+01, -1.328068155288572e+01};
  constexpr std::array c = {-7.784894002430293e-03, -3.223964580411365e-01, -2.400758277161838e+00,
                            -2.549732539343734e+00, 4.374664141464968e+00,  2.938163982698783e+00};
  constexpr std::array d = {7.784695709041462e-03, 3.224671290700398e-01, 2.445134137142996e+00,
                            3.754408661907416e+00};
  constexpr double tail = 0.02425;
  const auto tail_value = [&](double q) {
    return (((((c[0] * q + c[1]) * q + c[2]) * q + c[3]) * q + c[4]) * q + c[5]) /
           ((((d[0] * q + d[1]) * q + d[2]) * q + d[3]) * q + 1);
  };
  double z = 0;
  if (p < tail) {
    z = tail_value(std::sqrt(-2 * std::log(p)));
  } else if (p > 1 - tail) {
    z = -tail_value(std::sqrt(-2 * std::log1p(-p)));
  } else {
    const double q = p - 0.5, r = q * q;
    z = (((((a[0] * r + a[1]) * r + a[2]) * r + a[3]) * r + a[4]) * r + a[5]) * q /
        (((((b[0] * r + b[1]) * r + b[2]) * r + b[3]) * r + b[4]) * r + 1);
  }
  const double e = normal_cdf(z) - p;
  const double u = e * std::sqrt(2 * std::numbers::pi) * std::exp(z * z / 2);
  return z - u / (1 + z * u / 2);
}

}  // namespace copunctal
