// Whether a designed plate does what its kind is for, on observers no design was made on.
#pragma once

#include <map>
#include <optional>
#include <string>
#include <vector>

#include "copunctal/base/result.h"
#include "copunctal/display/display.h"
#include "copunctal/reader/predict.h"

namespace copunctal {

/// A demand of a kind: P(an observer reads a figure) at least or at most a bound.
struct Demand {
  std::string observer;
  std::size_t figure = 0;
  bool at_least = true;
  double bound = 0;
};
/// What plates of a kind must do to be given out (docs/science/design.md): looser than what designs
/// reach, so that only a display that cannot show the kind is refused.
std::vector<Demand> demands_of(const Plate& plate);

/// Fresh eyes in front of the display a set is for, for its verdicts.
class Jury {
 public:
  explicit Jury(const Display& display, unsigned threads = 0);
  /// The demand a plate misses by most, with the probability reached; nothing if all are met. The
  /// reader shows the plate as the display does.
  struct Miss {
    Demand demand;
    double reached = 0;
  };
  std::optional<Miss> worst_miss(const Plate& plate, const PlateReader& reader) const;
  /// The same as an error that names plate, number and what works. Error: unsupported.
  Result<void> judge(const Plate& plate, const PlateReader& reader) const;

 private:
  std::string display_;
  std::map<std::string, std::vector<Eye>> eyes_;
};

}  // namespace copunctal
