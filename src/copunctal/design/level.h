// Equal difficulty: sets of different seeds are forms of one another.
#pragma once

#include <map>
#include <string>
#include <vector>

#include "copunctal/colour/tone_curve.h"
#include "copunctal/design/colouring.h"
#include "copunctal/display/display.h"
#include "copunctal/plate/plate.h"
#include "copunctal/reader/reader.h"
#include "copunctal/view/loan.h"

namespace copunctal {

/// How often a figure is to be read: the mean over the observers.
struct Level {
  std::size_t figure = 0;
  std::vector<std::string> observers;
  double reads = 0;
};
/// The levels of a plate's kind; none where every observer reads it or nobody does.
std::vector<Level> levels_for(const Plate& plate);

/// Brings plates of a kind to one difficulty by their figures' contrast.
class Leveller {
 public:
  /// Individuals that neither designs nor verdicts see.
  explicit Leveller(const Display& display);
  /// The recipe with each figure's contrast multiplied by a factor of .6 to 1.6 that makes it read
  /// as often as its level says, as near as the display's range allows.
  Recipe levelled(const Recipe& recipe, const Plate& plate, const PlateReader& reader,
                  const Eye& nominal, const CodeLight& light, const Loan* loan) const;

  /// How often those a vanishing plate is aimed at, dichromats included, read the recipe all the
  /// same: what tells designs of one level apart.
  double missed_aim(const Recipe& recipe, const Plate& plate, const PlateReader& reader,
                    const Eye& nominal, const CodeLight& light) const;

 private:
  std::map<std::string, std::vector<Eye>> eyes_;
};

}  // namespace copunctal
