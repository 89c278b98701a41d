#include "copunctal/design/optimise.h"

#include <algorithm>
#include <cmath>
#include <functional>

#include <nlopt.hpp>

#include "copunctal/base/expects.h"
#include "copunctal/design/cma_es.h"

namespace copunctal {
namespace {

constexpr double saturation = 4;   // margins beyond this buy nothing
constexpr double softness = 0.25;  // of the minimum over wishes, SD
// `clearer` margins: SD for each unit of ln(ratio of evidence).
constexpr double clearer_scale = 3;
constexpr int wide_evaluations = 600, fine_evaluations = 300;

// Search coordinates: ground q, v; then q, v, ln Y of each figure; then the noise in q, where there
// is some. Those that may not move are left out.
class Coordinates {
 public:
  Coordinates(const Recipe& start, const DesignTask& task) : start_(start) {
    if (task.free_ground) {
      add(&Recipe::ground, &ConeColour::q, 0.03);
      add(&Recipe::ground, &ConeColour::v, 0.15);
    }
    for (std::size_t f = 0; f < start.figures.size(); ++f) {
      add(f, &ConeColour::q, 0.03);
      add(f, &ConeColour::v, 0.06);
      if (task.free_luminance.empty() || task.free_luminance[f]) add(f, &ConeColour::ln_y, 0.03);
    }
    if (start.q_noise > 0) add([](Recipe& r) -> double& { return r.q_noise; }, 0.03);
  }
  std::vector<double> start() const {
    std::vector<double> x;
    Recipe recipe = start_;
    for (const auto& one : places_) x.push_back(one(recipe));
    return x;
  }
  const std::vector<double>& steps() const { return steps_; }
  Recipe at(const std::vector<double>& x) const {
    Recipe recipe = start_;
    for (std::size_t i = 0; i < places_.size(); ++i) places_[i](recipe) = x[i];
    if (start_.q_noise > 0) recipe.q_noise = std::max(1e-3, std::abs(recipe.q_noise));
    return recipe;
  }

