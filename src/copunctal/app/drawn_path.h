// What was drawn over a gate path's plate, against the way that was drawn on it.
#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <vector>

#include "copunctal/design/plate_set.h"
#include "copunctal/store/records.h"

namespace copunctal {

/// Lengths in units of the field's side (docs/science/inference.md).
struct DrawnScore {
  std::string followed;  ///< The gate whose way was followed wholly; empty for none.
  std::string how;       ///< The drawn way: "followed", "followed in part" or "not followed".
  double mean = 0, p95 = 0, largest = 0, off_path = 0, completeness = 0, length_ratio = 0;
  std::size_t pen_lifts = 0;
  double first_ms = 0, total_ms = 0;  ///< To the first point; from the first to the last.
};

/// Nothing for a plate without a path, or where nothing was drawn. Points 0 to 1 of the picture.
std::optional<DrawnScore> score_drawn(const Plate& plate, const std::vector<DrawnStroke>& strokes);

}  // namespace copunctal
