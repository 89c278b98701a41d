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
  const std::size_t levels = levels_of(recipe), hues = recipe.q_noise > 0 ? 4 : 1,
                    lights = levels / hues;
  // Evenly spaced from -1 to 1, half a step inside.
  const auto step = [](std::size_t i, std::size_t of) {
    return (2 * static_cast<double>(i) + 1) / static_cast<double>(of) - 1;
  };
  const std::size_t parts = recipe.superimposed ? 4 : 1 + recipe.figures.size();
  for (std::size_t part = 0; part < parts; ++part) {
    ConeColour centre = recipe.ground;
    for (std::size_t f = 0; f < recipe.figures.size(); ++f)
      if (part == 1 + f || part == 3) centre = centre + recipe.figures[f];
    for (std::size_t level = 0; level < levels; ++level) {
      ConeColour own = centre;
      if (hues > 1) own.q += recipe.q_noise * step(level % hues, hues);
      const LinearRgb middle = linear_rgb_of(own, nominal, rgb_from_lms);
      colours.push_back(std::exp(recipe.noise * step(level / hues, lights)) * middle);
    }
  }
  return colours;
}

Recipe with_contrast(Recipe recipe, std::size_t figure, double factor) {
  ConeColour& c = recipe.figures[figure];
  c = {factor * c.q, factor * c.v, factor * c.ln_y};
  return recipe;
}

Recipe rung_of(const Recipe& balanced, double balance) {
  Recipe rung = balanced;
  for (std::size_t f = 0; f < rung.figures.size(); ++f)
    rung = with_contrast(std::move(rung), f, std::exp(f == 0 ? balance / 2 : -balance / 2));
  return rung;
}

double out_of_gamut(const std::vector<LinearRgb>& colours) {
  double excess = 0;
  for (const LinearRgb& c : colours)
    for (const double v : {c.r, c.g, c.b}) excess += std::max(0.0, -v) + std::max(0.0, v - 1);
  return excess;
}

std::optional<std::vector<std::vector<Code>>> codes_of(const std::vector<LinearRgb>& colours,
                                                       std::size_t levels, const CodeLight& light) {
  if (out_of_gamut(colours) > 0) return {};
  std::vector<std::vector<Code>> codes(colours.size() / levels);
  for (std::size_t i = 0; i < colours.size(); ++i)
    codes[i / levels].push_back(light.code(colours[i]));
  return codes;
}

}  // namespace copunctal
