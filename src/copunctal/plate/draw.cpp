#include "copunctal/plate/draw.h"

#include <algorithm>
#include <cmath>

#include "copunctal/base/expects.h"
#include "copunctal/plate/gate_path.h"
#include "copunctal/plate/mosaic.h"

namespace copunctal {
namespace {

// The marks of entrance and gates in the margin: dark on any gap, so that everybody sees them.
void draw_gate_marks(Picture& picture, const Code& gap_code, const CodeLight& light) {
  constexpr Code ink_code = {16, 16, 16};
  constexpr int samples = 4;  // per side of a pixel
  const int size_px = picture.width;
  const double field_px = size_px * (1 - 2 * field_margin), offset = size_px * field_margin;
  const LinearRgb ink = light.linear(ink_code), gap = light.linear(gap_code);
  const auto in_field = [&](int pixel) { return pixel >= offset && pixel < size_px - offset; };
  for (int y = 0; y < size_px; ++y)
    for (int x = 0; x < size_px; ++x) {
      if (in_field(x) && in_field(y)) continue;
      int inked = 0;
      for (int j = 0; j < samples; ++j)
        for (int i = 0; i < samples; ++i)
          inked += on_gate_mark({(x + (i + 0.5) / samples - offset) / field_px,
                                 (y + (j + 0.5) / samples - offset) / field_px});
      if (inked == 0) continue;
      const double share = static_cast<double>(inked) / (samples * samples);
      const LinearRgb mixed = share * ink + (1 - share) * gap;
      std::uint8_t* at =
          &picture.rgb[3 * (static_cast<std::size_t>(y) * static_cast<std::size_t>(size_px) +
                            static_cast<std::size_t>(x))];
      const Code code = light.code(clipped(mixed));
      std::copy(code.begin(), code.end(), at);
    }
}

}  // namespace

Picture draw(const Plate& plate, int size_px, const CodeLight& light) {
  expects(size_px > 0 && !plate.codes.empty());
  const Mosaic mosaic = mosaic_of(plate.seed);
  const Assignment assignment =
      assign(mosaic, plate.figures, plate.seed, plate.codes.front().size());

  std::vector<Code> codes;
  for (std::size_t i = 0; i < mosaic.pebbles.size(); ++i)
    codes.push_back(plate.codes[assignment.part[i]][assignment.level[i]]);
  Picture picture = paint(mosaic.pebbles, codes, plate.gap, size_px, light);
  const bool has_gates = std::any_of(
      plate.figures.begin(), plate.figures.end(),
      [](const Figure& figure) { return family_of(figure.symbol) == SymbolFamily::paths; });
  if (has_gates) draw_gate_marks(picture, plate.gap, light);
  return picture;
}

Picture paint(const std::vector<Pebble>& pebbles, const std::vector<Code>& codes,
              const Code& gap_code, int size_px, const CodeLight& light) {
  expects(size_px > 0 && codes.size() == pebbles.size());
  Picture picture(size_px, size_px);
  for (std::size_t i = 0; i < picture.rgb.size(); ++i) picture.rgb[i] = gap_code[i % 3];
  const double field_px = size_px * (1 - 2 * field_margin), offset = size_px * field_margin;
  const LinearRgb gap = light.linear(gap_code);

  for (std::size_t i = 0; i < pebbles.size(); ++i) {
    const Pebble& pebble = pebbles[i];
    const Code code = codes[i];
    const LinearRgb own = light.linear(code);
    const auto pixel = [&](double v) { return static_cast<int>(offset + v * field_px); };
    const Box box = bounds_of(pebble);
    const int x0 = std::max(0, pixel(box.left) - 1),
              x1 = std::min(size_px - 1, pixel(box.right) + 1),
              y0 = std::max(0, pixel(box.top) - 1),
              y1 = std::min(size_px - 1, pixel(box.bottom) + 1);
    for (int y = y0; y <= y1; ++y)
      for (int x = x0; x <= x1; ++x) {
        const Point p{(x + 0.5 - offset) / field_px, (y + 0.5 - offset) / field_px};
        const double share = std::clamp(0.5 - distance_outside(pebble, p) * field_px, 0.0, 1.0);
        if (share <= 0) continue;
        std::uint8_t* at =
            &picture.rgb[3 * (static_cast<std::size_t>(y) * static_cast<std::size_t>(size_px) +
                              static_cast<std::size_t>(x))];
        if (share >= 1) {
          std::copy(code.begin(), code.end(), at);
        } else {
          const LinearRgb mixed = clipped(share * own + (1 - share) * gap);
          const Code between = light.code(mixed);
          std::copy(between.begin(), between.end(), at);
        }
      }
  }
  return picture;
}

}  // namespace copunctal
