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

std::vector<PredictedReading> readings_by_eye(const PlateReader& reader,
                                              const std::vector<std::size_t>& drawn,
                                              const std::vector<Eye>& eyes, std::size_t draws) {
  expects(drawn.size() >= reader.slots());
  std::vector<PredictedReading> result;
  result.reserve(eyes.size());
  for (std::size_t i = 0; i < eyes.size(); ++i) {
    std::vector<SlotReading> slots = reader.readings(eyes[i], draws, i * draws);
    PredictedReading one = reading_of(slots, drawn);
    if (reader.slots() == 2) one.first_clearer = reader.first_is_clearer(eyes[i], draws, i * draws);
    one.places = std::move(slots);
    result.push_back(std::move(one));
  }
  return result;
}

PredictedReading mean_of(const std::vector<PredictedReading>& by_eye) {
  expects(!by_eye.empty());
  const auto n = static_cast<double>(by_eye.size());
  PredictedReading mean;
  double variance = 0;
  for (const auto field :
       {&PredictedReading::intended, &PredictedReading::second, &PredictedReading::nothing,
        &PredictedReading::other, &PredictedReading::first_clearer}) {
    double sum = 0, squares = 0;
    for (const PredictedReading& one : by_eye) {
      sum += one.*field;
      squares += one.*field * one.*field;
    }
    mean.*field = sum / n;
    variance = std::max(variance, squares / n - mean.*field * mean.*field);
  }
  mean.mc_error = std::sqrt(variance / n);
  mean.places = by_eye.front().places;
  for (std::size_t p = 0; p < mean.places.size(); ++p) {
    SlotReading& place = mean.places[p];
    for (std::size_t k = 0; k < place.reads.size(); ++k) {
      place.reads[k] = 0;
      for (const PredictedReading& one : by_eye) place.reads[k] += one.places[p].reads[k] / n;
    }
    place.nothing = 0;
    for (const PredictedReading& one : by_eye) place.nothing += one.places[p].nothing / n;
  }
  return mean;
}

PredictedReading predicted_reading(const PlateReader& reader, const std::vector<std::size_t>& drawn,
                                   const std::vector<Eye>& eyes, std::size_t draws) {
  return mean_of(readings_by_eye(reader, drawn, eyes, draws));
}

std::vector<Eye> fresh_eyes(const Observer& centre, const Display& display, std::size_t count,
                            unsigned threads, const DiscriminationModel& model,
                            const PopulationSpread& spread) {
  const IndividualEyes individuals(centre, display, model, spread);
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
