// The kernel's body, compiled once for each instruction set (kernel_*.cpp) and for the browser.
//
// Plain loops over planes of a block, which compilers turn into the widest instructions they are
// allowed. Nothing of the standard library is used: an inline function of it compiled for a wider
// set here could be taken by the linker for all of the program.
//
// sRGB (IEC 61966-2-1). Decoding: below .04045 linear, above a polynomial in the code. Encoding: x
// to the 1/4 by Newton's steps on x^-1/4 from the exponent's bits, then a polynomial in it.
// Chebyshev fits; over all codes the largest errors are those docs/science/views.md gives.
#include <cstddef>
#include <cstdint>

#include "copunctal/view/kernel.h"

namespace {

using copunctal::KernelPlan;

constexpr std::size_t block = 256;

// Coefficients by rising powers.
template <std::size_t n>
inline float polynomial(const float (&p)[n], float x) {
  float sum = p[n - 1];
  for (std::size_t i = n - 1; i-- > 0;) sum = sum * x + p[i];
  return sum;
}

constexpr float decode_8[] = {  // NOLINT(modernize-avoid-c-arrays)
    0.000919755026F, 0.0329489372F, 0.513254491F,  0.710048171F,
    -0.421929176F,   0.215906154F,  -0.0511523033F};
constexpr float decode_16[] = {  // NOLINT(modernize-avoid-c-arrays)
    0.000840525063F, 0.0359632159F, 0.473969672F, 0.95914236F,  -1.32765579F, 2.28683276F,
    -3.17971763F,    3.16172292F,   -2.07085517F, 0.794483717F, -0.134726627F};
// In the square root.
constexpr float encode_8[] = {  // NOLINT(modernize-avoid-c-arrays)
    -0.0463699463F, 1.72486422F, -3.91775493F, 17.7522915F, -60.6918058F, 144.843069F,
    -236.158428F,   256.854354F, -177.793927F, 70.7317715F, -12.2980689F};
// In the fourth root.
constexpr float encode_16[] = {  // NOLINT(modernize-avoid-c-arrays)
    -0.0577672303F, 0.112263244F, 1.54077276F,   -1.46111079F, 1.9170143F,
    -1.91267741F,   1.27350566F,  -0.498168527F, 0.0861680475F};

template <std::size_t n>
inline float decoded(const float (&p)[n], float code) {
  const float low = code * (1.0F / 12.92F), high = polynomial(p, code);
  return code <= 0.04045F ? low : high;
}
inline float encoded(float x, float high) {
  return x <= 0.0031308F ? 12.92F * x : high;
}

template <class Number>
struct Codes;
template <>
struct Codes<std::uint8_t> {
  static constexpr float largest = 255;
  static inline float decode(float code) { return decoded(decode_8, code); }
  static inline float encode(float x) {
    return encoded(x, polynomial(encode_8, __builtin_sqrtf(x)));
  }
};
template <>
struct Codes<std::uint16_t> {
  static constexpr float largest = 65535;
  static inline float decode(float code) { return decoded(decode_16, code); }
  static inline float encode(float x) {
    const float code = encoded(x, polynomial(encode_16, __builtin_sqrtf(__builtin_sqrtf(x))));
    return code < 1 ? code : 1;  // the polynomial passes 1 by a little
  }
};

template <bool two_sided, class Number>
inline std::size_t run_block(const KernelPlan& plan, Number* __restrict rgb, std::size_t pixels,
                             std::uint8_t* __restrict outside) {
  alignas(64) float plane[3][block];
  alignas(64) std::int32_t beyond[block];
  constexpr float largest = Codes<Number>::largest, scale = 1.0F / largest;
  for (std::size_t i = 0; i < pixels; ++i) {
    plane[0][i] = static_cast<float>(rgb[3 * i]);
    plane[1][i] = static_cast<float>(rgb[3 * i + 1]);
    plane[2][i] = static_cast<float>(rgb[3 * i + 2]);
  }
  for (auto& channel : plane)
    for (std::size_t i = pixels; i < block; ++i) channel[i] = 0;
  for (auto& channel : plane)
    for (std::size_t i = 0; i < block; ++i) channel[i] = Codes<Number>::decode(channel[i] * scale);
  const float least = -plan.slack, most = 1 + plan.slack;
  for (std::size_t i = 0; i < block; ++i) {
    const float r = plane[0][i], g = plane[1][i], b = plane[2][i];
    float x = plan.a[0] * r + plan.a[1] * g + plan.a[2] * b,
          y = plan.a[3] * r + plan.a[4] * g + plan.a[5] * b,
          z = plan.a[6] * r + plan.a[7] * g + plan.a[8] * b;
    if constexpr (two_sided) {
      const float side = plan.n[0] * r + plan.n[1] * g + plan.n[2] * b, part = side < 0 ? side : 0;
      x += plan.k[0] * part;
      y += plan.k[1] * part;
      z += plan.k[2] * part;
    }
    const float low = x < y ? x : y, high = x > y ? x : y;
    const float lowest = low < z ? low : z, highest = high > z ? high : z;
    beyond[i] =
        static_cast<std::int32_t>(lowest < least) | static_cast<std::int32_t>(highest > most);
    plane[0][i] = x < 0 ? 0 : x > 1 ? 1 : x;
    plane[1][i] = y < 0 ? 0 : y > 1 ? 1 : y;
    plane[2][i] = z < 0 ? 0 : z > 1 ? 1 : z;
  }
  for (auto& channel : plane)
    for (std::size_t i = 0; i < block; ++i)
      channel[i] = Codes<Number>::encode(channel[i]) * largest + 0.5F;
  for (std::size_t i = 0; i < pixels; ++i) {
    rgb[3 * i] = static_cast<Number>(static_cast<std::int32_t>(plane[0][i]));
    rgb[3 * i + 1] = static_cast<Number>(static_cast<std::int32_t>(plane[1][i]));
    rgb[3 * i + 2] = static_cast<Number>(static_cast<std::int32_t>(plane[2][i]));
  }
  std::int32_t count = 0;
  for (std::size_t i = 0; i < pixels; ++i) count += beyond[i];
  if (outside != nullptr)
    for (std::size_t i = 0; i < pixels; ++i) outside[i] = static_cast<std::uint8_t>(beyond[i]);
  return static_cast<std::size_t>(count);
}

template <class Number>
inline std::size_t run_rows(const KernelPlan& plan, Number* rgb, std::size_t pixels,
                            std::uint8_t* outside) {
  std::size_t count = 0;
  for (std::size_t at = 0; at < pixels; at += block) {
    const std::size_t now = pixels - at < block ? pixels - at : block;
    std::uint8_t* flags = outside == nullptr ? nullptr : outside + at;
    count += plan.two_sided ? run_block<true>(plan, rgb + 3 * at, now, flags)
                            : run_block<false>(plan, rgb + 3 * at, now, flags);
  }
  return count;
}

}  // namespace
