// The kernel's body, compiled once for each instruction set (kernel_*.cpp) and for the browser.
//
// Several pixels at a time in vectors of the compiler's own. Products and sums are rounded one by
// one and nothing else is asked of a machine, so every instruction set and the browser give the
// same bytes. Nothing of the standard library is used: an inline function of it compiled for a
// wider set here could be taken by the linker for all of the program.
//
// sRGB (IEC 61966-2-1). Decoding: codes of 8 bits by a parabola for every eight of them, those of
// 16 below .04045 linear, above a polynomial in the code. Encoding: below .0031308 linear, above,
// of x = 2^e m, 2^(5e/12) by a table and m^(5/12) by a polynomial. Minimax fits of ours; what they
// come to over all codes is in docs/science/views.md.
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

// Of the fourth degree, coefficients by rising powers; its halves do not wait for each other.
COPUNCTAL_LANES F polynomial(const float (&p)[5], F x) {
  const F square = x * x;
  return (square * p[4] + (x * p[3] + p[2])) * square + (x * p[1] + p[0]);
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
  // 255 x 1.055 m^(5/12); largest error .0028 codes.
  static constexpr float encode[] = {110.630775F, 222.98465F, -85.6277771F, 23.9536076F,
                                     -2.91345859F};
};
template <>
struct Codes<std::uint16_t> {
  static constexpr float largest = 65535;
  // Largest error .013 codes of 65,535.
  static constexpr float decode[] = {0.000837168947F, 0.0361398757F, 0.47047919F,  0.993834972F,
                                     -1.52434337F,    2.96650696F,   -4.65729666F, 5.18828487F,
                                     -3.77020025F,    1.58914936F,   -0.293392748F};
  // Largest error .013 codes of 65,535.
  static constexpr float encode[] = {24256.2793F,  73419.0F,    -47279.0391F, 26743.6035F,
                                     -9910.50586F, 2103.59546F, -193.498093F};
};

// Light of whole codes of 16 bits.
COPUNCTAL_LANES F decoded(F code) {
  using C = Codes<std::uint16_t>;
  const F x = code * (1 / C::largest);
  const F low = x * (1 / 12.92F), high = polynomial(C::decode, x);
  return x <= 0.04045F ? low : high;
}

// Light of codes of 8 bits, c0 + c1 code + c2 code^2 for every eight of them in turn; largest error
// .021 codes, among the darkest sixteen, and .001 beyond.
// clang-format off
alignas(64) inline constexpr float parabolas[3][32] = {
    {0, 0.000615594909F, 0.00115245488F, 0.00164817797F,
     0.00244233268F, 0.00357619138F, 0.00508488528F, 0.00699929148F,
     0.00934714731F, 0.0121537652F, 0.0154425204F, 0.0192351956F,
     0.0235522427F, 0.0284129735F, 0.0338357203F, 0.0398379564F,
     0.046436388F, 0.0536470525F, 0.0614853688F, 0.0699662045F,
     0.0791039467F, 0.088912487F, 0.0994053259F, 0.110595562F,
     0.122495934F, 0.135118857F, 0.148476407F, 0.162580386F,
     0.177442327F, 0.193073496F, 0.20948492F, 0.226687387F},
    {0.000303526991F, 0.00017076057F, 9.05577544e-05F, 4.82787582e-05F,
     -2.22168819e-06F, -5.96978534e-05F, -0.000123277176F, -0.000192312F,
     -0.000266300951F, -0.000344843254F, -0.000427610503F, -0.000514327956F,
     -0.000604762172F, -0.000698711723F, -0.000796001055F, -0.000896475336F,
     -0.000999997137F, -0.00110644323F, -0.00121570239F, -0.00132767402F,
     -0.00144226628F, -0.00155939476F, -0.00167898217F, -0.00180095679F,
     -0.00192525226F, -0.00205180678F, -0.00218056282F, -0.00231146626F,
     -0.00244446681F, -0.0025795165F, -0.00271657086F, -0.00285558729F},
    {0, 7.07475328e-06F, 1.00800726e-05F, 1.09852745e-05F,
     1.17899472e-05F, 1.25193828e-05F, 1.31898933e-05F, 1.38127107e-05F,
     1.43959487e-05F, 1.49456864e-05F, 1.54666177e-05F, 1.59624506e-05F,
     1.64361754e-05F, 1.68902407e-05F, 1.73266853e-05F, 1.77472248e-05F,
     1.81533142e-05F, 1.85462104e-05F, 1.89269958e-05F, 1.92966199e-05F,
     1.9655914e-05F, 2.00056147e-05F, 2.03463751e-05F, 2.06787809e-05F,
     2.10033577e-05F, 2.13205767e-05F, 2.1630869e-05F, 2.19346239e-05F,
     2.22321942e-05F, 2.25239055e-05F, 2.2810058e-05F, 2.30909227e-05F}};
