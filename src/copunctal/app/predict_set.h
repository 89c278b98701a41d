// Predicted readings of a whole set, for the command line and for checks.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "copunctal/app/judge_set.h"
#include "copunctal/app/predict_assumptions.h"
#include "copunctal/app/set_figures.h"
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
  Basis basis = Basis::visibility;
  std::string rests_on;              ///< basis_in_words() of its kind.
  std::vector<std::string> symbols;  ///< The answer row.
  bool superimposed = false;         ///< Its two figures share a place.
  PlateJudgement judge;              ///< What the second judge says.
};

struct SetPredictions {
  std::string display, set_hash;
  std::size_t population = 0;
  bool counted = false;  ///< One answer each was drawn: the population is larger than 2000.
  double gain = 0;       ///< Post-receptoral gain, as in DiscriminationModel.
  std::string loan;      ///< Whom the set is drawn on loan of; empty for none.
  std::vector<PlatePredictions> plates;
  SetFigures figures;                 ///< Over at most 2000 individuals of each kind.
  std::vector<SittingsEnd> sittings;  ///< Empty unless asked for.
  std::size_t sittings_each = 0;
  std::optional<AssumptionFigures> assumed;  ///< Nothing unless asked for.
  std::vector<std::string> assumptions;
};

struct PredictOptions {
  std::size_t population = 400;
  std::optional<Display> elsewhere = {};
  std::size_t sittings = 0;  ///< Of each kind to simulate; 0: none.
  bool ranges = false;       ///< Whether the assumptions are varied.
  double gain = 0;           ///< Post-receptoral gain of anomalous observers, 0 to 1.
};

/// Predictions for `population` fresh observers of each standard kind (2000 at most one by one,
/// more by one answer of each: a million takes a second or two a kind) and the second judge's
/// verdicts, on the set's own display or, its codes unchanged, on another. Sittings are simulated
/// only for sets that can be sat. Errors: bad_input for a set whose display is unknown.
Result<SetPredictions> predict_set(const PlateSet& set, const PredictOptions& options);
Result<SetPredictions> predict_set(const PlateSet& set, std::size_t population,
                                   const std::optional<Display>& elsewhere = {});

/// {"plates":[{"name","kind","aim","predicted":{...},"judge":{...}}], ...}: the format is in
/// docs/commands.md.
std::string predictions_json(const SetPredictions& predictions);

/// A table for people: a line per plate (two for fork plates), a column per observer; then, plate
/// by plate, what the second judge says and the worse of the two.
std::string predictions_text(const SetPredictions& predictions);

/// How a plate fails, as a table for people and as JSON.
std::string failure_text(const Failure& failure);
std::string failure_json(const Failure& failure);

}  // namespace copunctal
