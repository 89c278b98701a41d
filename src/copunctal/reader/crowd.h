// A whole population reads a whole set, one answer each: a million observers in about a second.
//
// A plate has some twenty colour classes, so an observer's evidence follows from counts per class;
// what is left are logarithms, products and normal deviates, done for as many observers at a time
// as the machine has lanes. Observer number i of a seed is the same individual as
// IndividualEyes(seed, i), and a deviate's Philox counter is (block, 3, observer, slot) under the
// seed's key: nothing depends on the number of threads, on the order of work or on the width of the
// machine's units. The kernel works in float; its double twin is here too, and a test prints how
// many answers differ (docs/science/prediction.md).
#pragma once

#include <array>
#include <cstdint>
#include <memory>
#include <vector>

#include "copunctal/display/display.h"
#include "copunctal/observer/population.h"
#include "copunctal/reader/predict.h"
#include "copunctal/reader/reader.h"

namespace copunctal {

/// How many observers the kernel takes at a time. All give the same answers, bit for bit; `widest`
/// is what this machine has.
enum class Width { widest, four, eight, sixteen };
/// The width `widest` stands for here: sixteen with AVX-512 (F, DQ), eight with AVX2, else four.
Width widest_here();

/// What a crowd did with one plate: how many gave each answer.
struct CrowdCounts {
  std::size_t symbols = 0, slots = 0;
  /// By the reading of the first slot, then of the second: a symbol's index, or `symbols` for
  /// nothing. symbols + 1 entries for one slot, its square for two.
  std::vector<std::uint64_t> answers;
  /// Two slots: how many found the first figure clearer, lapses left out.
  std::uint64_t first_clearer = 0;

  std::uint64_t total() const;
  /// How many read `symbol` in a slot.
  std::uint64_t reads(std::size_t slot, std::size_t symbol) const;
};

/// Every single reading: `of(slot, observer)` is a symbol's index or the number of symbols for
/// nothing. Slots of all plates are numbered through.
struct CrowdReadings {
  std::size_t observers = 0;
  std::vector<std::size_t> first_slot;  ///< Per plate, and one more: the number of all slots.
  std::vector<std::uint8_t> answers;    ///< Slot by slot.

  std::uint8_t of(std::size_t slot, std::size_t observer) const {
    return answers[slot * observers + observer];
  }
};

/// A population around one observer, before a set on a display.
class Crowd {
 public:
  /// `model` replaces the readers' own in all but the rate of blank readings, so that assumptions
  /// can be varied without preparing plates anew. `readers` show what the display makes of their
  /// codes.
  Crowd(const std::vector<PlateReader>& readers, const Observer& centre, const Display& display,
        const DiscriminationModel& model = {}, const PopulationSpread& spread = {});
  ~Crowd();
  Crowd(const Crowd&) = delete;
  Crowd& operator=(const Crowd&) = delete;
  Crowd(Crowd&&) noexcept;
  Crowd& operator=(Crowd&&) noexcept;

  /// How often each answer was given to each plate by observers 0 to `count` - 1 of the seed.
  std::vector<CrowdCounts> counts(std::uint32_t count, std::uint64_t seed, unsigned threads = 0,
                                  Width width = Width::widest) const;
  /// What each of them read.
  CrowdReadings readings(std::uint32_t count, std::uint64_t seed, unsigned threads = 0,
                         Width width = Width::widest) const;

 private:
  struct Parts;
  std::unique_ptr<Parts> parts_;
};

/// The double twin of a crowd: IndividualEyes, the reader's own evidence, exact quantiles of the
/// same random words, one observer at a time.
class PlainCrowd {
 public:
  PlainCrowd(std::vector<PlateReader> readers, const Observer& centre, const Display& display,
             const DiscriminationModel& model = {}, const PopulationSpread& spread = {});
  /// What one observer reads, slot by slot, coded as in CrowdReadings.
  std::vector<std::uint8_t> readings(std::uint32_t observer, std::uint64_t seed) const;

 private:
  std::vector<PlateReader> readers_;
  Observer centre_;
  DiscriminationModel model_;
  PopulationSpread spread_;
  PopulationMap map_;
  IndividualEyes individuals_;
};

/// Crowd(readers, centre, display).counts(count, seed, threads).
std::vector<CrowdCounts> crowd_answers(const std::vector<PlateReader>& readers,
                                       const Observer& centre, const Display& display,
                                       std::uint32_t count, std::uint64_t seed,
                                       unsigned threads = 0);

/// What the counts come to for the symbols drawn, as predicted_reading() has it; mc_error is the
/// binomial standard error of the largest.
PredictedReading reading_of(const CrowdCounts& counts, const std::vector<std::size_t>& drawn,
                            double lapse);

/// Standard normal deviates of 32 random bits each, and natural logarithms, as the kernel has them:
/// for tests of their accuracy.
std::vector<float> crowd_normals(const std::vector<std::uint32_t>& words, Width width);
std::vector<float> crowd_logarithms(const std::vector<float>& values, Width width);

}  // namespace copunctal
