// Predicted readings of a whole set, for the command line and for checks.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "copunctal/app/judge_set.h"
#include "copunctal/base/result.h"
#include "copunctal/design/plate_set.h"
#include "copunctal/display/display.h"
#include "copunctal/reader/predict.h"

namespace copunctal {

struct PlatePredictions {
  std::string name, kind, aim;
  bool fork = false;
  std::vector<PredictedReading> by_observer;  ///< In the order of standard_observers().
  std::vector<std::string> margins;           ///< Nominal observers, same order.
  PlateJudgement judge;                       ///< What the second judge says.
};

struct SetPredictions {
  std::string display, set_hash;
  std::size_t population = 0;
  std::vector<PlatePredictions> plates;
  std::vector<std::string> assumptions;
};

/// Predictions for `population` fresh observers of each standard kind and the second judge's
/// verdicts, on the set's own display or, its codes unchanged, on another. Errors: bad_input for a
/// set whose display is unknown.
Result<SetPredictions> predict_set(const PlateSet& set, std::size_t population,
                                   const std::optional<Display>& elsewhere = {});

/// {"plates":[{"name","kind","aim","predicted":{...},"judge":{...}}], ...}: the format is in
/// docs/commands.md.
std::string predictions_json(const SetPredictions& predictions);

/// A table for people: a line per plate (two for fork plates), a column per observer; then, plate
/// by plate, what the second judge says and the worse of the two.
std::string predictions_text(const SetPredictions& predictions);

}  // namespace copunctal