// clang-format on
#if defined(__AVX512BW__)
COPUNCTAL_LANES F light_of(const I& codes) {
  const F x = __builtin_convertvector(codes, F);
  const auto eight = reinterpret_cast<__m512i>(codes >> 3);
  const auto coefficient = [&](int power) {
    return _mm512_permutex2var_ps(_mm512_load_ps(parabolas[power]), eight,
                                  _mm512_load_ps(parabolas[power] + 16));
  };
  return (coefficient(2) * x + coefficient(1)) * x + coefficient(0);
}
#else
// The same numbers, worked out by the compiler.
struct Lights {
  float of[256];
};
constexpr Lights all_lights() {
  Lights lights{};
  for (int code = 0; code < 256; ++code) {
    const auto x = static_cast<float>(code);
    const float square = parabolas[2][code >> 3] * x;
    const float slope = (square + parabolas[1][code >> 3]) * x;
    lights.of[code] = slope + parabolas[0][code >> 3];
  }
  return lights;
}
inline constexpr Lights lights = all_lights();
#if defined(__AVX2__)
COPUNCTAL_LANES F light_of(const I& codes) {
  return _mm256_i32gather_ps(lights.of, reinterpret_cast<__m256i>(codes), 4);
}
#endif
#endif

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

// To whole numbers, halves to even ones.
COPUNCTAL_LANES I nearest(F x) {
#if defined(__AVX512BW__)
  return reinterpret_cast<I>(_mm512_cvtps_epi32(x));
#else
  // A sum of this size has no room for fractions.
  return reinterpret_cast<I>(x + 0x1.8p23F) - 0x4b400000;
#endif
}

// Nearest whole codes of light in 0..1.
template <class Number>
COPUNCTAL_LANES I encoded(F x) {
  constexpr float largest = Codes<Number>::largest;
  const I bits = reinterpret_cast<I>(x);
#if defined(__AVX512BW__)
  const F m = _mm512_getmant_ps(x, _MM_MANT_NORM_1_2, _MM_MANT_SIGN_zero);
#else
  const F m = reinterpret_cast<F>((bits & 0x7fffff) | 0x3f800000);
#endif
  const F high = octave_of(bits) * polynomial(Codes<Number>::encode, m) - 0.055F * largest;
  const F low = (12.92F * largest) * x;
  return nearest(x <= 0.0031308F ? low : high);
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
// Packing takes what is below 0 for 0.
inline constexpr bool keeping_clips = true;
COPUNCTAL_LANES void keep(const Pixels& p, std::uint8_t* rgb) {
  const auto words = _mm512_packus_epi32(reinterpret_cast<__m512i>(p.channel[0]),
                                         reinterpret_cast<__m512i>(p.channel[1])),
             blues = _mm512_packus_epi32(reinterpret_cast<__m512i>(p.channel[2]),
                                         reinterpret_cast<__m512i>(p.channel[2]));
  // In every sixteen bytes four of red, of green and of blue.
  const __m512i fours = _mm512_shuffle_epi8(
      _mm512_packus_epi16(words, blues), _mm512_set4_epi32(-1, 0x0b07030a, 0x06020905, 0x01080400));
  const __m512i codes = _mm512_permutexvar_epi32(
      _mm512_setr_epi32(0, 1, 2, 4, 5, 6, 8, 9, 10, 12, 13, 14, 3, 3, 3, 3), fours);
  // Two plain stores: a masked one makes the next pixels' load wait for it.
  _mm256_storeu_si256(reinterpret_cast<__m256i*>(rgb), _mm512_castsi512_si256(codes));
  _mm_storeu_si128(reinterpret_cast<__m128i*>(rgb + 32), _mm512_extracti32x4_epi32(codes, 2));
}
#else
inline constexpr bool keeping_clips = false;
#endif
#if defined(__AVX512BW__)
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
inline constexpr std::size_t block = 512;
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
    for (std::size_t i = 0; i < block; i += lanes) store(decoded(loaded(&channel[i])), &channel[i]);
}
inline void decode_block(const std::uint8_t* __restrict rgb, Planes& __restrict planes) {
#if defined(__AVX2__)
  for (std::size_t i = 0; i < block; i += lanes) {
    const Pixels codes = pixels_of(rgb + 3 * i);
    for (std::size_t c = 0; c < 3; ++c) store(light_of(codes.channel[c]), &planes.channel[c][i]);
  }
#else
  for (std::size_t i = 0; i < block; ++i)
    for (std::size_t c = 0; c < 3; ++c) planes.channel[c][i] = lights.of[rgb[3 * i + c]];
#endif
}

