#include "copunctal/inference/strokes.h"

#include <algorithm>
#include <cmath>

#include "copunctal/base/expects.h"

namespace copunctal {
namespace {

double distance(Point a, Point b) {
  return std::hypot(a.x - b.x, a.y - b.y);
}

double length_of(const std::vector<Point>& line) {
  double length = 0;
  for (std::size_t i = 1; i < line.size(); ++i) length += distance(line[i - 1], line[i]);
  return length;
}

// Evenly by length, both ends included.
std::vector<Point> resampled(const std::vector<Point>& line, double step) {
  const double length = length_of(line);
  const auto pieces = std::max<std::size_t>(1, static_cast<std::size_t>(std::ceil(length / step)));
  const double each = length / static_cast<double>(pieces);
  std::vector<Point> points = {line.front()};
  double walked = 0;
  for (std::size_t i = 1; i < line.size(); ++i) {
    const Point a = line[i - 1], b = line[i];
    const double piece = distance(a, b);
    if (piece == 0) continue;
    for (double next = static_cast<double>(points.size()) * each;
         points.size() < pieces && next <= walked + piece;
         next = static_cast<double>(points.size()) * each) {
      const double t = (next - walked) / piece;
      points.push_back({a.x + t * (b.x - a.x), a.y + t * (b.y - a.y)});
    }
    walked += piece;
  }
  points.push_back(line.back());
  return points;
}

double distance_to(const std::vector<Point>& line, Point p) {
  double nearest = distance(line.front(), p);
  for (std::size_t i = 1; i < line.size(); ++i) {
    const Point a = line[i - 1], b = line[i];
    const double dx = b.x - a.x, dy = b.y - a.y, squared = dx * dx + dy * dy;
    if (squared == 0) continue;
    const double t = std::clamp(((p.x - a.x) * dx + (p.y - a.y) * dy) / squared, 0.0, 1.0);
    nearest = std::min(nearest, distance({a.x + t * dx, a.y + t * dy}, p));
  }
  return nearest;
}

std::vector<Point> course_of(const Stroke& stroke) {
  std::vector<Point> course;
  for (const StrokePoint& one : stroke) course.push_back(one.at);
  return course;
}

}  // namespace

std::optional<StrokeScore> scored(const std::vector<Stroke>& trace, const std::vector<Point>& path,
                                  double half_width, double step) {
  expects(path.size() >= 2 && length_of(path) > 0 && half_width > 0 && step > 0);
  std::vector<std::vector<Point>> courses;
  std::vector<Point> drawn;
  double drawn_length = 0;
  for (const Stroke& stroke : trace) {
    if (stroke.empty()) continue;
    courses.push_back(course_of(stroke));
    const double length = length_of(courses.back());
    if (length == 0) continue;
    drawn_length += length;
    const std::vector<Point> points = resampled(courses.back(), step);
    drawn.insert(drawn.end(), points.begin(), points.end());
  }
  if (drawn.empty()) return {};

  StrokeScore score;
  std::vector<double> off;
  double squares = 0;
  std::size_t outside = 0;
  for (const Point p : drawn) {
    off.push_back(distance_to(path, p));
    score.mean += off.back() / static_cast<double>(drawn.size());
    squares += off.back() * off.back();
    outside += off.back() > half_width ? 1U : 0U;
  }
  score.root_mean_square = std::sqrt(squares / static_cast<double>(off.size()));
  std::sort(off.begin(), off.end());
  score.p95 = off[static_cast<std::size_t>(std::ceil(0.95 * static_cast<double>(off.size()))) - 1];
  score.largest = off.back();
  score.off_path = static_cast<double>(outside) / static_cast<double>(off.size());

  const std::vector<Point> target = resampled(path, step);
  std::size_t covered = 0;
  for (const Point p : target) {
    double nearest = distance_to(courses.front(), p);
    for (const std::vector<Point>& course : courses)
      nearest = std::min(nearest, distance_to(course, p));
    covered += nearest <= half_width ? 1U : 0U;
    score.hausdorff = std::max(score.hausdorff, nearest);
  }
  score.completeness = static_cast<double>(covered) / static_cast<double>(target.size());
  score.length_ratio = drawn_length / length_of(path);
  score.pen_lifts = courses.size() - 1;
  double first = 0, last = 0;
  bool any = false;
  for (const Stroke& stroke : trace)
    for (const StrokePoint& one : stroke) {
      first = any ? std::min(first, one.ms) : one.ms;
      last = any ? std::max(last, one.ms) : one.ms;
      any = true;
    }
  score.total_ms = last - first;
  return score;
}

Followed followed(const StrokeScore& score) {
  constexpr double complete = 0.9, strayed = 0.1, half = 0.5;
  if (score.completeness >= complete && score.off_path <= strayed) return Followed::wholly;
  return score.completeness >= half ? Followed::partly : Followed::not_followed;
}

std::optional<std::size_t> path_followed(const std::vector<Stroke>& trace,
                                         const std::vector<std::vector<Point>>& paths,
                                         double half_width, double step) {
  std::optional<std::size_t> best;
  double least = 0;
  for (std::size_t p = 0; p < paths.size(); ++p) {
    const auto score = scored(trace, paths[p], half_width, step);
    if (!score || followed(*score) != Followed::wholly) continue;
    if (best && score->mean >= least) continue;
    best = p;
    least = score->mean;
  }
  return best;
}

}  // namespace copunctal
