#include "copunctal/design/make_set.h"

#include <algorithm>
#include <cmath>
#include <map>
#include <mutex>
#include <optional>

#include "copunctal/base/parallel.h"
#include "copunctal/base/random.h"
#include "copunctal/design/optimise.h"
#include "copunctal/display/keep_display.h"
#include "copunctal/display/tolerance.h"
#include "copunctal/reader/reader.h"

namespace copunctal {
namespace {

constexpr std::size_t symbols_in_a_set = 4;
constexpr double mean_ln_y = -1.51;  // Y = .22 of white

// Eyes the designs are made on, in front of every display the designs must survive; verdicts use
// others (reader/population, another seed).
class Sample {
 public:
  Sample(const Display& display, std::uint64_t seed) : seed_(seed ^ 0x64657369) {
    displays_ = tolerance_displays(display);
    for (std::size_t d = 0; d < displays_.size(); ++d) {
      lights_.emplace_back(displays_[d].curves);
      for (const auto& [name, count] : {std::pair{"normal", 24},
                                        {"protan:0", 16},
                                        {"protan:5", 10},
                                        {"protan:10", 10},
                                        {"deutan:0", 16},
                                        {"deutan:5", 10},
                                        {"deutan:10", 10},
                                        {"tritan", 20},
                                        {"rod-monochromat", 4}})
        // Away from the display the set is for, fewer say enough.
        add(name, d == 0 ? count : std::max(4, count / 2), d);
    }
  }
  /// One wish per display; or, not `everywhere`, on the display the set is for.
  void wish(DesignTask& task, const std::string& observer, std::size_t figure, bool read,
            bool everywhere = true) const {
    for (const EyeClass& eyes : classes_.at(observer))
      if (everywhere || eyes.display == 0) task.wishes.push_back({&eyes, figure, read});
  }
  const std::vector<CodeLight>& lights() const { return lights_; }

