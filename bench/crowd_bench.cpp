#include "crowd_bench.h"

#include <algorithm>
#include <chrono>
#include <cstdio>
#include <ctime>
#include <functional>
#include <vector>
#if defined(__x86_64__)
#include <immintrin.h>
#endif

#include "copunctal/reader/crowd.h"
#include "timing.h"

namespace copunctal {
namespace {

volatile float sink = 0;

#if defined(__x86_64__)
// Twelve independent chains of fused products and sums: what one core does at most, in single
// precision. Operations: 2 a lane.
constexpr int rounds = 20'000'000;
__attribute__((target("avx512f"))) void peak_of_sixteen() {
  __m512 sums[12];
  const __m512 a = _mm512_set1_ps(0.999F), b = _mm512_set1_ps(0.001F);
  for (__m512& sum : sums) sum = b;
  for (int i = 0; i < rounds; ++i)
#pragma GCC unroll 12
    for (__m512& sum : sums) sum = _mm512_fmadd_ps(sum, a, b);
  for (const __m512& sum : sums) sink = _mm512_cvtss_f32(sum);
}
__attribute__((target("avx2,fma"))) void peak_of_eight() {
  __m256 sums[12];
  const __m256 a = _mm256_set1_ps(0.999F), b = _mm256_set1_ps(0.001F);
  for (__m256& sum : sums) sum = b;
  for (int i = 0; i < rounds; ++i)
#pragma GCC unroll 12
    for (__m256& sum : sums) sum = _mm256_fmadd_ps(sum, a, b);
  for (const __m256& sum : sums) sink = _mm256_cvtss_f32(sum);
}
double peak_flops(Width width) {
  if (width == Width::four) return 0;
  const double lanes = width == Width::sixteen ? 16 : 8;
  return 12 * 2 * lanes * rounds /
         best_of(3, width == Width::sixteen ? peak_of_sixteen : peak_of_eight);
}
#else
double peak_flops(Width) {
  return 0;
}
#endif

// Floating-point operations of one observer, counted in crowd_kernel.cpp: a fused product two, a
// logarithm 21, a deviate 36; integer work (Philox, conversions, comparisons) and PopulationMap
// left out.
double operations(const PlateSet& set) {
  double sum = 0;
  for (const Plate& plate : set.plates) {
    const double classes = static_cast<double>(plate.codes.size() * plate.codes.front().size()),
                 slots = static_cast<double>(places_of(plate.figures).size()),
                 symbols = static_cast<double>(set.symbols.size());
    const double signals = 3 * 8 + 4 + 5 * 21 + 2 * 4 + 11;
    const double matches = 3 * (4 + 2 * symbols);
    const double noise = 3 * symbols * 36 + 3 * symbols * (symbols + 1) + 2 * 3 * symbols;
    sum += classes * signals + slots * (classes * matches + noise);
  }
  return sum;
}

}  // namespace

void bench_crowd(const PlateSet& set, const Display& display) {
  std::vector<PlateReader> readers;
  const CodeLight light(display.curves);
  for (const Plate& plate : set.plates) {
    readers.push_back(PlateReader::of(plate, answer_row(set, plate)));
    readers.back().show_on(light);
  }
  const Observer centre = *observer_from("deutan:5");
  const Crowd crowd(readers, centre, display);
  constexpr std::uint32_t million = 1'000'000, some = 500;
  // Without an instruction for fused products four at a time take a call each: few of them.
  const auto time = [&](unsigned threads, Width width) {
    const std::uint32_t share = width == Width::four ? 200 : 1;
    return share * best_of(3, [&] {
             sink = static_cast<float>(
                 crowd.counts(million / share, 1, threads, width).front().answers.front());
           });
  };
  std::printf("10^6 fresh observers read the set of %zu, one answer each:\n", readers.size());
  double widest_one = 0;
  for (const auto& [width, name] :
       {std::pair{Width::sixteen, "sixteen at a time"}, std::pair{Width::eight, "eight at a time"},
        std::pair{Width::four, "four at a time"}}) {
    if (width > widest_here()) continue;
    const double two = time(2, width);
    const std::clock_t before = std::clock();
    const double one = time(1, width);
    const double processor = static_cast<double>(std::clock() - before) / CLOCKS_PER_SEC / 3 *
                             (width == Width::four ? 200 : 1);
    if (width == widest_here()) widest_one = processor;
    std::printf("  %-18s two threads %6.2f s, one %6.2f s, %.2f s of processor (here)", name, two,
                one, processor);
    if (const double peak = peak_flops(width); peak > 0)
      std::printf("; %.1f %% of one core's %.0f GFLOP/s of fused products",
                  100 * operations(set) * million / processor / peak, peak / 1e9);
    std::printf("\n");
  }
  const PlainCrowd plain(readers, centre, display);
  const double twin = best_of(3, [&] {
    for (std::uint32_t i = 0; i < some; ++i) sink = plain.readings(i, 1).front();
  });
  std::printf("  the plain path over it, one answer each, one thread           %8.1f times\n",
              twin / some / (widest_one / million));
  const auto eyes = fresh_eyes(centre, display, some, 1);
  const double predicted = best_of(1, [&] {
    for (std::size_t p = 0; p < readers.size(); ++p) {
      std::vector<std::size_t> drawn;
      for (const Figure& figure : set.plates[p].figures)
        drawn.push_back(readers[p].index_of(figure.symbol));
      sink = static_cast<float>(predicted_reading(readers[p], drawn, eyes, 128).intended);
    }
  });
  std::printf("  predicted_reading with 128 noise draws an observer over it    %8.1f times\n",
              predicted / some / (widest_one / million));
}

}  // namespace copunctal