// How many of a view's channels differ: of a plane through white and the display's blue red and
// green are the same number, of a view in grey all are. Such a one is worked out once.
enum class Channels { differ, blue_differs, are_one };
// The channel that one is worked out as.
template <Channels channels>
constexpr std::size_t source_of(std::size_t channel) {
  if constexpr (channels == Channels::differ) return channel;
  return channels == Channels::blue_differs && channel == 2 ? 2 : 0;
}

// Light to light in range, or, where it may, below 0. Returns how many leave it; with flags, one a
// pixel, where wanted.
template <bool two_sided, bool may_stay_below, Channels channels>
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
      seen[row] = source_of<channels>(row) == row
                      ? a[3 * row] * r + a[3 * row + 1] * g + a[3 * row + 2] * b
                      : seen[source_of<channels>(row)];
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
      if (source_of<channels>(c) == c)
        store(smaller(may_stay_below ? seen[c] : larger(seen[c], F{}), all(1)),
              &planes.channel[c][i]);
  }
  std::int32_t sum = 0;
  for (int i = 0; i < lanes; ++i) sum += count[i];
  return static_cast<std::size_t>(sum);
}

template <Channels channels>
inline void encode_block(const Planes& planes, std::uint16_t* __restrict rgb) {
  alignas(64) std::int32_t codes[3][block];
  for (std::size_t c = 0; c < 3; ++c) {
    if (source_of<channels>(c) != c) continue;
    for (std::size_t i = 0; i < block; i += lanes) {
      const I whole = encoded<std::uint16_t>(loaded(&planes.channel[c][i]));
      __builtin_memcpy(&codes[c][i], &whole, sizeof whole);
    }
  }
  for (std::size_t i = 0; i < block; ++i)
    for (std::size_t c = 0; c < 3; ++c)
      rgb[3 * i + c] = static_cast<std::uint16_t>(codes[source_of<channels>(c)][i]);
}
template <Channels channels>
inline void encode_block(const Planes& planes, std::uint8_t* rgb) {
  for (std::size_t i = 0; i < block; i += lanes) {
    Pixels codes{};
    for (std::size_t c = 0; c < 3; ++c)
      codes.channel[c] = source_of<channels>(c) == c
                             ? encoded<std::uint8_t>(loaded(&planes.channel[c][i]))
                             : codes.channel[source_of<channels>(c)];
    keep(codes, rgb + 3 * i);
  }
}

template <bool two_sided, Channels channels, class Number>
inline std::size_t run(const KernelPlan& plan, Number* rgb, std::size_t pixels,
                       std::uint8_t* outside) {
  Planes planes{};
  const auto run_block = [&](Number* codes, std::uint8_t* flags) {
    decode_block(codes, planes);
    constexpr bool may_stay_below = keeping_clips && sizeof(Number) == 1;
    const std::size_t count = map_block<two_sided, may_stay_below, channels>(plan, planes, flags);
    encode_block<channels>(planes, codes);
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
  if (plan.two_sided) return run<true, Channels::differ>(plan, rgb, pixels, outside);
  const auto is_first_row = [&](std::size_t row) {
    return __builtin_memcmp(&plan.a, reinterpret_cast<const char*>(&plan.a) + 12 * row, 12) == 0;
  };
  if (!is_first_row(1)) return run<false, Channels::differ>(plan, rgb, pixels, outside);
  if (!is_first_row(2)) return run<false, Channels::blue_differs>(plan, rgb, pixels, outside);
  return run<false, Channels::are_one>(plan, rgb, pixels, outside);
}

}  // namespace

// NOLINTEND(modernize-avoid-c-arrays)
