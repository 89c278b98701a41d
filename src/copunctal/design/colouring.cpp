#include "copunctal/design/colouring.h"

#include <algorithm>
#include <cmath>

namespace copunctal {

LinearRgb linear_rgb_of(const ConeColour& c, const Eye& nominal,
                        const LinearMap<ConeExcitation, LinearRgb>& rgb_from_lms) {
  const double y = std::exp(c.ln_y), ratio = std::exp(c.q), w = nominal.l_weight;
  const double m = y / (w * ratio + 1 - w);
  return rgb_from_lms({ratio * m, m, y * std::exp(c.v)});
}

std::vector<LinearRgb> colours_of(const Recipe& recipe, const Eye& nominal) {
  const auto rgb_from_lms = inverse(nominal.lms);
  std::vector<LinearRgb> colours;
  for (std::size_t part = 0; part <= recipe.figures.size(); ++part) {
    const ConeColour centre = part == 0 ? recipe.ground : recipe.ground + recipe.figures[part - 1];
    const LinearRgb middle = linear_rgb_of(centre, nominal, rgb_from_lms);
    for (std::size_t level = 0; level < noise_levels; ++level) {
      // Evenly spaced in ln Y over plus or minus `noise`.
      const double step = (2 * static_cast<double>(level) + 1) / noise_levels - 1;
      colours.push_back(std::exp(recipe.noise * step) * middle);
    }
  }
  return colours;
}

double out_of_gamut(const std::vector<LinearRgb>& colours) {
  double excess = 0;
  for (const LinearRgb& c : colours)
    for (const double v : {c.r, c.g, c.b}) excess += std::max(0.0, -v) + std::max(0.0, v - 1);
  return excess;
}

std::optional<std::vector<std::vector<Code>>> codes_of(const std::vector<LinearRgb>& colours,
                                                       const CodeLight& light) {
  if (out_of_gamut(colours) > 0) return {};
  std::vector<std::vector<Code>> codes(colours.size() / noise_levels);
  for (std::size_t i = 0; i < colours.size(); ++i)
    codes[i / noise_levels].push_back(light.code(colours[i]));
  return codes;
}

}  // namespace copunctal
