// Random numbers that are the same everywhere: a counter-based generator and our own
// distributions (those of the standard library differ between implementations).
//
// A stream is named by a seed and up to three labels, so "the noise of plate 7 for observer 912"
// is one fixed sequence, whoever asks for it, in whatever order, on however many threads.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <utility>
#include <vector>

namespace copunctal {

/// One block of Philox4x32-10 (Salmon, Moraes, Dror & Shaw 2011, "Parallel random numbers: as easy
/// as 1, 2, 3", SC11): 4 x 32 random bits from a 128-bit counter and a 64-bit key.
std::array<std::uint32_t, 4> philox4x32(std::array<std::uint32_t, 4> counter,
                                        std::array<std::uint32_t, 2> key);

/// A random stream. Cheap to make; copy it to replay it.
class RandomStream {
 public:
  /// Stream number (a, b, c) of the seed; distinct labels give independent streams.
  explicit RandomStream(std::uint64_t seed, std::uint32_t a = 0, std::uint32_t b = 0,
                        std::uint32_t c = 0)
      : key_{static_cast<std::uint32_t>(seed), static_cast<std::uint32_t>(seed >> 32)},
        counter_{0, a, b, c} {}

  std::uint32_t bits32();
  std::uint64_t bits64();
  /// Uniform in [0, 1), 53 bits.
  double uniform();
  /// Uniform in [low, high).
  double uniform(double low, double high) { return low + (high - low) * uniform(); }
  /// Uniform over 0..n-1, without bias (rejection); n > 0.
  std::uint32_t below(std::uint32_t n);
  /// Standard normal, by inversion of the uniform.
  double normal();

  /// Fisher-Yates shuffle.
  template <class T>
  void shuffle(std::vector<T>& items) {
    for (std::size_t i = items.size(); i > 1; --i)
      std::swap(items[i - 1], items[below(static_cast<std::uint32_t>(i))]);
  }

 private:
  std::array<std::uint32_t, 2> key_;
  std::array<std::uint32_t, 4> counter_;
  std::array<std::uint32_t, 4> block_{};
  int used_ = 4;
};

/// Inverse of the standard normal distribution function; 0 < p < 1. Acklam's rational
/// approximation (from memory) polished by one Halley step: error below 1e-14.
double normal_quantile(double p);

/// Standard normal distribution function.
double normal_cdf(double z);

}  // namespace copunctal
