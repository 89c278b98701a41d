// The kernel's body, compiled once for each instruction set (kernel_*.cpp) and for the browser.
//
// Several pixels at a time in vectors of the compiler's own. Products and sums are rounded one by
// one and nothing else is asked of a machine, so every instruction set and the browser give the
// same bytes. Nothing of the standard library is used: an inline function of it compiled for a
// wider set here could be taken by the linker for all of the program.
//
// sRGB (IEC 61966-2-1). Decoding: below .04045 linear, above a polynomial in the code. Encoding:
// below .0031308 linear, above, of x = 2^e m, 2^(5e/12) by a table and m^(5/12) by a polynomial.
// Minimax fits of ours; what they come to over all codes is in docs/science/views.md.
#pragma once

#include <cstddef>
#include <cstdint>
#if defined(__AVX2__)
#include <immintrin.h>
#endif

#include "copunctal/view/kernel.h"

// Everything below is inlined before it could be called with a vector argument.
#if !defined(__clang__)
#pragma GCC diagnostic ignored "-Wpsabi"
#endif

// NOLINTBEGIN(modernize-avoid-c-arrays): nothing of the standard library, see above.

#define COPUNCTAL_LANES [[gnu::always_inline]] inline

namespace {

using copunctal::KernelPlan;

#if defined(__AVX512BW__)
inline constexpr int lanes = 16;
#elif defined(__AVX2__)
inline constexpr int lanes = 8;
#else
inline constexpr int lanes = 4;
#endif

using F __attribute__((vector_size(4 * lanes))) = float;
using I __attribute__((vector_size(4 * lanes))) = std::int32_t;
using Flags __attribute__((vector_size(lanes))) = std::uint8_t;

COPUNCTAL_LANES F all(float value) {
  return value - F{};
}
COPUNCTAL_LANES F smaller(F a, F b) {
  return a < b ? a : b;
}
COPUNCTAL_LANES F larger(F a, F b) {
  return a > b ? a : b;
}

// Coefficients by rising powers.
template <std::size_t n>
COPUNCTAL_LANES F polynomial(const float (&p)[n], F x) {
  F sum = all(p[n - 1]);
  for (std::size_t i = n - 1; i-- > 0;) sum = sum * x + p[i];
  return sum;
}

template <class Number>
struct Codes;
template <>
struct Codes<std::uint8_t> {
  static constexpr float largest = 255;
  static constexpr float unit = 1;  ///< Of the polynomial's argument, in codes.
  // Largest error .0033 codes.
  static constexpr float decode[] = {0.000875157421F, 0.000134899965F,  7.67512483e-06F,
                                     4.63201992e-08F, -1.26239644e-10F, 2.93759374e-13F,
                                     -3.10579771e-16F};
  // 255 x 1.055 m^(5/12); largest error .0028 codes.
  static constexpr float encode[] = {110.630775F, 222.98465F, -85.6277771F, 23.9536076F,
                                     -2.91345859F};
};
template <>
struct Codes<std::uint16_t> {
  static constexpr float largest = 65535;
  static constexpr float unit = 65535;
  // Largest error .013 codes of 65,535.
  static constexpr float decode[] = {0.000837168947F, 0.0361398757F, 0.47047919F,  0.993834972F,
                                     -1.52434337F,    2.96650696F,   -4.65729666F, 5.18828487F,
                                     -3.77020025F,    1.58914936F,   -0.293392748F};
  // Largest error .013 codes of 65,535.
  static constexpr float encode[] = {24256.2793F,  73419.0F,    -47279.0391F, 26743.6035F,
                                     -9910.50586F, 2103.59546F, -193.498093F};
};

// Light of whole codes.
template <class Number>
COPUNCTAL_LANES F decoded(F code) {
  using C = Codes<Number>;
  const F x = code * (1 / C::unit);
  const F low = x * (C::unit / (12.92F * C::largest)), high = polynomial(C::decode, x);
  return x <= 0.04045F * C::largest / C::unit ? low : high;
}

// 2^(5e/12) for e from -15 to 0: of a number's exponent bits the lowest four say which.
alignas(64) inline constexpr float octaves[16] = {
    0.0131390067F, 0.0175384693F, 0.0234110486F, 0.03125F,
    0.0417137444F, 0.055681169F,  0.0743254423F, 0.0992125645F,
    0.132432893F,  0.176776692F,  0.235968575F,  0.314980268F,
    0.420448214F,  0.561231017F,  0.749153554F,  1};

COPUNCTAL_LANES F octave_of(I bits) {
#if defined(__AVX512BW__)
  return _mm512_permutexvar_ps(reinterpret_cast<__m512i>(bits >> 23), _mm512_load_ps(octaves));
#elif defined(__AVX2__)
  const auto at = reinterpret_cast<__m256i>(bits >> 23);
  return _mm256_blendv_ps(_mm256_permutevar8x32_ps(_mm256_load_ps(octaves), at),
                          _mm256_permutevar8x32_ps(_mm256_load_ps(octaves + 8), at),
                          reinterpret_cast<__m256>(bits << 5));  // the fourth bit decides
#else
  const I at = bits >> 23 & 15;
  return F{octaves[at[0]], octaves[at[1]], octaves[at[2]], octaves[at[3]]};
#endif
}

// Nearest whole codes of light in 0..1.
template <class Number>
COPUNCTAL_LANES I encoded(F x) {
  constexpr float largest = Codes<Number>::largest;
  const I bits = reinterpret_cast<I>(x);
  const F m = reinterpret_cast<F>((bits & 0x7fffff) | 0x3f800000);
  const F high = octave_of(bits) * polynomial(Codes<Number>::encode, m) + (0.5F - 0.055F * largest);
  const F low = (12.92F * largest) * x + 0.5F;
  return __builtin_convertvector(x <= 0.0031308F ? low : high, I);
}

// R, G and B of as many pixels as there are lanes, from their codes one after the other and back.
// Nothing beyond those codes is touched.
struct Pixels {
  I channel[3];
};

#if defined(__AVX512BW__)
COPUNCTAL_LANES Pixels pixels_of(const std::uint8_t* rgb) {
  // Four pixels into each sixteen bytes, then a byte of each into each number.
  const __m512i fours = _mm512_permutexvar_epi32(
      _mm512_setr_epi32(0, 1, 2, 2, 3, 4, 5, 5, 6, 7, 8, 8, 9, 10, 11, 11),
      _mm512_inserti64x4(
          _mm512_castsi256_si512(_mm256_loadu_si256(reinterpret_cast<const __m256i*>(rgb))),
          _mm256_castsi128_si256(_mm_loadu_si128(reinterpret_cast<const __m128i*>(rgb + 32))), 1));
  const auto channel = [&](int c) {
    return reinterpret_cast<I>(_mm512_shuffle_epi8(
        fours, _mm512_set4_epi32(~0xff | (c + 9), ~0xff | (c + 6), ~0xff | (c + 3), ~0xff | c)));
  };
  return {{channel(0), channel(1), channel(2)}};
}
COPUNCTAL_LANES void keep(const Pixels& p, std::uint8_t* rgb) {
  const I packed = p.channel[0] | p.channel[1] << 8 | p.channel[2] << 16;
  const __m512i fours = _mm512_shuffle_epi8(
      reinterpret_cast<__m512i>(packed), _mm512_set4_epi32(-1, 0x0e0d0c0a, 0x09080605, 0x04020100));
  const __m512i codes = _mm512_permutexvar_epi32(
      _mm512_setr_epi32(0, 1, 2, 4, 5, 6, 8, 9, 10, 12, 13, 14, 3, 3, 3, 3), fours);
  // Two plain stores: a masked one makes the next pixels' load wait for it.
  _mm256_storeu_si256(reinterpret_cast<__m256i*>(rgb), _mm512_castsi512_si256(codes));
  _mm_storeu_si128(reinterpret_cast<__m128i*>(rgb + 32), _mm512_extracti32x4_epi32(codes, 2));
}
#elif defined(__AVX2__)
COPUNCTAL_LANES Pixels pixels_of(const std::uint8_t* rgb) {
  // Codes 0 to 15 and 8 to 23: four pixels from the first of one and from the fifth of the other.
  const __m256i fours = _mm256_loadu2_m128i(reinterpret_cast<const __m128i*>(rgb + 8),
                                            reinterpret_cast<const __m128i*>(rgb));
  const auto channel = [&](int c) {
    const int from = ~0xff | c;
    return reinterpret_cast<I>(
        _mm256_shuffle_epi8(fours, _mm256_setr_epi32(from, from + 3, from + 6, from + 9, from + 4,
                                                     from + 7, from + 10, from + 13)));
  };
  return {{channel(0), channel(1), channel(2)}};
}
COPUNCTAL_LANES void keep(const Pixels& p, std::uint8_t* rgb) {
  const I packed = p.channel[0] | p.channel[1] << 8 | p.channel[2] << 16;
  const __m256i fours =
      _mm256_shuffle_epi8(reinterpret_cast<__m256i>(packed),
                          _mm256_setr_epi32(0x04020100, 0x09080605, 0x0e0d0c0a, -1,  //
                                            -1, 0x04020100, 0x09080605, 0x0e0d0c0a));
  const __m128i first = _mm256_castsi256_si128(fours), second = _mm256_extracti128_si256(fours, 1);
  _mm_storel_epi64(reinterpret_cast<__m128i*>(rgb), first);
  _mm_storeu_si128(reinterpret_cast<__m128i*>(rgb + 8),
                   _mm_or_si128(_mm_srli_si128(first, 8), second));
}
#else
COPUNCTAL_LANES Pixels pixels_of(const std::uint8_t* rgb) {
  std::int32_t at[lanes];
  __builtin_memcpy(&at[0], rgb, 4);
  __builtin_memcpy(&at[1], rgb + 3, 4);
  __builtin_memcpy(&at[2], rgb + 6, 4);
  __builtin_memcpy(&at[3], rgb + 8, 4);
  const I four = {at[0], at[1], at[2], at[3] >> 8};
  return {{four & 255, four >> 8 & 255, four >> 16 & 255}};
}
COPUNCTAL_LANES void keep(const Pixels& p, std::uint8_t* rgb) {
  const I packed = p.channel[0] | p.channel[1] << 8 | p.channel[2] << 16;
  for (std::size_t i = 0; i < 3; ++i) {
    const std::int32_t one = packed[static_cast<int>(i)];
    __builtin_memcpy(rgb + 3 * i, &one, 4);
  }
  const std::int32_t last = packed[3];
  const auto low = static_cast<std::uint16_t>(last);
  __builtin_memcpy(rgb + 9, &low, 2);
  rgb[11] = static_cast<std::uint8_t>(last >> 16);
}
#endif

// A block of pixels, in steps short enough for a machine to work on several at once.
inline constexpr std::size_t block = 256;
struct Planes {
  alignas(64) float channel[3][block];
};

COPUNCTAL_LANES F loaded(const float* from) {
  F v;
  __builtin_memcpy(&v, from, sizeof v);
  return v;
}
COPUNCTAL_LANES void store(const F& v, float* to) {
  __builtin_memcpy(to, &v, sizeof v);
}

inline void decode_block(const std::uint16_t* __restrict rgb, Planes& planes) {
  for (std::size_t i = 0; i < block; ++i)
    for (std::size_t c = 0; c < 3; ++c) planes.channel[c][i] = static_cast<float>(rgb[3 * i + c]);
  for (auto& channel : planes.channel)
    for (std::size_t i = 0; i < block; i += lanes)
      store(decoded<std::uint16_t>(loaded(&channel[i])), &channel[i]);
}
inline void decode_block(const std::uint8_t* rgb, Planes& planes) {
  for (std::size_t i = 0; i < block; i += lanes) {
    const Pixels codes = pixels_of(rgb + 3 * i);
    for (std::size_t c = 0; c < 3; ++c)
      store(decoded<std::uint8_t>(__builtin_convertvector(codes.channel[c], F)),
            &planes.channel[c][i]);
  }
}

// Light to light in range. Returns how many leave it; with flags, one a pixel, where wanted.
template <bool two_sided>
inline std::size_t map_block(const KernelPlan& plan, Planes& planes, std::uint8_t* outside) {
  // Not by the arrays' own functions, which are the standard library's.
  float numbers[15];
  __builtin_memcpy(numbers, &plan.a, sizeof plan.a);
  __builtin_memcpy(numbers + 9, &plan.k, sizeof plan.k);
  __builtin_memcpy(numbers + 12, &plan.n, sizeof plan.n);
  F a[9], k[3], n[3];
  for (std::size_t i = 0; i < 9; ++i) a[i] = all(numbers[i]);
  for (std::size_t i = 0; i < 3; ++i) {
    k[i] = all(numbers[9 + i]);
    n[i] = all(numbers[12 + i]);
  }
  const F least = all(-plan.slack), most = all(1 + plan.slack);
  I count{};
  for (std::size_t i = 0; i < block; i += lanes) {
    const F r = loaded(&planes.channel[0][i]), g = loaded(&planes.channel[1][i]),
            b = loaded(&planes.channel[2][i]);
    F seen[3];
    for (std::size_t row = 0; row < 3; ++row)
      seen[row] = a[3 * row] * r + a[3 * row + 1] * g + a[3 * row + 2] * b;
    if constexpr (two_sided) {
      const F part = smaller(n[0] * r + n[1] * g + n[2] * b, F{});
      for (std::size_t row = 0; row < 3; ++row) seen[row] += k[row] * part;
    }
    const F lowest = smaller(smaller(seen[0], seen[1]), seen[2]),
            highest = larger(larger(seen[0], seen[1]), seen[2]);
    const I beyond = (lowest < least) | (highest > most);
    count -= beyond;
    if (outside != nullptr) {
      const Flags flags = __builtin_convertvector(-beyond, Flags);
      __builtin_memcpy(outside + i, &flags, lanes);
    }
    for (std::size_t c = 0; c < 3; ++c)
      store(smaller(larger(seen[c], F{}), all(1)), &planes.channel[c][i]);
  }
  std::int32_t sum = 0;
  for (int i = 0; i < lanes; ++i) sum += count[i];
  return static_cast<std::size_t>(sum);
}

inline void encode_block(const Planes& planes, std::uint16_t* __restrict rgb) {
  alignas(64) std::int32_t codes[3][block];
  for (std::size_t c = 0; c < 3; ++c)
    for (std::size_t i = 0; i < block; i += lanes) {
      const I whole = encoded<std::uint16_t>(loaded(&planes.channel[c][i]));
      __builtin_memcpy(&codes[c][i], &whole, sizeof whole);
    }
  for (std::size_t i = 0; i < block; ++i)
    for (std::size_t c = 0; c < 3; ++c) rgb[3 * i + c] = static_cast<std::uint16_t>(codes[c][i]);
}
inline void encode_block(const Planes& planes, std::uint8_t* rgb) {
  for (std::size_t i = 0; i < block; i += lanes) {
    Pixels codes{};
    for (std::size_t c = 0; c < 3; ++c)
      codes.channel[c] = encoded<std::uint8_t>(loaded(&planes.channel[c][i]));
    keep(codes, rgb + 3 * i);
  }
}

template <bool two_sided, class Number>
inline std::size_t run(const KernelPlan& plan, Number* rgb, std::size_t pixels,
                       std::uint8_t* outside) {
  Planes planes{};
  const auto run_block = [&](Number* codes, std::uint8_t* flags) {
    decode_block(codes, planes);
    const std::size_t count = map_block<two_sided>(plan, planes, flags);
    encode_block(planes, codes);
    return count;
  };
  std::size_t count = 0, at = 0;
  for (; pixels - at >= block; at += block)
    count += run_block(rgb + 3 * at, outside == nullptr ? nullptr : outside + at);
  if (at == pixels) return count;
  // The last few among black ones, which stay in range.
  Number last[3 * block] = {};
  std::uint8_t flags[block];
  const std::size_t left = pixels - at;
  for (std::size_t i = 0; i < 3 * left; ++i) last[i] = rgb[3 * at + i];
  count += run_block(last, flags);
  for (std::size_t i = 0; i < 3 * left; ++i) rgb[3 * at + i] = last[i];
  if (outside != nullptr)
    for (std::size_t i = 0; i < left; ++i) outside[at + i] = flags[i];
  return count;
}

template <class Number>
inline std::size_t run_rows(const KernelPlan& plan, Number* rgb, std::size_t pixels,
                            std::uint8_t* outside) {
  return plan.two_sided ? run<true>(plan, rgb, pixels, outside)
                        : run<false>(plan, rgb, pixels, outside);
}

}  // namespace

// NOLINTEND(modernize-avoid-c-arrays)
