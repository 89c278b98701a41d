// How often a fault is tried: a few times in every run of the suite, many times in the full one.
#pragma once

#include <cstdio>
#include <cstdlib>
#include <functional>
#include <stdexcept>
#include <string>

namespace copunctal {

/// What a test returns when this computer lacks what it needs; ctest says "skipped".
inline constexpr int skipped = 77;

/// `COPUNCTAL_FULL=1`, which `./dev test --full` sets.
inline bool is_full_run() {
  const char* full = std::getenv("COPUNCTAL_FULL");
  return full != nullptr && std::string(full) == "1";
}

/// "50" or "50/1000": as many trials in the usual and in the full run.
inline int trials_in(const std::string& text) {
  const auto slash = text.find('/');
  const bool is_full = slash != std::string::npos && is_full_run();
  const int trials = std::stoi(is_full ? text.substr(slash + 1) : text.substr(0, slash));
  if (trials < 1) throw std::invalid_argument(text);
  return trials;
}

/// A test program's main: 2 with its usage for words it does not take, 1 for what went wrong.
inline int main_of(const char* name, const char* usage, const std::function<int()>& run) {
  try {
    return run();
  } catch (const std::invalid_argument& trouble) {
    std::fprintf(stderr, "%s (%s)\n", usage, trouble.what());
    return 2;
  } catch (const std::exception& trouble) {
    std::fprintf(stderr, "%s: %s\n", name, trouble.what());
    return 1;
  }
}

}  // namespace copunctal
