// How long work takes.
#pragma once

#include <algorithm>
#include <chrono>
#include <functional>

namespace copunctal {

inline double seconds_of(const std::function<void()>& work) {
  const auto start = std::chrono::steady_clock::now();
  work();
  return std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
}

inline double best_of(int tries, const std::function<void()>& work) {
  double best = 1e9;
  for (int i = 0; i < tries; ++i) best = std::min(best, seconds_of(work));
  return best;
}

}  // namespace copunctal
