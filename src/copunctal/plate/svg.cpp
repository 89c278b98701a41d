#include "copunctal/plate/svg.h"

#include <fmt/format.h>

#include "copunctal/base/text.h"
#include "copunctal/plate/draw.h"
#include "copunctal/plate/gate_path.h"

namespace copunctal {

std::string hex_of(const Code& code) {
  return fmt::format("#{:02x}{:02x}{:02x}", code[0], code[1], code[2]);
}

std::string plate_group(const Plate& plate, double left, double top, double side) {
  const Mosaic mosaic = mosaic_of(plate);
  const std::vector<Code> codes = pebble_codes(plate, mosaic);
  const double field = side * (1 - 2 * field_margin), offset = side * field_margin;
  const auto x = [&](double v) { return left + offset + v * field; };
  const auto y = [&](double v) { return top + offset + v * field; };
  std::string svg = fmt::format(
      "<g stroke-linejoin=\"round\">\n"
      "<rect x=\"{:.4f}\" y=\"{:.4f}\" width=\"{:.4f}\" height=\"{:.4f}\" fill=\"{}\"/>\n",
      left, top, side, side, hex_of(plate.gap));
  for (std::size_t i = 0; i < mosaic.pebbles.size(); ++i) {
    const Pebble& pebble = mosaic.pebbles[i];
    std::string points;
    for (const Point& p : pebble.core) points += fmt::format("{:.4f},{:.4f} ", x(p.x), y(p.y));
    // Everything within `rounding` of the core: a round stroke of twice that width.
    svg +=
        fmt::format("<polygon points=\"{}\" fill=\"{}\" stroke=\"{}\" stroke-width=\"{:.4f}\"/>\n",
                    points.substr(0, points.size() - 1), hex_of(codes[i]), hex_of(codes[i]),
                    2 * pebble.rounding * field);
  }
  if (has_gates(plate)) {
    for (const GateMark& mark : gate_marks()) {
      std::string points;
      for (const Point& p : mark.triangle) points += fmt::format("{:.4f},{:.4f} ", x(p.x), y(p.y));
      svg += "<polygon points=\"" + points.substr(0, points.size() - 1) + "\" fill=\"#101010\"/>\n";
      if (mark.digit.empty()) continue;
      svg += fmt::format(
          "<text x=\"{:.4f}\" y=\"{:.4f}\" font-family=\"sans-serif\" font-size=\"{:.4f}\" "
          "text-anchor=\"middle\" fill=\"#101010\">{}</text>\n",
          x(mark.digit_centre.x), y(mark.digit_centre.y + mark.digit_height / 2),
          1.35 * mark.digit_height * field, mark.digit);
    }
  }
  return svg + "</g>\n";
}

std::string plate_svg(const Plate& plate, int side_px, const std::string& title,
                      const std::string& description) {
  return fmt::format(
             "<svg xmlns=\"http://www.w3.org/2000/svg\" role=\"img\" viewBox=\"0 0 {0} {0}\" "
             "width=\"{0}\" height=\"{0}\">\n<title>{1}</title>\n<desc>{2}</desc>\n",
             side_px, xml_text(title), xml_text(description)) +
         plate_group(plate, 0, 0, side_px) + "</svg>\n";
}

}  // namespace copunctal
