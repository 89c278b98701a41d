// What a set as a whole tells: hits and false alarms of a rule, protan against deutan, and how
// often nothing can be told. Equations: docs/science/prediction.md.
#pragma once

#include <array>
#include <string>
#include <vector>

#include "copunctal/design/plate_set.h"
#include "copunctal/reader/predict.h"

namespace copunctal {

/// P(0, 1, ... n misses) for one eye, from its P(miss) of each of n plates (Poisson-binomial).
std::vector<double> misses_of(const std::vector<double>& miss_each);

/// Area under the ROC of "more misses" between two groups, each eye with its distribution of misses
/// (equally long): P(one of `with` misses more than one of `without`) + P(as many) / 2, with its
/// standard error over the eyes drawn (DeLong, DeLong & Clarke-Pearson 1988). expects one or more
/// eyes in each.
struct RocArea {
  double area = 0, error = 0;
};
RocArea roc_area(const std::vector<std::vector<double>>& with,
                 const std::vector<std::vector<double>>& without);

/// A share of a group with its standard error over the individuals drawn.
struct Share {
  double share = 0, error = 0;
};

/// P(k or more misses) of a group.
struct RulePoint {
  std::size_t misses = 0;   ///< k
  Share false_alarms;       ///< Of normals.
  std::vector<Share> hits;  ///< Of each observer of the rule.
};

/// What counting misses of some plates tells: those that are to be missed by `observers`.
struct MissRule {
  std::size_t plates = 0;              ///< Counted.
  std::vector<std::string> observers;  ///< Those it is to find.
  std::vector<RulePoint> points;       ///< k = 1 ... plates.
  std::size_t misses = 0;              ///< Smallest k with false alarms of .05 or less; 0: none.
};

/// How often fork plates name the kind: by the sum over plates of (first read) - (second read).
struct KindNamed {
  std::string observer;
  double right = 0, wrong = 0, cannot_tell = 0;
};

struct SetFigures {
  MissRule red_green;            ///< Of vanishing plates.
  MissRule blue_yellow;          ///< Of tritan plates.
  std::vector<RocArea> area;     ///< Of each red-green observer against normals.
  RocArea area_of_all;           ///< Of all of them in equal parts.
  std::vector<KindNamed> kinds;  ///< Empty without fork plates.
};

/// From readings by plate (as in the set), observer (standard_observers()) and eye.
SetFigures set_figures(const PlateSet& set,
                       const std::vector<std::vector<std::vector<PredictedReading>>>& readings);

/// What simulated sittings end in.
struct SittingsEnd {
  std::string observer;
  /// Shares of sittings that end in "normal", "protan", "deutan", "tritan", "cannot tell".
  std::array<double, 5> shares{};
};

/// `count` sittings by fresh individuals of each standard observer, answered as the reader answers:
/// the first round, the which-kind round after a miss, the blue-yellow round; weighed as the
/// outcome page weighs them, sex at birth not given. `model` is how the sitters see; they are
/// weighed as the page weighs everybody. Takes a second and .2 ms a sitting. Error: bad_input for a
/// set no sitting can be made of.
Result<std::vector<SittingsEnd>> simulated_sittings(const PlateSet& set, const Display& display,
                                                    std::size_t count,
                                                    const DiscriminationModel& model = {});

}  // namespace copunctal
