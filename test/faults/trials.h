// How often a fault is tried: a few times in every run of the suite, many times in the full one.
#pragma once

#include <cstdint>
#include <cstdio>
#include <cstdlib>
#include <functional>
#include <map>
#include <stdexcept>
#include <string>
#include <vector>

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

/// The words a test program takes: "--name VALUE", and flags without a value.
struct Words {
  std::map<std::string, std::string*> texts;
  std::map<std::string, int*> trials;  ///< As trials_in().
  std::map<std::string, std::uint64_t*> seeds;
  std::map<std::string, bool*> flags;
};
/// Throws std::invalid_argument for another word, or where a value is missing; `needed` must not be
/// empty afterwards.
inline void read_words(int count, char** given, const Words& words,
                       const std::vector<std::string>& needed) {
  for (int i = 1; i < count; ++i) {
    const std::string name = given[i];
    if (const auto flag = words.flags.find(name); flag != words.flags.end()) {
      *flag->second = true;
      continue;
    }
    if (i + 1 == count) throw std::invalid_argument(name);
    const std::string value = given[++i];
    if (const auto text = words.texts.find(name); text != words.texts.end())
      *text->second = value;
    else if (const auto trials = words.trials.find(name); trials != words.trials.end())
      *trials->second = trials_in(value);
    else if (const auto seed = words.seeds.find(name); seed != words.seeds.end())
      *seed->second = std::stoull(value);
    else
      throw std::invalid_argument(name);
  }
  for (const std::string& name : needed)
    if (words.texts.at(name)->empty()) throw std::invalid_argument(name);
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
