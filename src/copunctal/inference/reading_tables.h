// P(answer | observer) for every plate of a set, over a grid of kinds and separations and, at each
// point, individuals. The individuals are what keeps plates from being taken as independent:
// somebody with weak signals misses several plates at once.
#pragma once

#include <cstdint>
#include <memory>
#include <string>
#include <vector>

#include "copunctal/base/result.h"
#include "copunctal/display/display.h"
#include "copunctal/plate/plate.h"
#include "copunctal/reader/predict.h"

namespace copunctal {

/// A point of the grid.
struct GridPoint {
  ObserverKind kind = ObserverKind::normal;
  double separation_nm = 28;  ///< Protan and deutan only.
  std::string name;           ///< "protan:5"
};

class ReadingTables {
 public:
  /// Computes the tables: about a second of one core for a set of 18. `rows`: the answer row of
  /// each plate; all have as many symbols.
  static std::shared_ptr<const ReadingTables> build(
      const std::vector<Plate>& plates, const std::vector<std::vector<std::string>>& rows,
      const Display& display, unsigned threads = 0);
  /// The same for plates that share one answer row.
  static std::shared_ptr<const ReadingTables> build(const std::vector<Plate>& plates,
                                                    const std::vector<std::string>& symbols,
                                                    const Display& display, unsigned threads = 0);

  const std::vector<GridPoint>& grid() const { return grid_; }
  std::size_t individuals() const { return individuals_; }
  std::size_t plates() const { return slots_of_.size(); }
  /// Number of symbols in every answer row.
  std::size_t symbols() const { return symbols_; }
  /// Figures of a plate: 1, or 2 for fork plates.
  std::size_t slots_of(std::size_t plate) const { return slots_of_[plate]; }

  /// P(answer) of one individual at a grid point; `answer` holds indices in the
  /// plate's row, ascending.
  double probability(std::size_t point, std::size_t individual, std::size_t plate,
                     const std::vector<std::size_t>& answer) const;

  /// Mean over individuals of the slot readings at a grid point.
  std::vector<SlotReading> mean_reading(std::size_t point, std::size_t plate) const;

  /// Population prediction at a grid point, from the same tables.
  PredictedReading prediction(std::size_t point, std::size_t plate) const;

  /// Margins in words for a plate's figures, for the nominal observer of a grid point.
  const std::string& margins(std::size_t point, std::size_t plate) const {
    return margins_[point * plates() + plate];
  }

 private:
  std::vector<SlotReading> slots(std::size_t point, std::size_t individual,
                                 std::size_t plate) const;

  std::vector<GridPoint> grid_;
  std::size_t individuals_ = 0;
  std::size_t symbols_ = 0;
  std::vector<std::size_t> slots_of_, first_slot_;  ///< Per plate.
  std::vector<std::vector<std::size_t>> drawn_;     ///< Per plate: symbol index per figure.
  std::size_t all_slots_ = 0;
  std::vector<float> values_;         ///< point x individual x slot x (symbols + nothing)
  std::vector<std::string> margins_;  ///< point x plate
};

}  // namespace copunctal
