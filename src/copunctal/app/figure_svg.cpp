#include "copunctal/app/figure_svg.h"

#include <cmath>

#include "copunctal/base/text.h"

namespace copunctal {
namespace {

std::string at_most_two(double value) {
  return shortest(rounded(value, 2) + 0.0);  // never "-0"
}

// Multiples of a step between two values; none for step 0.
std::vector<double> ticks(double low, double high, double step) {
  std::vector<double> values;
  if (step <= 0) return values;
  const int first = static_cast<int>(std::ceil(low / step - 1e-9)),
            last = static_cast<int>(std::floor(high / step + 1e-9));
  for (int i = first; i <= last; ++i) values.push_back(rounded(i * step, 6) + 0.0);
  return values;
}

std::string attributes_of(Stroke stroke) {
  switch (stroke) {
    case Stroke::solid:
      return R"(stroke="#000" stroke-width="1.8")";
    case Stroke::dashed:
      return R"(stroke="#000" stroke-width="1.8" stroke-dasharray="8 4")";
    case Stroke::dotted:
      return R"(stroke="#000" stroke-width="2" stroke-dasharray="1.5 4" stroke-linecap="round")";
    case Stroke::thin:
      return R"(stroke="#555" stroke-width="0.9")";
    case Stroke::faint:
      return R"(stroke="#999" stroke-width="0.8")";
    case Stroke::heavy:
      return R"(stroke="#000" stroke-width="2.6")";
  }
  return {};
}

}  // namespace

Chart::Chart(double left, double top, double width, double height, double x_low, double x_high,
             double y_low, double y_high)
    : left_(left),
      top_(top),
      width_(width),
      height_(height),
      x_low_(x_low),
      x_high_(x_high),
      y_low_(y_low),
      y_high_(y_high),
      clip_("clip-" + at_most_two(left) + "-" + at_most_two(top)) {
  svg_ = "<clipPath id=\"" + clip_ + "\"><rect x=\"" + at_most_two(left_) + "\" y=\"" +
         at_most_two(top_) + "\" width=\"" + at_most_two(width_) + "\" height=\"" +
         at_most_two(height_) + "\"/></clipPath>\n";
}

void Chart::axes(double x_step, double y_step, std::string_view x_name, std::string_view y_name,
                 std::string_view heading) {
  svg_ += "<rect x=\"" + at_most_two(left_) + "\" y=\"" + at_most_two(top_) + "\" width=\"" +
          at_most_two(width_) + "\" height=\"" + at_most_two(height_) +
          R"(" fill="none" stroke="#000" stroke-width="1"/>)" + "\n";
  const auto text = [&](double x, double y, std::string_view words, const char* anchor,
                        const char* more = "") {
    svg_ += "<text x=\"" + at_most_two(x) + "\" y=\"" + at_most_two(y) + "\" text-anchor=\"" +
            anchor + "\"" + more + ">" + xml_text(words) + "</text>\n";
  };
  for (const double x : ticks(x_low_, x_high_, x_step)) {
    svg_ += "<path d=\"M" + at_most_two(px(x)) + " " + at_most_two(top_ + height_) +
            R"(v5" stroke="#000"/>)" + "\n";
    text(px(x), top_ + height_ + 19, shortest(x), "middle");
  }
  for (const double y : ticks(y_low_, y_high_, y_step)) {
    svg_ += "<path d=\"M" + at_most_two(left_) + " " + at_most_two(py(y)) +
            R"(h-5" stroke="#000"/>)" + "\n";
    text(left_ - 9, py(y) + 4, shortest(y), "end");
  }
  text(left_ + width_ / 2, top_ + height_ + 37, x_name, "middle");
  text(left_, top_ - 26, heading, "start", " font-weight=\"bold\"");
  text(left_, top_ - 8, y_name, "start");
}