 private:
  void add(const std::string& name, int count, std::size_t display) {
    EyeClass eyes{name, {}, display};
    const IndividualEyes individuals(*observer_from(name), displays_[display]);
    for (int i = 0; i < count; ++i)
      eyes.eyes.push_back(individuals(seed_, static_cast<std::uint32_t>(i)));
    classes_[name].push_back(std::move(eyes));
  }
  std::vector<Display> displays_;
  std::vector<CodeLight> lights_;
  std::uint64_t seed_;
  std::map<std::string, std::vector<EyeClass>> classes_;
};

// What one plate of the set is to be, before its colours are known.
struct Plan {
  Plate plate;
  DesignTask task;
};

// Ground hues a plate may start from: from neutral to yellowish, from greenish to reddish.
ConeColour random_ground(RandomStream& random) {
  ConeColour ground;
  ground.q = random.uniform(-0.02, 0.16);
  ground.v = random.uniform(-1.3, -0.2);
  ground.ln_y = mean_ln_y;
  return ground;
}

// The figure that differs by a factor on L alone (invisible to protans), or on M alone (to
// deutans).
ConeColour along_protan_line(double factor, double l_weight) {
  const double ln_y = std::log(1 + l_weight * (factor - 1));
  return {std::log(factor), -ln_y, ln_y};
}
ConeColour along_deutan_line(double factor, double l_weight) {
  const double ln_y = std::log(1 + (1 - l_weight) * (factor - 1));
  return {-std::log(factor), -ln_y, ln_y};
}

void plan_opener(Plan& plan, const Sample& sample, RandomStream& random) {
  Recipe recipe;
  recipe.ground = random_ground(random);
  recipe.ground.q = 0.06;
  recipe.ground.ln_y = std::log(0.36);
  recipe.figures = {{random.below(2) ? 0.06 : -0.06, 0.3, -1.1}};
  recipe.noise = 0.12;
  plan.task.starts = {recipe};
  for (const char* name : {"normal", "protan:0", "deutan:0", "tritan", "rod-monochromat"})
    sample.wish(plan.task, name, 0, true, false);
  plan.task.free_ground = false;
}

void plan_vanishing(Plan& plan, const Sample& sample, RandomStream& random, double l_weight) {
  const std::vector<std::string> blind =
      plan.plate.aim == Aim::dichromat ? std::vector<std::string>{"protan:0", "deutan:0"}
      : plan.plate.aim == Aim::five_nm
          ? std::vector<std::string>{"protan:0", "deutan:0", "protan:5", "deutan:5"}
          : std::vector<std::string>{"protan:0", "deutan:0",  "protan:5",
                                     "deutan:5", "protan:10", "deutan:10"};
  // Plates that grade anomalous observers have no margin to give away: their contrast goes with the
  // display's, and holding them on all displays would only blunt them on their own.
  const bool everywhere = plan.plate.aim == Aim::dichromat;
  for (const std::string& name : blind) sample.wish(plan.task, name, 0, false, everywhere);
  for (const char* name : {"normal", "tritan"}) sample.wish(plan.task, name, 0, true, everywhere);
  const ConeColour ground = random_ground(random);
  const double size = plan.plate.aim == Aim::dichromat ? 0.16 : 0.10;
  const double sign = random.below(2) ? 1 : -1;
  // Half way between the two confusion lines, on both sides of the ground.
  for (const double direction : {sign, -sign}) {
    Recipe recipe;
    recipe.ground = ground;
    const ConeColour p = along_protan_line(std::exp(direction * size / 2), l_weight),
                     d = along_deutan_line(std::exp(-direction * size / 2), l_weight);
    recipe.figures = {p + d};
    recipe.noise = 0.3;
    plan.task.starts.push_back(recipe);
  }
}

void plan_fork(Plan& plan, const Sample& sample, RandomStream& random, double l_weight) {
  // First figure: a change of M, invisible to deutans and read by protans. Second: a change of L.
  for (const std::size_t figure : {0U, 1U}) {
    sample.wish(plan.task, "protan:0", figure, figure == 0);
    sample.wish(plan.task, "deutan:0", figure, figure == 1);
    for (const char* name : {"normal", "tritan"}) sample.wish(plan.task, name, figure, true);
  }
  const ConeColour ground = random_ground(random);
  for (const double m_factor : {0.80, 1.22})
    for (const double l_factor : {0.80, 1.25}) {
      Recipe recipe;
      recipe.ground = ground;
      recipe.figures = {along_deutan_line(m_factor, l_weight),
                        along_protan_line(l_factor, l_weight)};
      recipe.noise = 0.05;
      plan.task.starts.push_back(recipe);
    }
}

void plan_tritan(Plan& plan, const Sample& sample, RandomStream& random) {
  sample.wish(plan.task, "tritan", 0, false);
  for (const char* name : {"normal", "protan:0", "deutan:0"}) sample.wish(plan.task, name, 0, true);
  const double sign = random.below(2) ? 1 : -1;
  const double ground_q = random.uniform(-0.02, 0.06);
  for (const double size : {sign * 0.7, -sign * 0.7, sign * 0.4, -sign * 0.4}) {
    Recipe recipe;
    recipe.ground = {ground_q, -size / 2, mean_ln_y};
    recipe.figures = {{0, size, 0}};
    recipe.noise = 0.3;
    plan.task.starts.push_back(recipe);
  }
}

// Wishes and starting colours of a plate; another attempt starts from other ground hues.
void plan_colours(Plan& plan, const Sample& sample, RandomStream random, double l_weight) {
  plan.task.wishes.clear();
  plan.task.starts.clear();
  switch (plan.plate.kind) {
    case PlateKind::opener:
      plan_opener(plan, sample, random);
      break;
    case PlateKind::vanishing:
      plan_vanishing(plan, sample, random, l_weight);
      break;
    case PlateKind::fork:
      plan_fork(plan, sample, random, l_weight);
      break;
    case PlateKind::tritan:
      plan_tritan(plan, sample, random);
      break;
    case PlateKind::transformation:
    case PlateKind::hidden:
      break;
  }
}

// Margin, in SD, that a design must keep on its sample before other grounds are tried. Plates aimed
// at anomalous observers cannot keep one: those observers overlap with normal ones.
double margin_wanted(const Plate& plate) {
  const bool separable = plate.kind != PlateKind::vanishing || plate.aim == Aim::dichromat;
  return separable ? 0.9 : -1e9;
}

// Deals symbols so that each comes up about equally often, in an order drawn by seed.
class Deck {
 public:
  Deck(const std::vector<std::string>& symbols, RandomStream random)
      : symbols_(symbols), random_(random) {}

  std::string next(const std::string& unlike = {}) {
    if (hand_.empty()) {
      hand_ = symbols_;
      random_.shuffle(hand_);
    }
    if (hand_.back() == unlike) {
      if (hand_.size() == 1) hand_.insert(hand_.begin(), symbols_.begin(), symbols_.end());
      const auto other = std::find_if(hand_.begin(), hand_.end(),
                                      [&](const std::string& s) { return s != unlike; });
      std::iter_swap(other, hand_.end() - 1);
    }
    std::string symbol = hand_.back();
    hand_.pop_back();
    return symbol;
  }

