#include "copunctal/design/plan.h"

#include <algorithm>
#include <array>
#include <cmath>

#include "copunctal/base/expects.h"
#include "copunctal/display/tolerance.h"

namespace copunctal {

Sample::Sample(const Display& display, std::uint64_t seed) : seed_(seed ^ 0x64657369) {
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

void Sample::wish(DesignTask& task, const std::string& observer, std::size_t figure, Want want,
                  bool everywhere, double spare) const {
  for (const EyeClass& eyes : classes_.at(observer))
    if (everywhere || eyes.display == 0) task.wishes.push_back({&eyes, figure, want, spare});
}

void Sample::add(const std::string& name, int count, std::size_t display) {
  EyeClass eyes{name, {}, display};
  const IndividualEyes individuals(*observer_from(name), displays_[display]);
  for (int i = 0; i < count; ++i)
    eyes.eyes.push_back(individuals(seed_, static_cast<std::uint32_t>(i)));
  classes_[name].push_back(std::move(eyes));
}

namespace {

constexpr int rungs_each_way = 3;

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
    sample.wish(plan.task, name, 0, Want::read, false);
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
  // Dichromats are to be clear of plates that are a compromise between anomalous and normal
  // observers.
  constexpr double clear_of_it = 3;
  for (const std::string& name : blind)
    sample.wish(plan.task, name, 0, Want::not_read, everywhere,
                !everywhere && name.ends_with(":0") ? clear_of_it : 0);
  for (const char* name : {"normal", "tritan"})
    sample.wish(plan.task, name, 0, Want::read, everywhere);
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
    if (!everywhere) recipe.figures[0].ln_y = 0;
    recipe.noise = 0.3;
    plan.task.starts.push_back(recipe);
  }
  // Where a compromise is sought, a difference of luminance would serve the margins of all alike
  // and tell nobody apart.
  if (!everywhere) plan.task.free_luminance = {false};
}

// A first figure that differs by a factor on M, a second by a factor on L, all four ways.
void start_from_both_lines(Plan& plan, const ConeColour& ground,
                           const std::array<double, 2>& m_factors,
                           const std::array<double, 2>& l_factors, double l_weight) {
  for (const double m_factor : m_factors)
    for (const double l_factor : l_factors) {
      Recipe recipe;
      recipe.ground = ground;
      recipe.figures = {along_deutan_line(m_factor, l_weight),
                        along_protan_line(l_factor, l_weight)};
      recipe.noise = 0.05;
      plan.task.starts.push_back(recipe);
    }
}

void plan_fork(Plan& plan, const Sample& sample, RandomStream& random, double l_weight) {
  // First figure: a change of M, invisible to deutans and read by protans. Second: a change of L.
  for (const std::size_t figure : {0U, 1U}) {
    sample.wish(plan.task, "protan:0", figure, figure == 0 ? Want::read : Want::not_read);
    sample.wish(plan.task, "deutan:0", figure, figure == 1 ? Want::read : Want::not_read);
    for (const char* name : {"normal", "tritan"}) sample.wish(plan.task, name, figure, Want::read);
  }
  const ConeColour ground = random_ground(random);
  start_from_both_lines(plan, ground, {0.80, 1.22}, {0.80, 1.25}, l_weight);
}

void plan_tritan(Plan& plan, const Sample& sample, RandomStream& random) {
  sample.wish(plan.task, "tritan", 0, Want::not_read);
  for (const char* name : {"normal", "protan:0", "deutan:0"})
    sample.wish(plan.task, name, 0, Want::read);
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

// A fork plate whose figures everybody reads, as far apart in clearness for protans and deutans as
// can be: what the two say of each other tells the kinds apart where reading and not reading does
// not.
void plan_ladder(Plan& plan, const Sample& sample, RandomStream& random, double l_weight) {
  plan.task.headroom = ladder_span;
  for (const char* name : {"protan:0", "protan:5", "protan:10"})
    sample.wish(plan.task, name, 0, Want::clearer);
  for (const char* name : {"deutan:0", "deutan:5", "deutan:10"})
    sample.wish(plan.task, name, 1, Want::clearer);
  for (const std::size_t figure : {0U, 1U}) sample.wish(plan.task, "normal", figure, Want::read);
  const ConeColour ground = random_ground(random);
  start_from_both_lines(plan, ground, {0.88, 1.12}, {0.88, 1.12}, l_weight);
}

// Two figures in one place. Normals: the first, along red-green, clearer than the second, along
// yellow-violet of the same luminance; dichromats the other way round.
void plan_transformation(Plan& plan, const Sample& sample, RandomStream& random, double l_weight) {
  sample.wish(plan.task, "normal", 0, Want::clearer, false);
  for (const char* name : {"protan:0", "deutan:0"})
    sample.wish(plan.task, name, 1, Want::clearer, false);
  plan.task.free_luminance = {true, false};
  const ConeColour ground = random_ground(random);
  const double sign = random.below(2) ? 1 : -1;
  for (const double q : {sign * 0.16, -sign * 0.16})
    for (const double v : {0.25, -0.25}) {
      Recipe recipe;
      recipe.ground = ground;
      const ConeColour p = along_protan_line(std::exp(q / 2), l_weight),
                       d = along_deutan_line(std::exp(-q / 2), l_weight);
      recipe.figures = {p + d, {0, v, 0}};
      recipe.noise = 0.3;
      recipe.superimposed = true;
      plan.task.starts.push_back(recipe);
    }
}

// A figure along yellow-violet in a ground of red-green noise: for normals the noise masks it, for
// dichromats there is none.
void plan_hidden(Plan& plan, const Sample& sample, RandomStream& random) {
  sample.wish(plan.task, "normal", 0, Want::not_read, false);
  for (const char* name : {"protan:0", "deutan:0"})
    sample.wish(plan.task, name, 0, Want::read, false);
  ConeColour ground = random_ground(random);
  ground.q = 0.12;
  for (const double v : {0.25, -0.25}) {
    Recipe recipe;
    recipe.ground = ground;
    recipe.figures = {{0, v, 0}};
    recipe.noise = 0.3;
    recipe.q_noise = 0.25;
    plan.task.starts.push_back(recipe);
  }
}

struct Planned {
  PlateKind kind = PlateKind::opener;
  Aim aim = Aim::none;
  double rung = 0;
};

std::vector<Planned> kinds_for(std::string_view purpose, std::size_t count) {
  if (purpose == "ladder") {
    std::vector<Planned> kinds;
    for (int rung = -rungs_each_way; rung <= rungs_each_way; ++rung)
      kinds.push_back({PlateKind::ladder, Aim::none, static_cast<double>(rung) / rungs_each_way});
    return kinds;
  }
  if (purpose == "exhibits")
    return {{PlateKind::transformation, Aim::dichromat},
            {PlateKind::hidden, Aim::none},
            {PlateKind::transformation, Aim::dichromat},
            {PlateKind::hidden, Aim::none}};
  expects(purpose == "practical");
  // A practical: fork plates two in nine, tritan plates one in nine, the rest vanishing plates,
  // with a second opener in their middle where there is time for it.
  constexpr std::size_t enough_for_two_openers = 12;
  const std::size_t openers = count < enough_for_two_openers ? 1 : 2,
                    forks = std::max<std::size_t>(2, (2 * count + 4) / 9),
                    tritans = std::max<std::size_t>(1, (count + 4) / 9),
                    vanishing = count - openers - forks - tritans;
  constexpr std::array aims = {Aim::dichromat, Aim::dichromat, Aim::dichromat, Aim::five_nm,
                               Aim::ten_nm};
  std::vector<Planned> kinds = {{PlateKind::opener, Aim::none}};
  for (std::size_t i = 0; i < vanishing; ++i) {
    if (openers == 2 && i == vanishing / 2) kinds.push_back({PlateKind::opener, Aim::none});
    kinds.push_back({PlateKind::vanishing, aims[i % aims.size()]});
  }
  kinds.insert(kinds.end(), forks, {PlateKind::fork, Aim::dichromat});
  kinds.insert(kinds.end(), tritans, {PlateKind::tritan, Aim::none});
  return kinds;
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

}  // namespace

void plan_colours(Plan& plan, const Sample& sample, RandomStream random, double l_weight) {
  plan.task.wishes.clear();
  plan.task.starts.clear();
  switch (plan.plate.kind) {
    case PlateKind::opener:
      return plan_opener(plan, sample, random);
    case PlateKind::vanishing:
      return plan_vanishing(plan, sample, random, l_weight);
    case PlateKind::fork:
      return plan_fork(plan, sample, random, l_weight);
    case PlateKind::ladder:
      return plan_ladder(plan, sample, random, l_weight);
    case PlateKind::tritan:
      return plan_tritan(plan, sample, random);
    case PlateKind::transformation:
      return plan_transformation(plan, sample, random, l_weight);
    case PlateKind::hidden:
      return plan_hidden(plan, sample, random);
  }
}

double margin_wanted(const Plate& plate) {
  return plate.kind == PlateKind::hidden ? 0.3 : 0.9;
}

std::vector<Plan> planned(const PlateSet& set, std::size_t count) {
  const std::uint64_t seed = set.seed;
  const std::vector<Planned> kinds = kinds_for(set.purpose, count);
  Deck deck(set.symbols, RandomStream(seed, 12)),
      fork_deck(set.fork_symbols, RandomStream(seed, 16));
  Deck& of_forks = set.fork_symbols.empty() ? deck : fork_deck;

  const std::vector<std::string> names = plate_names(seed, kinds.size());
  std::vector<Plan> plans(kinds.size());
  for (std::size_t i = 0; i < kinds.size(); ++i) {
    Plan& plan = plans[i];
    plan.plate.name = names[i];
    plan.plate.kind = kinds[i].kind;
    plan.plate.aim = kinds[i].aim;
    plan.rung = kinds[i].rung;
    RandomStream random(seed, 13, static_cast<std::uint32_t>(i));
    // Kept as a number that every JSON reader holds exactly.
    plan.plate.seed = random.bits64() >> 11;
    plan.plate.cells = set.cells;
    switch (plan.plate.kind) {
      case PlateKind::fork:
      case PlateKind::ladder: {
        const bool falling = random.below(2) == 0, turned = random.below(2) == 0;
        Place a = falling ? Place::upper_left : Place::upper_right,
              b = falling ? Place::lower_right : Place::lower_left;
        if (turned) std::swap(a, b);
        const std::string first = of_forks.next(), second = of_forks.next(first);
        plan.plate.figures = {{first, a}, {second, b}};
        break;
      }
      case PlateKind::transformation: {
        const std::string first = deck.next(), second = deck.next(first);
        plan.plate.figures = {{first, Place::whole}, {second, Place::whole}};
        break;
      }
      default:
        plan.plate.figures = {{deck.next(), Place::whole}};
    }
    const std::size_t levels = plan.plate.kind == PlateKind::hidden ? 16 : 8;
    plan.plate.codes.assign(parts_of(plan.plate.figures), std::vector<Code>(levels));
  }
  return plans;
}

}  // namespace copunctal