void Chart::line(const std::vector<ChartPoint>& points, Stroke stroke, bool closed) {
  std::string path;
  for (const auto& [x, y] : points)
    path += (path.empty() ? "M" : "L") + at_most_two(px(x)) + " " + at_most_two(py(y));
  svg_ += "<path clip-path=\"url(#" + clip_ + ")\" d=\"" + path + (closed ? "Z" : "") +
          R"(" fill="none" stroke-linejoin="round" )" + attributes_of(stroke) + "/>\n";
}

void Chart::marker(ChartPoint at, Marker marker, double size) {
  const double x = px(at.first), y = py(at.second);
  const auto path = [&](const std::string& d, const char* fill) {
    svg_ +=
        "<path d=\"" + d + "\" fill=\"" + fill + R"(" stroke="#000" stroke-width="1.5"/>)" + "\n";
  };
  const std::string s = at_most_two(size), s2 = at_most_two(2 * size);
  const std::string here = at_most_two(x) + " " + at_most_two(y);
  switch (marker) {
    case Marker::circle:
      svg_ += "<circle cx=\"" + at_most_two(x) + "\" cy=\"" + at_most_two(y) + "\" r=\"" + s +
              R"(" fill="#fff" stroke="#000" stroke-width="1.5"/>)" + "\n";
      break;
    case Marker::square:
      path("M" + at_most_two(x - size) + " " + at_most_two(y - size) + "h" + s2 + "v" + s2 + "h-" +
               s2 + "z",
           "#fff");
      break;
    case Marker::triangle:
      path("M" + at_most_two(x) + " " + at_most_two(y - size * 1.2) + "l" +
               at_most_two(size * 1.15) + " " + s2 + "h-" + at_most_two(size * 2.3) + "z",
           "#fff");
      break;
    case Marker::cross:
      path("M" + here + "m-" + s + " -" + s + "l" + s2 + " " + s2 + "m0 -" + s2 + "l-" + s2 + " " +
               s2,
           "none");
      break;
  }
}

void Chart::label(ChartPoint at, std::string_view text, double dx, double dy, bool strong) {
  svg_ += "<text x=\"" + at_most_two(px(at.first) + dx) + "\" y=\"" +
          at_most_two(py(at.second) + dy) + "\" text-anchor=\"" + (dx < 0 ? "end" : "start") +
          "\"" + (strong ? " font-weight=\"bold\"" : "") + ">" + xml_text(text) + "</text>\n";
}

void Chart::bar(double x_low, double x_high, double y, double thick) {
  svg_ += "<rect x=\"" + at_most_two(px(x_low)) + "\" y=\"" + at_most_two(py(y) - thick / 2) +
          "\" width=\"" + at_most_two(std::max(1.0, px(x_high) - px(x_low))) + "\" height=\"" +
          at_most_two(thick) + R"(" fill="#bbb" stroke="#000" stroke-width="1"/>)" + "\n";
}

std::string figure_svg(int width, int height, std::string_view title, std::string_view description,
                       const std::vector<Chart>& charts, const std::vector<std::string>& words,
                       double words_top) {
  std::string svg = R"(<svg xmlns="http://www.w3.org/2000/svg" role="img" viewBox="0 0 )" +
                    std::to_string(width) + " " + std::to_string(height) + "\" width=\"" +
                    std::to_string(width) + R"(" height=")" + std::to_string(height) +
                    R"(" font-family="sans-serif" font-size="13">)" + "\n<title>" +
                    xml_text(title) + "</title>\n<desc>" + xml_text(description) + "</desc>\n" +
                    R"(<rect width="100%" height="100%" fill="#fff"/>)" + "\n";
  for (const Chart& chart : charts) svg += chart.svg();
  double y = words_top;
  for (const std::string& line : words) {
    svg += R"(<text x="24" y=")" + at_most_two(y) + "\">" + xml_text(line) + "</text>\n";
    y += 18;
  }
  return svg + "</svg>\n";
}

}  // namespace copunctal