 private:
  const std::vector<std::string>& symbols_;
  RandomStream random_;
  std::vector<std::string> hand_;
};

std::vector<Plan> planned(const PlateSet& set) {
  const std::uint64_t seed = set.seed;
  constexpr std::size_t opener_in_the_middle = 6;
  std::vector<std::pair<PlateKind, Aim>> kinds = {{PlateKind::opener, Aim::none}};
  for (const Aim aim :
       {Aim::dichromat, Aim::dichromat, Aim::dichromat, Aim::five_nm, Aim::ten_nm, Aim::dichromat,
        Aim::dichromat, Aim::dichromat, Aim::five_nm, Aim::ten_nm}) {
    if (kinds.size() == opener_in_the_middle) kinds.emplace_back(PlateKind::opener, Aim::none);
    kinds.emplace_back(PlateKind::vanishing, aim);
  }
  for (int i = 0; i < 4; ++i) kinds.emplace_back(PlateKind::fork, Aim::dichromat);
  for (int i = 0; i < 2; ++i) kinds.emplace_back(PlateKind::tritan, Aim::none);

  Deck deck(set.symbols, RandomStream(seed, 12)),
      fork_deck(set.fork_symbols, RandomStream(seed, 16));
  Deck& of_forks = set.fork_symbols.empty() ? deck : fork_deck;

  const std::vector<std::string> names = plate_names(seed, kinds.size());
  std::vector<Plan> plans(kinds.size());
  for (std::size_t i = 0; i < kinds.size(); ++i) {
    Plan& plan = plans[i];
    plan.plate.name = names[i];
    plan.plate.kind = kinds[i].first;
    plan.plate.aim = kinds[i].second;
    RandomStream random(seed, 13, static_cast<std::uint32_t>(i));
    // Kept as a number that every JSON reader holds exactly.
    plan.plate.seed = random.bits64() >> 11;
    if (plan.plate.kind == PlateKind::fork) {
      const bool falling = random.below(2) == 0, turned = random.below(2) == 0;
      Place a = falling ? Place::upper_left : Place::upper_right,
            b = falling ? Place::lower_right : Place::lower_left;
      if (turned) std::swap(a, b);
      const std::string first = of_forks.next(), second = of_forks.next(first);
      plan.plate.figures = {{first, a}, {second, b}};
    } else {
      plan.plate.figures = {{deck.next(), Place::whole}};
    }
    const std::size_t parts = 1 + plan.plate.figures.size();
    plan.plate.codes.assign(parts, std::vector<Code>(noise_levels));
  }
  return plans;
}

}  // namespace

Result<PlateSet> make_set(std::string_view purpose, const Display& display, std::uint64_t seed,
                          const Progress& progress, unsigned threads, SymbolFamily family) {
  if (purpose != "practical")
    return fail(Error::Kind::usage, "no set is made for '" + std::string(purpose) + "'", "purpose",
                std::string(purpose), "use --for practical");
  PlateSet set;
  set.display = display.name;
  if (!is_named(display)) set.own_display = display;
  set.seed = seed;
  set.family = family;
  set.symbols = choose_symbols(family, seed, symbols_in_a_set);
  if (family == SymbolFamily::paths) set.fork_symbols = choose_symbols(SymbolFamily::rings, seed);

  const Sample sample(display, seed);
  const Eye nominal = nominal_eye(Observer{}, display);
  std::vector<Plan> plans = planned(set);
  for (const Plan& plan : plans)
    for (const Figure& figure : plan.plate.figures)
      COPUNCTAL_TRY_VOID(check_size(figure.symbol, figure.place));
  std::vector<std::optional<Error>> errors(plans.size());
  std::mutex lock;
  std::size_t done = 0;
  if (progress) progress(done, plans.size());
  parallel_for(
      plans.size(),
      [&](std::size_t i) {
        Plan& plan = plans[i];
        const PlateReader reader = PlateReader::of(plan.plate, answer_row(set, plan.plate));
        plan.task.reader = &reader;
        plan.task.lights = &sample.lights();
        for (const Figure& figure : plan.plate.figures)
          plan.task.drawn.push_back(reader.index_of(figure.symbol));
        std::optional<Design> best;
        constexpr std::uint32_t attempts = 5;
        for (std::uint32_t attempt = 1; attempt <= attempts; ++attempt) {
          plan_colours(plan, sample, RandomStream(seed, 14, static_cast<std::uint32_t>(i), attempt),
                       nominal.l_weight);
          auto design = optimise(plan.task, nominal);
          if (!design)
            errors[i] =
                while_doing("designing plate '" + plan.plate.name + "'", design.error()).value();
          else if (!best || design->worst_margin > best->worst_margin)
            best = std::move(*design);
          if (best && best->worst_margin >= margin_wanted(plan.plate)) break;
        }
        if (best) {
          plan.plate.codes = std::move(best->codes);
          errors[i].reset();
        }
        plan.plate.gap = sample.lights().front().grey(std::exp(mean_ln_y));
        const std::scoped_lock hold(lock);
        ++done;
        if (progress) progress(done, plans.size());
      },
      threads);
  for (std::size_t i = 0; i < plans.size(); ++i) {
    if (errors[i]) return tl::unexpected(*errors[i]);
    set.plates.push_back(std::move(plans[i].plate));
  }
  set.hash = set_hash(set);
  return set;
}

}  // namespace copunctal
