// SVG figures for slides: axes, lines told apart by dash and letter, words. No hue carries meaning.
#pragma once

#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace copunctal {

/// How a line is told from others without colour.
enum class Stroke { solid, dashed, dotted, thin, faint, heavy };
enum class Marker { circle, square, triangle, cross };

/// A point in the units of a chart's axes.
using ChartPoint = std::pair<double, double>;

/// One chart of a figure: a rectangle on the page with linear axes.
class Chart {
 public:
  Chart(double left, double top, double width, double height, double x_low, double x_high,
        double y_low, double y_high);

  /// Frame, ticks at multiples of the steps (none on y for step 0), axis names and a heading.
  void axes(double x_step, double y_step, std::string_view x_name, std::string_view y_name,
            std::string_view heading);
  /// A line through the points; parts outside the axes are cut off.
  void line(const std::vector<ChartPoint>& points, Stroke stroke, bool closed = false);
  void marker(ChartPoint at, Marker marker, double size = 4);
  /// Words beside a point, moved by (dx, dy) on the page.
  void label(ChartPoint at, std::string_view text, double dx = 6, double dy = 4,
             bool strong = false);
  /// A filled bar between two x at a height of the y axis, `thick` on the page.
  void bar(double x_low, double x_high, double y, double thick);

  const std::string& svg() const { return svg_; }

 private:
  double px(double x) const { return left_ + (x - x_low_) / (x_high_ - x_low_) * width_; }
  double py(double y) const { return top_ + height_ - (y - y_low_) / (y_high_ - y_low_) * height_; }

  double left_, top_, width_, height_, x_low_, x_high_, y_low_, y_high_;
  std::string clip_;
  std::string svg_;
};

/// A whole figure: charts, then lines of words below, on white. `title` and `description` are for
/// those who listen to it.
std::string figure_svg(int width, int height, std::string_view title, std::string_view description,
                       const std::vector<Chart>& charts, const std::vector<std::string>& words,
                       double words_top);

}  // namespace copunctal