 private:
  using Number = std::function<double&(Recipe&)>;
  void add(Number number, double step) {
    places_.push_back(std::move(number));
    steps_.push_back(step);
  }
  void add(ConeColour Recipe::*colour, double ConeColour::*axis, double step) {
    add([=](Recipe& r) -> double& { return r.*colour.*axis; }, step);
  }
  void add(std::size_t figure, double ConeColour::*axis, double step) {
    add([=](Recipe& r) -> double& { return r.figures[figure].*axis; }, step);
  }
  Recipe start_;
  std::vector<Number> places_;
  std::vector<double> steps_;
};

// What a figure has of its own in the slot where it stands.
double own_strength(const PlateReader& reader, const std::vector<SlotEvidence>& evidence,
                    const std::vector<std::size_t>& drawn, std::size_t figure) {
  if (evidence.size() == 1 && drawn.size() == 2)
    return reader.own_strength(evidence[0], 0, drawn[figure], drawn[1 - figure]);
  return evidence[figure].strength(drawn[figure]);
}

double margin_for(const PlateReader& reader, const Wish& wish,
                  const std::vector<std::size_t>& drawn,
                  const std::vector<SlotEvidence>& evidence) {
  const SlotEvidence& slot = evidence[std::min(wish.figure, evidence.size() - 1)];
  const std::size_t symbol = drawn[wish.figure];
  switch (wish.want) {
    case Want::not_read:
      return slot.needed - slot.strength(slot.best());
    case Want::clearer: {
      const double own = own_strength(reader, evidence, drawn, wish.figure),
                   other = own_strength(reader, evidence, drawn, 1 - wish.figure);
      return std::min(clearer_scale * std::log(std::max(own, 0.1) / std::max(other, 0.1)),
                      own - slot.needed);
    }
    case Want::read:
      break;
  }
  // Read means: above what is needed, and above every other symbol by as much as matters.
  double rival = 0;
  for (std::size_t k = 0; k < slot.match.size(); ++k)
    if (k != symbol) rival = std::max(rival, slot.strength(k));
  return std::min(slot.strength(symbol) - slot.needed, slot.strength(symbol) - rival);
}

// The value that 5 in 100 do not reach.
double fifth_percentile(std::vector<double> margins) {
  const auto at = static_cast<std::ptrdiff_t>(0.05 * static_cast<double>(margins.size()));
  std::nth_element(margins.begin(), margins.begin() + at, margins.end());
  return margins[static_cast<std::size_t>(at)];
}

// Wishes of the same eyes, so that each eye looks once.
struct Audience {
  const EyeClass* observers = nullptr;
  std::vector<Wish> wishes;
};
std::vector<std::vector<Audience>> audiences_by_display(const DesignTask& task) {
  std::vector<std::vector<Audience>> result(task.lights->size());
  for (const Wish& wish : task.wishes) {
    auto& here = result[wish.observers->display];
    auto known = std::find_if(here.begin(), here.end(),
                              [&](const Audience& one) { return one.observers == wish.observers; });
    if (known == here.end()) known = here.insert(known, {wish.observers, {}});
    known->wishes.push_back(wish);
  }
  return result;
}

// 5th-percentile margins of an audience's wishes at the reader's present colours.
std::vector<double> margins_of(const PlateReader& reader, const Audience& audience,
                               const std::vector<std::size_t>& drawn) {
  std::vector<std::vector<double>> margins(audience.wishes.size());
  for (const Eye& eye : audience.observers->eyes) {
    const std::vector<SlotEvidence> evidence = reader.evidence(eye);
    for (std::size_t w = 0; w < audience.wishes.size(); ++w)
      margins[w].push_back(margin_for(reader, audience.wishes[w], drawn, evidence) -
                           audience.wishes[w].spare);
  }
  std::vector<double> result;
  result.reserve(margins.size());
  for (auto& of_wish : margins) result.push_back(fifth_percentile(std::move(of_wish)));
  return result;
}

}  // namespace

std::vector<LinearRgb> on_loan(const std::vector<LinearRgb>& colours, const Loan& loan,
                               double gain) {
  std::vector<LinearRgb> lent;
  lent.reserve(colours.size());
  for (const LinearRgb& colour : colours) lent.push_back(loan(colour, gain));
  return lent;
}

double excess_of(const std::vector<LinearRgb>& colours, const Loan* loan) {
  return out_of_gamut(colours) + (loan == nullptr ? 0 : out_of_gamut(on_loan(colours, *loan)));
}

Result<Design> optimise(const DesignTask& task, const Eye& nominal) {
  expects(!task.starts.empty() && !task.wishes.empty());
  PlateReader reader = *task.reader;
  const auto audiences = audiences_by_display(task);
  Design best;
  best.worst_margin = -1e9;
  double best_value = -1e9;

  for (std::size_t s = 0; s < task.starts.size(); ++s) {
    const Recipe& start = task.starts[s];
    const Coordinates coordinates(start, task);
    const auto value_at = [&](const std::vector<double>& x) {
      if (task.stop.stop_requested()) throw Stopped();
      const Recipe recipe = coordinates.at(x);
      const std::vector<LinearRgb> wanted = colours_of(recipe, nominal);
      double excess = excess_of(wanted, task.loan);
      if (task.headroom > 0)
        for (const double balance : {task.headroom, -task.headroom})
          excess += excess_of(colours_of(rung_of(recipe, balance), nominal), task.loan);
      if (excess > 0) return -10 - 20 * excess;
      const auto codes = codes_of(wanted, levels_of(recipe), task.lights->front());
      double worst = 1e9, sum = 0;
      for (std::size_t display = 0; display < audiences.size(); ++display) {
        if (audiences[display].empty()) continue;
        reader.set_colours((*task.lights)[display].linear(*codes));
        for (const Audience& audience : audiences[display])
          for (const double margin : margins_of(reader, audience, task.drawn)) {
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

    std::vector<double> x =
        cma_es(coordinates.start(), coordinates.steps(), value_at, wide_evaluations, task.seed + s)
            .at;
    nlopt::opt search(nlopt::LN_NELDERMEAD, static_cast<unsigned>(x.size()));
    using Target = decltype(value_at);
    search.set_max_objective([](const std::vector<double>& at, std::vector<double>&,
                                void* data) { return (*static_cast<const Target*>(data))(at); },
                             const_cast<void*>(static_cast<const void*>(&value_at)));
    std::vector<double> step = coordinates.steps();
    for (double& one : step) one /= 4;
    search.set_initial_step(step);
    search.set_maxeval(fine_evaluations);
    try {
      double reached = 0;
      search.optimize(x, reached);
    } catch (const std::exception&) {
      // Rounding trouble late in a search: the best point so far stands.
    }
    if (task.stop.stop_requested()) throw Stopped();
  }
  if (best.codes.empty())
    return fail(Error::Kind::unsupported, "no start of the design lies within the display's range",
                "plate", "", "use a display with a wider range or another ground colour");
  return best;
}

}  // namespace copunctal
