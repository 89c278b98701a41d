#include "copunctal/plate/draw.h"

#include <algorithm>
#include <array>
#include <cmath>

#include "copunctal/base/expects.h"
#include "copunctal/plate/gate_path.h"
#include "copunctal/plate/mosaic.h"

namespace copunctal {
namespace {

// A picture's channels of 8 or 16 bits: how a plate's codes and light become them.
struct Shallow {
  using Canvas = Picture;
  static Code of_code(const Code& code) { return code; }
  static Code of_light(const LinearRgb& colour, const CodeLight& light) {
    return light.code(clipped(colour));
  }
};
struct Deep {
  using Canvas = DeepPicture;
  using Codes = std::array<std::uint16_t, 3>;
  // 255 becomes 65535, so that a reader who drops the lower byte has the plate's own code.
  static Codes of_code(const Code& code) {
    const auto wide = [](std::uint8_t c) { return static_cast<std::uint16_t>(257 * c); };
    return {wide(code[0]), wide(code[1]), wide(code[2])};
  }
  static Codes of_light(const LinearRgb& colour, const CodeLight& light) {
    const EncodedRgb encoded = light.encoded(clipped(colour));
    const auto wide = [](double v) { return static_cast<std::uint16_t>(std::lround(65535 * v)); };
    return {wide(encoded.r), wide(encoded.g), wide(encoded.b)};
  }
};

template <class Canvas, class Codes>
void put(Canvas& picture, int x, int y, const Codes& codes) {
  const std::size_t at =
      3 * (static_cast<std::size_t>(y) * static_cast<std::size_t>(picture.width) +
           static_cast<std::size_t>(x));
  std::copy(codes.begin(), codes.end(), picture.rgb.begin() + static_cast<std::ptrdiff_t>(at));
}

// The marks of entrance and gates in the margin: dark on any gap, so that everybody sees them.
template <class Depth>
void draw_gate_marks(typename Depth::Canvas& picture, const Code& gap_code,
                     const CodeLight& light) {
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
      put(picture, x, y, Depth::of_light(share * ink + (1 - share) * gap, light));
    }
}

template <class Depth>
typename Depth::Canvas painted(const std::vector<Pebble>& pebbles, const std::vector<Code>& codes,
                               const Code& gap_code, int size_px, const CodeLight& light) {
  expects(size_px > 0 && codes.size() == pebbles.size());
  typename Depth::Canvas picture(size_px, size_px);
  const auto empty = Depth::of_code(gap_code);
  for (std::size_t i = 0; i < picture.rgb.size(); ++i) picture.rgb[i] = empty[i % 3];
  const double field_px = size_px * (1 - 2 * field_margin), offset = size_px * field_margin;
  const LinearRgb gap = light.linear(gap_code);

  for (std::size_t i = 0; i < pebbles.size(); ++i) {
    const Pebble& pebble = pebbles[i];
    const LinearRgb own = light.linear(codes[i]);
    const auto whole = Depth::of_code(codes[i]);
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
        put(picture, x, y,
            share >= 1 ? whole : Depth::of_light(share * own + (1 - share) * gap, light));
      }
  }
  return picture;
}

template <class Depth>
typename Depth::Canvas drawn(const Plate& plate, int size_px, const CodeLight& light) {
  expects(size_px > 0 && !plate.codes.empty());
  const Mosaic mosaic = mosaic_of(plate);
  auto picture =
      painted<Depth>(mosaic.pebbles, pebble_codes(plate, mosaic), plate.gap, size_px, light);
  if (has_gates(plate)) draw_gate_marks<Depth>(picture, plate.gap, light);
  return picture;
}

}  // namespace

std::vector<Code> pebble_codes(const Plate& plate, const Mosaic& mosaic) {
  const Assignment assignment =
      assign(mosaic, plate.figures, plate.seed, plate.codes.front().size());
  std::vector<Code> codes;
  for (std::size_t i = 0; i < mosaic.pebbles.size(); ++i)
    codes.push_back(plate.codes[assignment.part[i]][assignment.level[i]]);
  return codes;
}

bool has_gates(const Plate& plate) {
  return std::any_of(plate.figures.begin(), plate.figures.end(), [](const Figure& figure) {
    return family_of(figure.symbol) == SymbolFamily::paths;
  });
}

Picture draw(const Plate& plate, int size_px, const CodeLight& light) {
  return drawn<Shallow>(plate, size_px, light);
}

DeepPicture draw_deep(const Plate& plate, int size_px, const CodeLight& light) {
  return drawn<Deep>(plate, size_px, light);
}

Picture paint(const std::vector<Pebble>& pebbles, const std::vector<Code>& codes,
              const Code& gap_code, int size_px, const CodeLight& light) {
  return painted<Shallow>(pebbles, codes, gap_code, size_px, light);
}

}  // namespace copunctal
