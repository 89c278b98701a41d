// Predicted readings of a plate by a population.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "copunctal/reader/reader.h"

namespace copunctal {

/// What a population does with one plate. For one figure: intended + nothing + other = 1. For a
/// plate with two places `intended` is P(the first is read), `second` P(the second is read), both
/// may be; `nothing` is P(no figure at all), `other` P(any symbol that is not drawn there). For two
/// figures in one place: P(the first is read), P(the second is read), and these two sum to 1.
struct PredictedReading {
  double intended = 0, second = 0, nothing = 0, other = 0;
  /// Fork plates and ladders: P(the first is clearer than the second).
  double first_clearer = 0;
  /// Mean reading of each place: P(each symbol is read) and P(none is), from the same draws.
  std::vector<SlotReading> places;
  double mc_error = 0;  ///< Standard error of the largest of these, over the eyes drawn.
};

/// The same of one eye, from the readings of the plate's slots and the symbols drawn, one for each
/// slot or two for the only one; mc_error stays 0.
PredictedReading reading_of(const std::vector<SlotReading>& slots,
                            const std::vector<std::size_t>& drawn);

/// Each eye's own, `draws` noise draws each (a different stretch of the draws for every eye).
std::vector<PredictedReading> readings_by_eye(const PlateReader& reader,
                                              const std::vector<std::size_t>& drawn,
                                              const std::vector<Eye>& eyes,
                                              std::size_t draws = 128);
/// Their mean; expects one or more.
PredictedReading mean_of(const std::vector<PredictedReading>& by_eye);
/// Averages over eyes: mean_of(readings_by_eye()).
PredictedReading predicted_reading(const PlateReader& reader, const std::vector<std::size_t>& drawn,
                                   const std::vector<Eye>& eyes, std::size_t draws = 128);

/// Fresh eyes for verdicts, never those a design was made on: `count` individuals around an
/// observer.
std::vector<Eye> fresh_eyes(const Observer& centre, const Display& display, std::size_t count,
                            unsigned threads = 0, const DiscriminationModel& model = {},
                            const PopulationSpread& spread = {});

/// The observers predictions are made for: normal, protan and deutan at 20, 10, 5 and 0 nm, tritan.
const std::vector<std::string>& standard_observers();

}  // namespace copunctal
