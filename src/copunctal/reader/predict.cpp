#include "copunctal/reader/predict.h"

#include <algorithm>
#include <cmath>

#include "copunctal/base/expects.h"
#include "copunctal/base/parallel.h"

namespace copunctal {
namespace {

constexpr std::uint64_t verdict_seed = 0x7665726469637431;

}  // namespace

PredictedReading reading_of(const std::vector<SlotReading>& slots,
                            const std::vector<std::size_t>& drawn) {
  expects(!slots.empty() && drawn.size() >= slots.size() && drawn.size() <= 2);
  PredictedReading one;
  if (drawn.size() > slots.size()) {
    const SlotReading& slot = slots.front();
    one.intended = slot.reads[drawn[0]];
    one.second = slot.reads[drawn[1]];
    one.nothing = slot.nothing;
    one.other = 1 - one.intended - one.second - one.nothing;
    return one;
  }
  one.intended = slots.front().reads[drawn.front()];
  one.nothing = 1;
  double as_drawn_or_nothing = 1;
  for (std::size_t s = 0; s < slots.size(); ++s) {
    one.nothing *= slots[s].nothing;
    as_drawn_or_nothing *= slots[s].nothing + slots[s].reads[drawn[s]];
  }
  if (slots.size() == 2) one.second = slots.back().reads[drawn.back()];
  one.other = 1 - as_drawn_or_nothing;
  return one;
}

PredictedReading predicted_reading(const PlateReader& reader, const std::vector<std::size_t>& drawn,
                                   const std::vector<Eye>& eyes, std::size_t draws) {
  expects(!eyes.empty() && drawn.size() >= reader.slots());
  PredictedReading sum, squares;
  for (std::size_t i = 0; i < eyes.size(); ++i) {
    PredictedReading one = reading_of(reader.readings(eyes[i], draws, i * draws), drawn);
    if (reader.slots() == 2) one.first_clearer = reader.first_is_clearer(eyes[i], draws, i * draws);
    const auto add = [&](double PredictedReading::*field) {
      sum.*field += one.*field;
      squares.*field += one.*field * one.*field;
    };
    add(&PredictedReading::intended);
    add(&PredictedReading::second);
    add(&PredictedReading::nothing);
    add(&PredictedReading::other);
    add(&PredictedReading::first_clearer);
  }
  const auto n = static_cast<double>(eyes.size());
  PredictedReading mean;
  double variance = 0;
  for (const auto field : {&PredictedReading::intended, &PredictedReading::second,
                           &PredictedReading::nothing, &PredictedReading::other,
                           &PredictedReading::first_clearer}) {
    mean.*field = sum.*field / n;
    variance = std::max(variance, squares.*field / n - mean.*field * mean.*field);
  }
  mean.mc_error = std::sqrt(variance / n);
  return mean;
}

std::vector<Eye> fresh_eyes(const Observer& centre, const Display& display, std::size_t count,
                            unsigned threads) {
  const IndividualEyes individuals(centre, display);
  std::vector<Eye> eyes(count);
  parallel_for(
      count,
      [&](std::size_t i) { eyes[i] = individuals(verdict_seed, static_cast<std::uint32_t>(i)); },
      threads);
  return eyes;
}

const std::vector<std::string>& standard_observers() {
  static const std::vector<std::string> names = {"normal",   "protan:20", "protan:10", "protan:5",
                                                 "protan:0", "deutan:20", "deutan:10", "deutan:5",
                                                 "deutan:0", "tritan"};
  return names;
}

}  // namespace copunctal
