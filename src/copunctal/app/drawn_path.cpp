#include "copunctal/app/drawn_path.h"

#include <algorithm>

#include "copunctal/inference/strokes.h"
#include "copunctal/plate/gate_path.h"
#include "copunctal/plate/mosaic.h"

namespace copunctal {

std::optional<DrawnScore> score_drawn(const Plate& plate, const std::vector<DrawnStroke>& strokes) {
  const std::vector<std::string>& gates = gate_symbols();
  if (plate.figures.empty() ||
      std::find(gates.begin(), gates.end(), plate.figures.front().symbol) == gates.end())
    return std::nullopt;
  std::vector<Stroke> trace;
  for (const DrawnStroke& stroke : strokes) {
    Stroke& drawn = trace.emplace_back();
    drawn.reserve(stroke.size());
    for (const auto& [x, y, ms] : stroke)
      drawn.push_back({{(x - field_margin) / (1 - 2 * field_margin),
                        (y - field_margin) / (1 - 2 * field_margin)},
                       ms});
  }
  const std::size_t shape = path_shape_of(plate.seed);
  std::vector<std::vector<Point>> ways;
  for (const std::string& gate : gates) ways.push_back(way_to(gate, shape));
  const auto intended = static_cast<std::size_t>(
      std::find(gates.begin(), gates.end(), plate.figures.front().symbol) - gates.begin());
  constexpr double half_width = path_width / 2, step = 0.0025;
  const auto score = scored(trace, ways[intended], half_width, step);
  if (!score) return std::nullopt;
  DrawnScore drawn{.followed = "",
                   .how = "",
                   .mean = score->mean,
                   .p95 = score->p95,
                   .largest = score->largest,
                   .off_path = score->off_path,
                   .completeness = score->completeness,
                   .length_ratio = score->length_ratio,
                   .pen_lifts = score->pen_lifts,
                   .first_ms = trace.front().front().ms,
                   .total_ms = score->total_ms};
  if (const auto way = path_followed(trace, ways, half_width, step)) drawn.followed = gates[*way];
  switch (followed(*score)) {
    case Followed::wholly:
      drawn.how = "followed";
      break;
    case Followed::partly:
      drawn.how = "followed in part";
      break;
    case Followed::not_followed:
      drawn.how = "not followed";
      break;
  }
  return drawn;
}

}  // namespace copunctal
