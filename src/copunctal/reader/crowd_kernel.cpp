#include "copunctal/reader/crowd_kernel.h"

#include <algorithm>
#include <bit>
#include <cstring>

#include "copunctal/base/expects.h"

// Everything below is inlined before it could be called with a vector argument.
#pragma GCC diagnostic ignored "-Wpsabi"

// NOLINTBEGIN(modernize-avoid-c-arrays): vectors of the compiler's own keep their alignment in
// plain arrays.

#define COPUNCTAL_LANES [[gnu::always_inline]] inline

namespace copunctal {
namespace {

template <int W>
struct Lanes {
  using F __attribute__((vector_size(4 * W))) = float;
  using I __attribute__((vector_size(4 * W))) = std::int32_t;
  using U __attribute__((vector_size(4 * W))) = std::uint32_t;
  using U64 __attribute__((vector_size(4 * W))) = std::uint64_t;
};
template <int W>
using F = typename Lanes<W>::F;
template <int W>
using I = typename Lanes<W>::I;
template <int W>
using U = typename Lanes<W>::U;
template <int W>
using U64 = typename Lanes<W>::U64;

template <int W>
COPUNCTAL_LANES F<W> all(float value) {
  return value - F<W>{};
}

template <int W>
COPUNCTAL_LANES F<W> loaded(const float* from) {
  F<W> v;
  std::memcpy(&v, from, sizeof v);
  return v;
}

template <int W>
COPUNCTAL_LANES void store(const F<W>& v, float* to) {
  std::memcpy(to, &v, sizeof v);
}

template <int W>
COPUNCTAL_LANES F<W> larger(const F<W>& a, const F<W>& b) {
  return a > b ? a : b;
}

template <int W>
COPUNCTAL_LANES F<W> size_of(const F<W>& v) {
  return reinterpret_cast<F<W>>(reinterpret_cast<I<W>>(v) & 0x7fffffff);
}

// a b + c, rounded once; said so, because a machine without the instruction must do the same.
template <int W>
COPUNCTAL_LANES F<W> fused(const F<W>& a, const F<W>& b, const F<W>& c) {
  F<W> result;
  for (int i = 0; i < W; ++i) result[i] = __builtin_fmaf(a[i], b[i], c[i]);
  return result;
}
template <int W>
COPUNCTAL_LANES F<W> fused(const F<W>& a, const F<W>& b, float c) {
  return fused<W>(a, b, all<W>(c));
}
template <int W>
COPUNCTAL_LANES F<W> fused(const F<W>& a, float b, const F<W>& c) {
  return fused<W>(a, all<W>(b), c);
}

// c[0] + c[1] x + ...
template <int W, std::size_t N>
COPUNCTAL_LANES F<W> polynomial(const float (&c)[N], const F<W>& x) {
  F<W> p = all<W>(c[N - 1]);
  for (std::size_t i = N - 1; i > 0; --i) p = fused<W>(p, x, c[i - 1]);
  return p;
}

// sqrt(v) for v > 0, or 0 for 0: three steps of Newton's rule on 1 / sqrt(v) from the exponent
// halved; relative error below 3e-7.
template <int W>
COPUNCTAL_LANES F<W> inverse_root(const F<W>& v) {
  F<W> y = reinterpret_cast<F<W>>(0x5f3759df - (reinterpret_cast<I<W>>(v) >> 1));
  const F<W> half = -0.5F * v;
  y = y * fused<W>(half * y, y, 1.5F);
  y = y * fused<W>(half * y, y, 1.5F);
  y = y * fused<W>(half * y, y, 1.5F);
  return y;
}

// ln v for normal v > 0: v = 2^e (1 + f), sqrt(1/2) <= 1 + f < sqrt(2), and f - f^2 / 2 + f^3 Q(f);
// Q fitted here, minimax, 3e-8.
template <int W>
COPUNCTAL_LANES F<W> logarithm(const F<W>& v) {
  constexpr float q[] = {0.333338588F, -0.250017464F, 0.199653938F, -0.165656388F,
                         0.148770079F, -0.143501714F, 0.0891767442F};
  const I<W> bits = reinterpret_cast<I<W>>(v);
  const I<W> e = (bits - 0x3f3504f3) >> 23;
  const F<W> f = reinterpret_cast<F<W>>(bits - (e << 23)) - 1.0F;
  const F<W> square = f * f;
  const F<W> rest = square * fused<W>(f, polynomial<W>(q, f), -0.5F) + f;
  return fused<W>(__builtin_convertvector(e, F<W>), 0.693147181F, rest);
}

// e^x for |x| < 80; the polynomial fitted here, 2e-9.
template <int W>
COPUNCTAL_LANES F<W> exponential(const F<W>& x) {
  constexpr float c[] = {1.0F,          1.0F,           0.499999911F,  0.166664198F,
                         0.0416682251F, 0.00837481581F, 0.00138368364F};
  constexpr float shifter = 12582912.0F;
  const F<W> shifted = fused<W>(x, 1.44269504F, all<W>(shifter));
  const F<W> n = shifted - shifter;
  const F<W> r = fused<W>(n, -1.42860677e-6F, fused<W>(n, -0.693145752F, x));
  return polynomial<W>(c, r) *
         reinterpret_cast<F<W>>((reinterpret_cast<I<W>>(shifted) + 127) << 23);
}

// Standard normal deviate of 32 bits u: the quantile of (u + 1/2) / 2^32. With p the smaller tail
// and w = -ln 4p(1 - p), z = (1 - 2p) P(w); P in two pieces, fitted here: 2e-6.
template <int W>
COPUNCTAL_LANES F<W> quantile(const U<W>& word) {
  constexpr float middle[] = {2.12331343F,      0.348802686F,    -0.00590777816F,
                              -0.0017730511F,   0.000308834336F, -6.20488618e-06F,
                              -4.90943557e-06F, 4.84905968e-07F, 3.38487638e-08F};
  constexpr float tail[] = {4.71708775F,    1.42462564F,     0.00466417102F,  -0.00284779421F,
                            0.00142232876F, -0.00109791872F, 0.000793366926F, -0.000239439833F};
  const I<W> bits = reinterpret_cast<I<W>>(word);
  const I<W> sign = bits >> 31;
  const F<W> p = (__builtin_convertvector(bits ^ sign, F<W>) + 0.5F) * 0x1p-32F;
  const F<W> w = -logarithm<W>(4.0F * p * (1.0F - p));
  // w is 0 at the middle of the distribution and may round below it there.
  const F<W> safe = larger<W>(w, all<W>(1e-3F));
  const F<W> s = safe * inverse_root<W>(safe) - 3.5F;
  const F<W> z =
      (1.0F - 2.0F * p) * (w < 5.0F ? polynomial<W>(middle, w - 2.5F) : polynomial<W>(tail, s));
  // Bits below one half are the lower tail.
  return sign != 0 ? z : -z;
}

// Two standard normal deviates (Box & Muller 1958) of a radius word r and the upper 22 bits of an
// angle word: sqrt(-2 ln p) cos 2 pi a and ... sin 2 pi a, p = (floor(r / 2) + 1/2) / 2^31, a =
// floor(angle / 2^10) / 2^22. Sine and cosine by Taylor within an eighth of a turn: 3e-7.
template <int W>
COPUNCTAL_LANES void normals(const U<W>& radius_word, const U<W>& angle_word, F<W>& first,
                             F<W>& second) {
  constexpr float sine[] = {1.57079633F, -0.645964098F, 0.0796926262F, -0.00468175414F,
                            0.000160441185F};
  constexpr float cosine[] = {1.0F, -1.23370055F, 0.253669508F, -0.0208634807F, 0.000919260274F};
  const I<W> r = reinterpret_cast<I<W>>(radius_word >> 1);
  const F<W> p = (__builtin_convertvector(r, F<W>) + 0.5F) * 0x1p-31F;
  // p may round to 1: ln 1 is 0, and a root of 0 must not be divided by.
  const F<W> energy = larger<W>(-2.0F * logarithm<W>(p), all<W>(1e-30F));
  const F<W> radius = energy * inverse_root<W>(energy);
  // In quarters of a turn, 0 to 4: the nearest whole one, and -1/2 to 1/2 beyond it.
  const I<W> a = reinterpret_cast<I<W>>(angle_word >> 10);
  const I<W> quarter = (a + (1 << 19)) >> 20;
  const F<W> t = __builtin_convertvector(a - (quarter << 20), F<W>) * 0x1p-20F;
  const F<W> square = t * t;
  const F<W> s = radius * (t * polynomial<W>(sine, square));
  const F<W> c = radius * polynomial<W>(cosine, square);
  const I<W> odd = -(quarter & 1);
  const F<W> along = odd != 0 ? s : c, across = odd != 0 ? c : s;
  // cos is negative in quarters 1 and 2, sin in 2 and 3.
  first = reinterpret_cast<F<W>>(reinterpret_cast<I<W>>(along) ^ (((quarter + 1) & 2) << 30));
  second = reinterpret_cast<F<W>>(reinterpret_cast<I<W>>(across) ^ ((quarter & 2) << 30));
}

// h ln(1 + |c| / h), with the sign of c.
template <int W>
COPUNCTAL_LANES F<W> compressed(const F<W>& c, float pedestal) {
  const F<W> size = pedestal * logarithm<W>(fused<W>(size_of<W>(c), 1 / pedestal, all<W>(1.0F)));
  return c < 0.0F ? -size : size;
}

// High and low 32 bits of constant x v.
template <int W>
COPUNCTAL_LANES void multiply(std::uint64_t constant, const U<W>& v, U<W>& high, U<W>& low) {
  const auto both = reinterpret_cast<U64<W>>(v);
  const U64<W> even = (both & 0xffffffffU) * constant, odd = (both >> 32) * constant;
  high = reinterpret_cast<U<W>>((even >> 32) | (odd & 0xffffffff00000000U));
  low = v * static_cast<std::uint32_t>(constant);
}

// philox4x32 of base/random.h for the counters (block, a, observer, c), a lane for each observer.
template <int W>
COPUNCTAL_LANES void philox(const CrowdJob& job, const U<W>& observer, std::uint32_t block,
                            std::uint32_t a, std::uint32_t c, U<W>* words) {
  U<W> c0 = block - U<W>{}, c1 = a - U<W>{}, c2 = observer, c3 = c - U<W>{};
  auto k0 = static_cast<std::uint32_t>(job.seed);
  auto k1 = static_cast<std::uint32_t>(job.seed >> 32);
  for (int round = 0; round < 10; ++round) {
    U<W> high0, low0, high1, low1;
    multiply<W>(0xD2511F53, c0, high0, low0);
    multiply<W>(0xCD9E8D57, c2, high1, low1);
    c0 = high1 ^ c1 ^ k0;
    c1 = low1;
    c2 = high0 ^ c3 ^ k1;
    c3 = low0;
    k0 += 0x9E3779B9;
    k1 += 0xBB67AE85;
  }
  words[0] = c0;
  words[1] = c1;
  words[2] = c2;
  words[3] = c3;
}

template <int W>
COPUNCTAL_LANES U<W> observers_from(std::uint32_t first) {
  U<W> numbers;
  for (int i = 0; i < W; ++i) numbers[i] = first + static_cast<std::uint32_t>(i);
  return numbers;
}

template <int W>
COPUNCTAL_LANES void draw(const CrowdJob& job, CrowdBodies& bodies, CrowdEyes& eyes) {
  for (std::size_t at = 0; at < crowd_block; at += W) {
    const U<W> observer = observers_from<W>(job.first + static_cast<std::uint32_t>(at));
    // As individual(): label 1, two words a number, the high one first.
    U<W> words[20];
    for (std::uint32_t block = 0; block < 5; ++block)
      philox<W>(job, observer, block, 1, 0, words + std::size_t{4} * block);
    store<W>(__builtin_convertvector(reinterpret_cast<I<W>>(words[0] >> 8), F<W>) * 0x1p-24F,
             &bodies.part[0][at]);
    for (std::size_t j = 1; j < 9; ++j) store<W>(quantile<W>(words[2 * j]), &bodies.part[j][at]);
    // As IndividualEyes: label 2.
    philox<W>(job, observer, 0, 2, 0, words);
    philox<W>(job, observer, 1, 2, 0, words + 4);
    const F<W> logit = job.l_weight_logit + job.l_weight_sd * quantile<W>(words[0]);
    store<W>(1.0F / (1.0F + exponential<W>(-logit)), &eyes.l_weight[at]);
    for (std::size_t m = 0; m < 3; ++m)
      store<W>(exponential<W>(job.sensitivity_sd * quantile<W>(words[2 * m + 2])),
               &eyes.sensitivity[m][at]);
  }
}

/// display/population_map.h in float, an observer a lane: the matrix of each.
template <int W>
COPUNCTAL_LANES void map(const CrowdMap& tables, const CrowdBodies& bodies, CrowdEyes& eyes) {
  constexpr float ln10 = 2.30258509F;
  for (std::size_t at = 0; at < crowd_block; at += W) {
    const F<W> lens = -ln10 * loaded<W>(&bodies.lens[at]),
               ageing = loaded<W>(&bodies.ageing[at]) * lens,
               macula = -ln10 * loaded<W>(&bodies.macula[at]);
    F<W> sums[9] = {}, depth[3], shift[3];
    for (std::size_t k = 0; k < 3; ++k) {
      depth[k] = -ln10 * loaded<W>(&bodies.density[k][at]);
      shift[k] = loaded<W>(&bodies.shift[k][at]);
    }
    for (const CrowdMap::Node& node : tables.nodes) {
      const F<W> media = exponential<W>(
          fused<W>(ageing, node.ageing, fused<W>(lens, node.fixed, macula * node.macula)));
      for (std::size_t k = 0; k < 3; ++k) {
        const CrowdMap::Cone& cone = node.cones[k];
        if (!cone.matters) continue;
        const F<W> a = exponential<W>(polynomial<W>(cone.ln_absorbance, shift[k]));
        const F<W> excitation = media - media * exponential<W>(depth[k] * a);
        for (std::size_t p = 0; p < 3; ++p)
          sums[3 * k + p] = fused<W>(excitation, cone.weights[p], sums[3 * k + p]);
      }
    }
    for (std::size_t k = 0; k < 3; ++k) {
      const F<W> white = sums[3 * k] + sums[3 * k + 1] + sums[3 * k + 2];
      // A cone without pigment has no white: its row is 0.
      const F<W> inverse = white > 0.0F ? 1.0F / white : F<W>{};
      for (std::size_t p = 0; p < 3; ++p)
        store<W>(sums[3 * k + p] * inverse, &eyes.lms[3 * k + p][at]);
    }
  }
}

template <int W>
COPUNCTAL_LANES F<W> excited(const F<W>* row, const std::array<float, 3>& colour, float veil) {
  return fused<W>(row[0], colour[0],
                  fused<W>(row[1], colour[1], fused<W>(row[2], colour[2], all<W>(veil))));
}

/// Signals of every colour class of a plate: docs/science/discrimination.md, equations 1 to 4.
template <int W>
COPUNCTAL_LANES void signals_of(const CrowdModel& model, const CrowdPlate& plate,
                                const CrowdEyes& eyes, std::size_t at,
                                F<W> (*signals)[crowd_most_classes]) {
  constexpr float darkest = 1e-6F;
  F<W> lms[9];
  for (std::size_t j = 0; j < 9; ++j) lms[j] = loaded<W>(&eyes.lms[j][at]);
  const F<W> w = loaded<W>(&eyes.l_weight[at]);
  F<W> mean[3], inverse_adapted[3];
  for (std::size_t j = 0; j < 3; ++j)
    mean[j] = excited<W>(&lms[3 * j], plate.mean_colour, eyes.veil[j]);
  const F<W> grey = w * mean[0] + (1.0F - w) * mean[1];
  for (std::size_t j = 0; j < 3; ++j)
    inverse_adapted[j] = 1.0F / larger<W>(0.5F * mean[j] + 0.5F * grey, all<W>(darkest));
  const F<W> rg_scale = loaded<W>(&eyes.sensitivity[0][at]) * model.rg_scale;
  const F<W> yv_scale = loaded<W>(&eyes.sensitivity[1][at]) * model.yv_scale;
  const F<W> luminance_scale = loaded<W>(&eyes.sensitivity[2][at]) * model.luminance_scale;
  const float inverse_offset = 1 / (1 + model.s_offset);
  for (std::size_t c = 0; c < plate.colours.size(); ++c) {
    const auto& colour = plate.colours[c];
    F<W> cone[3];
    for (std::size_t j = 0; j < 3; ++j)
      cone[j] = larger<W>(excited<W>(&lms[3 * j], colour, eyes.veil[j]), all<W>(darkest)) *
                inverse_adapted[j];
    const F<W> y = fused<W>(w, cone[0] - cone[1], cone[1]);
    // 1 / M and 1 / Y by one division.
    const F<W> inverse = 1.0F / (cone[1] * y);
    signals[2][c] = luminance_scale * logarithm<W>(y);
    signals[0][c] =
        model.has_red_green
            ? rg_scale * compressed<W>(model.rg_gain * logarithm<W>(cone[0] * (inverse * y)),
                                       model.rg_pedestal)
            : F<W>{};
    signals[1][c] =
        model.has_yellow_violet
            ? yv_scale *
                  compressed<W>(logarithm<W>(fused<W>(cone[2] * (inverse * cone[1]), inverse_offset,
                                                      all<W>(model.s_offset * inverse_offset))),
                                model.yv_pedestal)
            : F<W>{};
  }
}

/// Evidence of a slot: docs/science/reading.md.
template <int W>
COPUNCTAL_LANES void match_of(const CrowdModel& model, const CrowdSlot& slot,
                              const F<W> (*signals)[crowd_most_classes],
                              F<W> (*match)[crowd_most_symbols]) {
  F<W> unexplained[3];
  for (std::size_t m = 0; m < 3; ++m) {
    F<W> sum{}, squares{}, explained{};
    for (std::size_t i = 0; i < slot.classes; ++i) {
      const F<W> s = signals[m][slot.class_of[i]];
      const F<W> counted = slot.counts[i] * s;
      sum += counted;
      squares = fused<W>(counted, s, squares);
    }
    for (std::size_t k = 0; k < slot.padded; k += 4) {
      F<W> a{}, b{}, c{}, d{};
      for (std::size_t i = 0; i < slot.classes; ++i) {
        const F<W> s = signals[m][slot.class_of[i]];
        const float* weight = &slot.weights[i * slot.padded + k];
        a = fused<W>(s, weight[0], a);
        b = fused<W>(s, weight[1], b);
        c = fused<W>(s, weight[2], c);
        d = fused<W>(s, weight[3], d);
      }
      match[m][k] = a;
      match[m][k + 1] = b;
      match[m][k + 2] = c;
      match[m][k + 3] = d;
      explained = larger<W>(explained, larger<W>(larger<W>(a * a, b * b), larger<W>(c * c, d * d)));
    }
    unexplained[m] = larger<W>(squares - sum * sum - explained * slot.inverse_elements, F<W>{});
  }
  for (std::size_t m = 0; m < 3; ++m) {
    F<W> noise = 1.0F + unexplained[m];
    for (std::size_t other = 0; other < 3; ++other)
      if (other != m)
        noise += (other == 2 ? model.masking_by_luminance : model.masking_by_chromatic) *
                 unexplained[other];
    const F<W> scale = inverse_root<W>(noise * (1 / model.efficiency));
    for (std::size_t k = 0; k < slot.symbols; ++k) match[m][k] *= scale;
  }
}

/// Noise, criterion, lapse. `strongest`: the largest energy in the slot. Words: pairs of a radius
/// and an angle, then, from the lowest ten bits of the first three angles, thirty for lapses.
template <int W>
COPUNCTAL_LANES I<W> answer_of(const CrowdJob& job, const CrowdSlot& slot, const U<W>& observer,
                               F<W> (*match)[crowd_most_symbols], F<W>& strongest) {
  const std::size_t symbols = slot.symbols, pairs = (3 * symbols + 1) / 2;
  U<W> words[3 * crowd_most_symbols + 4];
  for (std::uint32_t block = 0; 4 * block < 2 * pairs; ++block)
    philox<W>(job, observer, block, 3, slot.number, words + 4 * block);
  F<W> deviates[3 * crowd_most_symbols + 1];
  for (std::size_t i = 0; i < pairs; ++i)
    normals<W>(words[2 * i], words[2 * i + 1], deviates[2 * i], deviates[2 * i + 1]);
  F<W> energy[crowd_most_symbols];
  for (std::size_t k = 0; k < symbols; ++k) {
    energy[k] = F<W>{};
    for (std::size_t m = 0; m < 3; ++m) {
      F<W> value = match[m][k];
      for (std::size_t j = 0; j <= k; ++j)
        value = fused<W>(deviates[m * symbols + j], slot.noise_factor[k * symbols + j], value);
      energy[k] = fused<W>(value, value, energy[k]);
    }
  }
  F<W> best = all<W>(slot.limit);
  strongest = F<W>{};
  I<W> answer = static_cast<std::int32_t>(symbols) - I<W>{};
  for (std::size_t k = 0; k < symbols; ++k) {
    const I<W> stands_out = energy[k] >= best;
    best = stands_out ? energy[k] : best;
    answer = stands_out ? static_cast<std::int32_t>(k) - I<W>{} : answer;
    strongest = larger<W>(strongest, energy[k]);
  }
  const U<W> bits = (words[1] & 1023U) << 20 | (words[3] & 1023U) << 10 | (words[5] & 1023U);
  const I<W> lapse = reinterpret_cast<I<W>>(bits);
  // Below the limit such a number is even over [0, limit): so are its equal parts.
  const F<W> any = __builtin_convertvector(lapse, F<W>) * job.model->answers_per_lapse[symbols];
  return lapse < job.model->lapse_below ? __builtin_convertvector(any, I<W>) : answer;
}

template <int W>
COPUNCTAL_LANES void read(const CrowdJob& job, const CrowdEyes& eyes, std::uint8_t* answers,
                          std::uint8_t* clearer) {
  F<W> signals[3][crowd_most_classes];
  F<W> match[3][crowd_most_symbols];
  for (const CrowdPlate& plate : *job.plates) {
    for (std::size_t at = 0; at < crowd_block; at += W) {
      const U<W> observer = observers_from<W>(job.first + static_cast<std::uint32_t>(at));
      signals_of<W>(*job.model, plate, eyes, at, signals);
      F<W> strongest[2] = {};
      for (std::size_t s = 0; s < plate.slots.size(); ++s) {
        const CrowdSlot& slot = plate.slots[s];
        match_of<W>(*job.model, slot, signals, match);
        const I<W> answer = answer_of<W>(job, slot, observer, match, strongest[s]);
        for (int i = 0; i < W; ++i)
          answers[slot.number * crowd_block + at + static_cast<std::size_t>(i)] =
              static_cast<std::uint8_t>(answer[i]);
      }
      const I<W> first = strongest[0] > strongest[1];
      for (int i = 0; i < W; ++i)
        clearer[at + static_cast<std::size_t>(i)] = static_cast<std::uint8_t>(first[i] & 1);
    }
    clearer += crowd_block;
  }
}

template <int W>
COPUNCTAL_LANES void quantiles(const std::uint32_t* words, float* to) {
  U<W> v;
  std::memcpy(&v, words, sizeof v);
  store<W>(quantile<W>(v), to);
}

#if defined(__x86_64__)
#define COPUNCTAL_SIXTEEN __attribute__((target("avx512f,avx512dq,fma")))
#define COPUNCTAL_EIGHT __attribute__((target("avx2,fma")))
#else
#define COPUNCTAL_SIXTEEN
#define COPUNCTAL_EIGHT
#endif

// The three entry points of each: g++ 12 refuses target attributes on specialised templates.
COPUNCTAL_SIXTEEN void draw_sixteen(const CrowdJob& j, CrowdBodies& b, CrowdEyes& e) {
  draw<16>(j, b, e);
}
COPUNCTAL_EIGHT void draw_eight(const CrowdJob& j, CrowdBodies& b, CrowdEyes& e) {
  draw<8>(j, b, e);
}
void draw_four(const CrowdJob& j, CrowdBodies& b, CrowdEyes& e) {
  draw<4>(j, b, e);
}
COPUNCTAL_SIXTEEN void map_sixteen(const CrowdMap& m, const CrowdBodies& b, CrowdEyes& e) {
  map<16>(m, b, e);
}
COPUNCTAL_EIGHT void map_eight(const CrowdMap& m, const CrowdBodies& b, CrowdEyes& e) {
  map<8>(m, b, e);
}
void map_four(const CrowdMap& m, const CrowdBodies& b, CrowdEyes& e) {
  map<4>(m, b, e);
}
COPUNCTAL_SIXTEEN void read_sixteen(const CrowdJob& j, const CrowdEyes& e, std::uint8_t* a,
                                    std::uint8_t* c) {
  read<16>(j, e, a, c);
}
COPUNCTAL_EIGHT void read_eight(const CrowdJob& j, const CrowdEyes& e, std::uint8_t* a,
                                std::uint8_t* c) {
  read<8>(j, e, a, c);
}
void read_four(const CrowdJob& j, const CrowdEyes& e, std::uint8_t* a, std::uint8_t* c) {
  read<4>(j, e, a, c);
}
COPUNCTAL_SIXTEEN void quantiles_sixteen(const std::uint32_t* words, float* to) {
  quantiles<16>(words, to);
}
COPUNCTAL_EIGHT void quantiles_eight(const std::uint32_t* words, float* to) {
  quantiles<8>(words, to);
}
void quantiles_four(const std::uint32_t* words, float* to) {
  quantiles<4>(words, to);
}
COPUNCTAL_SIXTEEN void logarithms_sixteen(const float* from, float* to) {
  store<16>(logarithm<16>(loaded<16>(from)), to);
}
COPUNCTAL_EIGHT void logarithms_eight(const float* from, float* to) {
  store<8>(logarithm<8>(loaded<8>(from)), to);
}
void logarithms_four(const float* from, float* to) {
  store<4>(logarithm<4>(loaded<4>(from)), to);
}

std::size_t lanes_of(Width width) {
  return width == Width::four ? 4 : width == Width::eight ? 8 : 16;
}

// A width that this machine has: one that is asked for must be there.
Width usable(Width width) {
  if (width == Width::widest) return widest_here();
  expects(lanes_of(width) <= lanes_of(widest_here()));
  return width;
}

}  // namespace

Width widest_here() {
#if defined(__x86_64__)
  if (__builtin_cpu_supports("avx512f") && __builtin_cpu_supports("avx512dq"))
    return Width::sixteen;
  if (__builtin_cpu_supports("avx2") && __builtin_cpu_supports("fma")) return Width::eight;
#endif
  return Width::four;
}

void crowd_draw(const CrowdJob& job, CrowdBodies& bodies, CrowdEyes& eyes, Width width) {
  const Width w = usable(width);
  (w == Width::four ? draw_four : w == Width::eight ? draw_eight : draw_sixteen)(job, bodies, eyes);
}

void crowd_map(const CrowdMap& tables, const CrowdBodies& bodies, CrowdEyes& eyes, Width width) {
  const Width w = usable(width);
  (w == Width::four ? map_four : w == Width::eight ? map_eight : map_sixteen)(tables, bodies, eyes);
}

void crowd_read(const CrowdJob& job, const CrowdEyes& eyes, std::uint8_t* answers,
                std::uint8_t* clearer, Width width) {
  const Width w = usable(width);
  (w == Width::four    ? read_four
   : w == Width::eight ? read_eight
                       : read_sixteen)(job, eyes, answers, clearer);
}

std::vector<float> crowd_normals(const std::vector<std::uint32_t>& words, Width width) {
  const Width w = usable(width);
  const std::size_t lanes = lanes_of(w);
  expects(words.size() % lanes == 0);
  std::vector<float> result(words.size());
  for (std::size_t i = 0; i < words.size(); i += lanes)
    (w == Width::four    ? quantiles_four
     : w == Width::eight ? quantiles_eight
                         : quantiles_sixteen)(&words[i], &result[i]);
  return result;
}

std::vector<float> crowd_logarithms(const std::vector<float>& values, Width width) {
  const Width w = usable(width);
  const std::size_t lanes = lanes_of(w);
  expects(values.size() % lanes == 0);
  std::vector<float> result(values.size());
  for (std::size_t i = 0; i < values.size(); i += lanes)
    (w == Width::four    ? logarithms_four
     : w == Width::eight ? logarithms_eight
                         : logarithms_sixteen)(&values[i], &result[i]);
  return result;
}

}  // namespace copunctal

// NOLINTEND(modernize-avoid-c-arrays)
