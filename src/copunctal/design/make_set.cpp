#include "copunctal/design/make_set.h"

#include <algorithm>
#include <cmath>
#include <mutex>
#include <optional>

#include "copunctal/base/parallel.h"
#include "copunctal/base/text.h"
#include "copunctal/design/lend.h"
#include "copunctal/design/level.h"
#include "copunctal/design/plan.h"
#include "copunctal/design/verdict.h"
#include "copunctal/display/keep_display.h"

namespace copunctal {
namespace {

constexpr std::size_t symbols_in_a_set = 4;

class Maker {
 public:
  Maker(PlateSet set, const Display& display, const MakeOptions& options, std::optional<Lent> lent)
      : set_(std::move(set)),
        lent_(std::move(lent)),
        options_(options),
        sample_(display, set_.seed),
        jury_(display, options.threads),
        leveller_(display),
        light_(display.curves),
        nominal_(nominal_eye(Observer{}, display)),
        plans_(planned(set_, options.plates)),
        errors_(plans_.size()) {}

  Result<PlateSet> made() {
    for (const Plan& plan : plans_)
      for (const Figure& figure : plan.plate.figures)
        COPUNCTAL_TRY_VOID(check_size(figure.symbol, figure.place, set_.cells));
    if (options_.progress) options_.progress(0, plans_.size());
    try {
      if (set_.purpose == "ladder") find_ladder();
      parallel_for(
          plans_.size(), [&](std::size_t i) { make(i); }, options_.threads);
    } catch (const Stopped&) {
      return fail(Error::Kind::stopped, "stopped before the set was made; nothing was kept", "set",
                  "", "start again when there is time");
    }
    for (std::size_t i = 0; i < plans_.size(); ++i) {
      if (errors_[i]) return tl::unexpected(*std::move(errors_[i]));
      set_.plates.push_back(std::move(plans_[i].plate));
    }
    set_.hash = set_hash(set_);
    return std::move(set_);
  }

 private:
  PlateReader reader_of(const Plate& plate) const {
    return PlateReader::of(plate, answer_row(set_, plate));
  }

  // The best of several starts, brought to its kind's level; `number` tells the plates apart.
  Result<Recipe> designed(Plan& plan, const PlateReader& reader, std::size_t number) const {
    plan.task.reader = &reader;
    plan.task.lights = &sample_.lights();
    plan.task.stop = options_.stop;
    plan.task.loan = loan();
    plan.task.drawn = reader.drawn_on(plan.plate);
    // Plates that grade anomalous observers have no margin by which to choose: the one that those
    // it is aimed at read least, at the level of its kind, is taken.
    const bool is_graded =
        plan.plate.kind == PlateKind::vanishing && plan.plate.aim != Aim::dichromat;
    std::optional<Recipe> best;
    double best_merit = 0;
    std::optional<Error> error;
    constexpr std::uint32_t attempts = 5;
    for (std::uint32_t attempt = 1; attempt <= attempts; ++attempt) {
      plan_colours(plan, sample_,
                   RandomStream(set_.seed, 14, static_cast<std::uint32_t>(number), attempt),
                   nominal_.l_weight);
      plan.task.seed = set_.seed * 1000 + number * 10 + attempt;
      const auto design = optimise(plan.task, nominal_);
      if (!design) {
        error = design.error();
        continue;
      }
      const Recipe recipe =
          leveller_.levelled(design->recipe, plan.plate, reader, nominal_, light_, loan());
      const double merit = is_graded
                               ? -leveller_.missed_aim(recipe, plan.plate, reader, nominal_, light_)
                               : design->worst_margin;
      if (!best || merit > best_merit) {
        best = recipe;
        best_merit = merit;
      }
      if (!is_graded && best_merit >= margin_wanted(plan.plate)) break;
    }
    if (!best) return tl::unexpected(*std::move(error));
    return *std::move(best);
  }

  // The rungs share the colours of the one in balance.
  void find_ladder() {
    const auto at =
        std::find_if(plans_.begin(), plans_.end(), [](const Plan& plan) { return plan.rung == 0; });
    const PlateReader reader = reader_of(at->plate);
    ladder_ = designed(*at, reader, 0);
  }

  const Loan* loan() const { return lent_ ? &lent_->loan : nullptr; }

  Result<Recipe> recipe_of(std::size_t i, const PlateReader& reader) {
    Plan& plan = plans_[i];
    if (ladder_) {
      if (!*ladder_) return tl::unexpected(ladder_->error());
      return rung_of(**ladder_, ladder_span * plan.rung);
    }
    return designed(plan, reader, i);
  }

