#include "copunctal/design/optimise.h"

#include <algorithm>
#include <cmath>

#include <nlopt.hpp>

#include "copunctal/base/expects.h"

namespace copunctal {
namespace {

constexpr double saturation = 4;   // margins beyond this buy nothing
constexpr double softness = 0.25;  // of the minimum over wishes, SD
constexpr int evaluations = 900;

// Search coordinates: ground q, v; then q, v, ln Y of each figure.
std::vector<double> coordinates_of(const Recipe& recipe) {
  std::vector<double> x = {recipe.ground.q, recipe.ground.v};
  for (const ConeColour& figure : recipe.figures)
    x.insert(x.end(), {figure.q, figure.v, figure.ln_y});
  return x;
}

Recipe recipe_at(const std::vector<double>& x, const Recipe& start, bool free_ground) {
  Recipe recipe = start;
  if (free_ground) {
    recipe.ground.q = x[0];
    recipe.ground.v = x[1];
  }
  for (std::size_t f = 0; f < recipe.figures.size(); ++f)
    recipe.figures[f] = {x[2 + 3 * f], x[3 + 3 * f], x[4 + 3 * f]};
  return recipe;
}

std::vector<LinearRgb> as_shown(const std::vector<std::vector<Code>>& codes,
                                const CodeLight& light) {
  std::vector<LinearRgb> colours;
  for (const auto& part : codes)
    for (const Code& code : part) colours.push_back(light.linear(code));
  return colours;
}

}  // namespace

double margin_of(const PlateReader& reader, const Wish& wish,
                 const std::vector<std::size_t>& drawn) {
  std::vector<double> margins;
  for (const Eye& eye : wish.observers->eyes) {
    const SlotEvidence slot = reader.evidence(eye)[wish.figure];
    const std::size_t symbol = drawn[wish.figure];
    if (!wish.read) {
      margins.push_back(slot.needed - slot.strength(slot.best()));
      continue;
    }
    // Read means: above what is needed, and above every other symbol by as much as matters.
    double rival = 0;
    for (std::size_t k = 0; k < slot.match.size(); ++k)
      if (k != symbol) rival = std::max(rival, slot.strength(k));
    margins.push_back(std::min(slot.strength(symbol) - slot.needed, slot.strength(symbol) - rival));
  }
  const auto at = static_cast<std::ptrdiff_t>(0.05 * static_cast<double>(margins.size()));
  std::nth_element(margins.begin(), margins.begin() + at, margins.end());
  return margins[static_cast<std::size_t>(at)];
}

Result<Design> optimise(const DesignTask& task, const Eye& nominal) {
  expects(!task.starts.empty() && !task.wishes.empty());
  PlateReader reader = *task.reader;
  Design best;
  best.worst_margin = -1e9;
  double best_value = -1e9;

  for (const Recipe& start : task.starts) {
    const auto value_at = [&](const std::vector<double>& x) {
      const Recipe recipe = recipe_at(x, start, task.free_ground);
      const std::vector<LinearRgb> wanted = colours_of(recipe, nominal);
      const double excess = out_of_gamut(wanted);
      if (excess > 0) return -10 - 20 * excess;
      const auto codes = codes_of(wanted, task.lights->front());
      double worst = 1e9, sum = 0;
      for (std::size_t display = 0; display < task.lights->size(); ++display) {
        const bool is_asked =
            std::any_of(task.wishes.begin(), task.wishes.end(),
                        [&](const Wish& wish) { return wish.observers->display == display; });
        if (!is_asked) continue;
        reader.set_colours(as_shown(*codes, (*task.lights)[display]));
        for (const Wish& wish : task.wishes) {
          if (wish.observers->display != display) continue;
          const double margin = margin_of(reader, wish, task.drawn);
          worst = std::min(worst, margin);
          sum += std::exp(-saturation * std::tanh(margin / saturation) / softness);
        }
      }
      const double value = -softness * std::log(sum / static_cast<double>(task.wishes.size()));
      if (value > best_value) {
        best_value = value;
        best = {recipe, *codes, worst};
      }
      return value;
    };

    std::vector<double> x = coordinates_of(start);
    nlopt::opt search(nlopt::LN_NELDERMEAD, static_cast<unsigned>(x.size()));
    using Target = decltype(value_at);
    search.set_max_objective([](const std::vector<double>& at, std::vector<double>&,
                                void* data) { return (*static_cast<const Target*>(data))(at); },
                             const_cast<void*>(static_cast<const void*>(&value_at)));
    std::vector<double> step = {0.03, 0.15};
    for (std::size_t f = 0; f < start.figures.size(); ++f)
      step.insert(step.end(), {0.03, 0.06, 0.03});
    search.set_initial_step(step);
    search.set_maxeval(evaluations);
    try {
      double reached = 0;
      search.optimize(x, reached);
    } catch (const std::exception&) {
      // Rounding trouble late in a search: the best point so far stands.
    }
  }
  if (best.codes.empty())
    return fail(Error::Kind::unsupported, "no start of the design lies within the display's range",
                "plate", "", "use a display with a wider range or another ground colour");
  return best;
}

}  // namespace copunctal
