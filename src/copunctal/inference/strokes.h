// A drawn stroke against the path it was to follow.
//
// Whoever traces a path leaves points with times. How far the stroke strays, how much of the path
// it covers and which of several paths it followed are computed from its course alone, resampled by
// length, so that neither speed nor the device's rate of reports matters
// (docs/science/inference.md).
#pragma once

#include <cstddef>
#include <optional>
#include <vector>

#include "copunctal/plate/glyph.h"

namespace copunctal {

/// One reported point: any unit of length (the same for path and width), time in ms.
struct StrokePoint {
  Point at;
  double ms = 0;
};
/// Pen down to pen up. A trace is one or more of them.
using Stroke = std::vector<StrokePoint>;

/// What a trace did along one path.
struct StrokeScore {
  /// Distances of the trace from the path.
  double mean = 0, root_mean_square = 0, p95 = 0, largest = 0;
  double off_path = 0;  ///< Share of the trace's length farther than the half-width from the path.
  double completeness = 0;  ///< Share of the path's length within the half-width of the trace.
  double hausdorff = 0;     ///< Largest distance of the path from the trace.
  double length_ratio = 0;  ///< Trace over path.
  std::size_t pen_lifts = 0;
  double total_ms = 0;  ///< From the first point to the last.
};

/// `path`: corners of a polyline; `step`: how finely both are resampled. Nothing for a trace
/// without two different points. expects a path of some length, half_width > 0 and step > 0.
std::optional<StrokeScore> scored(const std::vector<Stroke>& trace, const std::vector<Point>& path,
                                  double half_width, double step);

/// Whether a path was followed: `wholly` with completeness of .9 and at most .1 off it, `partly`
/// with completeness of .5 and more, else not.
enum class Followed { wholly, partly, not_followed };
Followed followed(const StrokeScore& score);

/// The path a trace followed wholly, of several that may share a stretch: the one with the least
/// mean deviation among them; nothing if there is none.
std::optional<std::size_t> path_followed(const std::vector<Stroke>& trace,
                                         const std::vector<std::vector<Point>>& paths,
                                         double half_width, double step);

}  // namespace copunctal