  Result<std::vector<std::vector<Code>>> judged_codes(const Plate& plate, const Recipe& recipe,
                                                      const PlateReader& reader) const {
    const std::vector<LinearRgb> colours = colours_of(recipe, nominal_);
    auto codes = *codes_of(colours, levels_of(recipe), light_);
    const PlateReader itself = looking_at(reader, codes, light_);
    COPUNCTAL_TRY_VOID(jury_.judge(plate, itself));
    if (!lent_) return codes;
    COPUNCTAL_TRY(LentCodes lent, lend(plate, colours, itself, *lent_, light_));
    return std::move(lent.codes);
  }

  void make(std::size_t i) {
    Plan& plan = plans_[i];
    const PlateReader reader = reader_of(plan.plate);
    plan.plate.gap = light_.grey(std::exp(mean_ln_y));
    const auto recipe = recipe_of(i, reader);
    Result<std::vector<std::vector<Code>>> codes;
    if (recipe)
      codes = judged_codes(plan.plate, *recipe, reader);
    else
      codes = while_doing("designing plate '" + plan.plate.name + "'", recipe.error());
    if (codes)
      plan.plate.codes = *std::move(codes);
    else
      errors_[i] = std::move(codes).error();
    const std::scoped_lock hold(lock_);
    ++done_;
    if (options_.progress) options_.progress(done_, plans_.size());
  }

  PlateSet set_;
  std::optional<Lent> lent_;
  const MakeOptions& options_;
  Sample sample_;
  Jury jury_;
  Leveller leveller_;
  CodeLight light_;
  Eye nominal_;
  std::vector<Plan> plans_;
  std::vector<std::optional<Error>> errors_;
  std::optional<Result<Recipe>> ladder_;
  std::mutex lock_;
  std::size_t done_ = 0;
};

}  // namespace

const std::vector<std::string>& set_purposes() {
  static const std::vector<std::string> purposes = {"practical", "ladder", "exhibits"};
  return purposes;
}

std::size_t plates_in(double minutes) {
  return static_cast<std::size_t>(std::clamp(std::floor(minutes * 60 / seconds_a_plate),
                                             static_cast<double>(fewest_plates),
                                             static_cast<double>(most_plates)));
}

Result<void> check_wish(std::string_view purpose, const MakeOptions& options) {
  const auto& purposes = set_purposes();
  if (std::find(purposes.begin(), purposes.end(), purpose) == purposes.end())
    return fail(Error::Kind::usage, "no set is made for '" + std::string(purpose) + "'", "purpose",
                std::string(purpose), "use --for " + joined(purposes, ", --for "));
  const auto within = [](const char* thing, std::size_t given, std::size_t least,
                         std::size_t most) -> Result<void> {
    if (given >= least && given <= most) return {};
    return fail(Error::Kind::usage,
                "no set is made of " + std::to_string(given) + " " + std::string(thing), thing,
                std::to_string(given),
                "give a number from " + std::to_string(least) + " to " + std::to_string(most));
  };
  COPUNCTAL_TRY_VOID(within("cells", static_cast<std::size_t>(std::max(0, options.cells)),
                            fewest_cells, most_cells));
  COPUNCTAL_TRY_VOID(within("plates", options.plates, fewest_plates, most_plates));
  if (purpose != "practical" && options.plates != usual_plates)
    return fail(Error::Kind::usage,
                "a set for " + std::string(purpose) + " has a number of plates of its own",
                "plates", std::to_string(options.plates), "leave the number out");
  if (purpose != "practical" && options.family == SymbolFamily::paths)
    return fail(Error::Kind::unsupported,
                "plates for " + std::string(purpose) +
                    " hold two figures, and two paths cannot lie in one field",
                "symbols", "paths", "use --symbols digits or --symbols rings");
  return {};
}

Result<PlateSet> make_set(std::string_view purpose, const Display& display, std::uint64_t seed,
                          const MakeOptions& options) {
  COPUNCTAL_TRY_VOID(check_wish(purpose, options));
  PlateSet set;
  set.purpose = purpose;
  set.display = display.name;
  if (!is_named(display)) set.own_display = display;
  set.seed = seed;
  set.family = options.family;
  set.cells = options.cells;
  set.symbols = options.digits.empty() ? choose_symbols(options.family, seed, symbols_in_a_set)
                                       : options.digits;
  if (options.family == SymbolFamily::paths)
    set.fork_symbols = choose_symbols(SymbolFamily::rings, seed);
  std::optional<Lent> lent;
  if (!options.loan.empty()) {
    COPUNCTAL_TRY(lent, lent_observer(options.loan, display, options.threads));
    set.loan = lent->observer;
  }
  return Maker(std::move(set), display, options, std::move(lent)).made();
}

}  // namespace copunctal
