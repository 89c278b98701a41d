// How far predictions move with what they assume, one assumption at a time.
#pragma once

#include <string>
#include <vector>

#include "copunctal/app/set_figures.h"
#include "copunctal/base/result.h"
#include "copunctal/design/plate_set.h"
#include "copunctal/display/display.h"
#include "copunctal/vision/model.h"

namespace copunctal {

/// One assumption, changed.
struct Assumed {
  std::string assumption;  ///< "element noise K"
  std::string value;       ///< "3.6"
  DiscriminationModel model;
  Display display;
  /// Of individuals' ages; the default population's unless an age is asked about.
  PopulationSpread spread;
};

/// Mosaic factor x .6 and x 1.6, both maskings x .5 and x 2, efficiency x .5 and x 2, sensitivity
/// SD .06 and .18, full post-receptoral gain, and the displays this one could be as well.
std::vector<Assumed> other_assumptions(const Display& display);

/// The figures a set is judged by, in one row of a sensitivity table.
struct Headline {
  double false_alarms = 0;                ///< By the rule of the unchanged assumptions.
  double hits_at_0 = 0, hits_at_5 = 0;    ///< Protans and deutans together.
  double named_at_0 = 0, named_at_5 = 0;  ///< Kind right by fork plates.
};

/// A probability under all assumptions: itself, least and most, and what moves it most.
struct Range {
  double least = 0, most = 0;
  std::string by;
};

struct AssumptionFigures {
  struct Row {
    std::string assumption, value;
    Headline headline;
  };
  std::vector<Row> rows;  ///< The first is as assumed.
  /// By plate, observer (standard_observers()): of PredictedReading::intended and ::second.
  std::vector<std::vector<std::array<Range, 2>>> ranges;
  std::size_t population = 0;
};

/// Recomputes the set under every one of other_assumptions(), `population` fresh observers of each
/// kind: about .4 s of one core per assumption and hundred observers.
AssumptionFigures assumption_figures(const PlateSet& set, const Display& display,
                                     std::size_t population);

/// P(a figure is read).
struct FigureRead {
  double normal = 0;
  std::vector<double> aimed;  ///< By each aimed observer.
};
/// One way a plate may fail, and how its figures are read then.
struct FailureRow {
  std::string what, value;
  std::vector<FigureRead> figures;
};
/// "How does it fail?": other displays, light in the room, viewing distance, age.
struct Failure {
  std::string plate, kind, aim;
  std::vector<std::string> aimed;  ///< Observers the kind speaks of beside normals.
  std::vector<FailureRow> rows;    ///< The first is as made.
  std::string words;               ///< The worst of them in a sentence.
};
/// Error: not_found, with the nearest name, for a plate that is not in the set.
Result<Failure> how_it_fails(const PlateSet& set, const std::string& plate, const Display& display,
                             std::size_t population);

}  // namespace copunctal
