#include "copunctal/app/set_figures.h"

#include <algorithm>
#include <cmath>

#include "copunctal/app/run_sitting_rounds.h"
#include "copunctal/app/set_readers.h"
#include "copunctal/base/expects.h"
#include "copunctal/base/parallel.h"
#include "copunctal/base/random.h"
#include "copunctal/inference/posterior.h"

namespace copunctal {
namespace {

constexpr double false_alarms_allowed = 0.05;

struct Moments {
  double mean = 0, variance = 0;
};
Moments moments_of(const std::vector<double>& values) {
  double sum = 0, squares = 0;
  for (const double v : values) {
    sum += v;
    squares += v * v;
  }
  const auto n = static_cast<double>(values.size());
  return {sum / n, n > 1 ? std::max(0.0, (squares - sum * sum / n) / (n - 1)) : 0};
}

// P(fewer than m) + P(m) / 2, the mean over a group.
std::vector<double> below_or_half(const std::vector<std::vector<double>>& group) {
  std::vector<double> result(group.front().size());
  for (const auto& one : group) {
    double below = 0;
    for (std::size_t m = 0; m < one.size(); ++m) {
      result[m] += (below + one[m] / 2) / static_cast<double>(group.size());
      below += one[m];
    }
  }
  return result;
}

double weighted(const std::vector<double>& probabilities, const std::vector<double>& values) {
  double sum = 0;
  for (std::size_t i = 0; i < values.size(); ++i) sum += probabilities[i] * values[i];
  return sum;
}

std::vector<std::size_t> plates_of(const PlateSet& set, PlateKind kind) {
  std::vector<std::size_t> result;
  for (std::size_t p = 0; p < set.plates.size(); ++p)
    if (set.plates[p].kind == kind) result.push_back(p);
  return result;
}

// Of each eye the distribution of its misses of a kind's plates; nothing without such plates.
struct CountedMisses {
  std::size_t plates = 0;
  std::vector<std::vector<double>> without;            ///< Normals.
  std::vector<std::vector<std::vector<double>>> with;  ///< By observer to be found.
};
CountedMisses counted(const PlateSet& set, PlateKind kind,
                      const std::vector<std::string>& to_be_found,
                      const std::vector<std::vector<std::vector<PredictedReading>>>& readings) {
  const std::vector<std::size_t> plates = plates_of(set, kind);
  CountedMisses result;
  result.plates = plates.size();
  if (plates.empty()) return result;
  const auto group_of = [&](const std::string& observer) {
    const auto& all = standard_observers();
    const auto o =
        static_cast<std::size_t>(std::find(all.begin(), all.end(), observer) - all.begin());
    std::vector<std::vector<double>> group;
    for (std::size_t i = 0; i < readings[plates.front()][o].size(); ++i) {
      std::vector<double> miss;
      miss.reserve(plates.size());
      for (const std::size_t p : plates) miss.push_back(1 - readings[p][o][i].intended);
      group.push_back(misses_of(miss));
    }
    return group;
  };
  result.without = group_of("normal");
  for (const std::string& observer : to_be_found) result.with.push_back(group_of(observer));
  return result;
}

// P(k or more), the mean over a group.
Share share_from(const std::vector<std::vector<double>>& group, std::size_t k) {
  std::vector<double> each;
  each.reserve(group.size());
  for (const auto& one : group) {
    double sum = 0;
    for (std::size_t m = k; m < one.size(); ++m) sum += one[m];
    each.push_back(sum);
  }
  const Moments moments = moments_of(each);
  return {moments.mean, std::sqrt(moments.variance / static_cast<double>(each.size()))};
}

MissRule rule_of(const CountedMisses& misses, const std::vector<std::string>& observers) {
  MissRule rule{misses.plates, observers, {}, 0};
  for (std::size_t k = 1; k <= misses.plates; ++k) {
    RulePoint point{k, share_from(misses.without, k), {}};
    for (const auto& group : misses.with) point.hits.push_back(share_from(group, k));
    if (rule.misses == 0 && point.false_alarms.share <= false_alarms_allowed) rule.misses = k;
    rule.points.push_back(std::move(point));
  }
  return rule;
}

bool is_protan(const std::string& observer) {
  return observer.starts_with("protan");
}

// P(the sum over fork plates of first read - second read is above, below or equal to 0), one eye.
std::array<double, 3> kind_by_forks(const std::vector<const PredictedReading*>& forks) {
  const auto most = static_cast<std::ptrdiff_t>(forks.size());
  std::vector<double> sums(static_cast<std::size_t>(2 * most + 1));
  sums[static_cast<std::size_t>(most)] = 1;
  for (const PredictedReading* fork : forks) {
    const double first = fork->intended * (1 - fork->second),
                 second = fork->second * (1 - fork->intended);
    std::vector<double> next(sums.size());
    for (std::size_t s = 0; s < sums.size(); ++s) {
      if (s + 1 < sums.size()) next[s + 1] += sums[s] * first;
      if (s > 0) next[s - 1] += sums[s] * second;
      next[s] += sums[s] * (1 - first - second);
    }
    sums = std::move(next);
  }
  std::array<double, 3> result{};
  for (std::ptrdiff_t s = -most; s <= most; ++s)
    result[s > 0 ? 0 : s < 0 ? 1 : 2] += sums[static_cast<std::size_t>(s + most)];
  return result;
}

// What one individual answers to a plate: symbol indices, ascending.
std::vector<std::size_t> answer_of(const PlateReader& reader, const Eye& eye, std::size_t symbols,
                                   RandomStream& random) {
  std::vector<std::size_t> answer;
  for (const int one : reader.sample(eye, random)) {
    const bool lapses = random.uniform() < DiscriminationModel{}.lapse;
    const int given =
        lapses ? static_cast<int>(random.below(static_cast<std::uint32_t>(symbols + 1))) - 1 : one;
    if (given >= 0) answer.push_back(static_cast<std::size_t>(given));
  }
  std::sort(answer.begin(), answer.end());
  answer.erase(std::unique(answer.begin(), answer.end()), answer.end());
  return answer;
}

struct Sitter {
  const PlateSet& set;
  const ReadingTables& tables;
  const std::vector<PlateReader>& readers;

  // 0 to 3: a kind; 4: cannot tell.
  std::size_t end_of(const Eye& eye, RandomStream random) const {
    std::vector<ScoredReading> scored;
    bool missed = false, interpretable = true;
    for (const PlateKind kind :
         {PlateKind::opener, PlateKind::vanishing, PlateKind::fork, PlateKind::tritan}) {
      if (kind == PlateKind::fork && !missed) continue;
      for (const std::size_t p : plates_of(set, kind)) {
        ScoredReading reading{p, answer_of(readers[p], eye, tables.symbols(), random)};
        std::vector<std::size_t> drawn = readers[p].drawn_on(set.plates[p]);
        std::sort(drawn.begin(), drawn.end());
        const bool as_drawn = reading.answer == drawn;
        missed = missed || (kind == PlateKind::vanishing && !as_drawn);
        interpretable = interpretable && (kind != PlateKind::opener || as_drawn);
        scored.push_back(std::move(reading));
      }
    }
    if (!interpretable) return 4;
    const int verdict =
        verdict_of(posterior(tables, log10_likelihoods(tables, scored), kind_prior_mixed()));
    return verdict < 0 ? 4 : static_cast<std::size_t>(verdict);
  }
};

}  // namespace

std::vector<double> misses_of(const std::vector<double>& miss_each) {
  std::vector<double> counts = {1};
  for (const double miss : miss_each) {
    counts.push_back(0);
    for (std::size_t m = counts.size(); m-- > 0;)
      counts[m] = counts[m] * (1 - miss) + (m > 0 ? counts[m - 1] * miss : 0);
  }
  return counts;
}

RocArea roc_area(const std::vector<std::vector<double>>& with,
                 const std::vector<std::vector<double>>& without) {
  expects(!with.empty() && !without.empty());
  const std::vector<double> under = below_or_half(without);
  std::vector<double> over = below_or_half(with);
  for (double& one : over) one = 1 - one;
  std::vector<double> of_with, of_without;
  for (const auto& one : with) of_with.push_back(weighted(one, under));
  for (const auto& one : without) of_without.push_back(weighted(one, over));
  const Moments a = moments_of(of_with), b = moments_of(of_without);
  return {a.mean, std::sqrt(a.variance / static_cast<double>(with.size()) +
                            b.variance / static_cast<double>(without.size()))};
}

SetFigures set_figures(const PlateSet& set,
                       const std::vector<std::vector<std::vector<PredictedReading>>>& readings) {
  const std::vector<std::string>& observers = standard_observers();
  expects(readings.size() == set.plates.size());
  SetFigures figures;
  const std::vector<std::size_t> forks = plates_of(set, PlateKind::fork);
  std::vector<std::string> red_green;
  for (const std::string& observer : observers)
    if (observer != "normal" && observer != "tritan") red_green.push_back(observer);
  const CountedMisses vanishing = counted(set, PlateKind::vanishing, red_green, readings);
  figures.red_green = rule_of(vanishing, red_green);
  figures.blue_yellow = rule_of(counted(set, PlateKind::tritan, {"tritan"}, readings), {"tritan"});
  if (!vanishing.with.empty()) {
    std::vector<std::vector<double>> all;
    for (const auto& group : vanishing.with) {
      figures.area.push_back(roc_area(group, vanishing.without));
      all.insert(all.end(), group.begin(), group.end());
    }
    figures.area_of_all = roc_area(all, vanishing.without);
  }
  for (std::size_t o = 0; o < observers.size() && !forks.empty(); ++o) {
    if (observers[o] == "tritan" || observers[o] == "normal") continue;
    KindNamed named{observers[o], 0, 0, 0};
    const auto eyes = readings[forks.front()][o].size();
    for (std::size_t i = 0; i < eyes; ++i) {
      std::vector<const PredictedReading*> one;
      one.reserve(forks.size());
      for (const std::size_t p : forks) one.push_back(&readings[p][o][i]);
      const auto [protan, deutan, neither] = kind_by_forks(one);
      named.right += is_protan(observers[o]) ? protan : deutan;
      named.wrong += is_protan(observers[o]) ? deutan : protan;
      named.cannot_tell += neither;
    }
    for (double* share : {&named.right, &named.wrong, &named.cannot_tell})
      *share /= static_cast<double>(eyes);
    figures.kinds.push_back(std::move(named));
  }
  return figures;
}

Result<std::vector<SittingsEnd>> simulated_sittings(const PlateSet& set, const Display& display,
                                                    std::size_t count,
                                                    const DiscriminationModel& model) {
  COPUNCTAL_TRY_VOID(check_sittable(set));
  std::vector<std::vector<std::string>> rows;
  for (const Plate& plate : set.plates) rows.push_back(answer_row(set, plate));
  const auto tables = ReadingTables::build(set.plates, rows, display);
  const std::vector<PlateReader> readers = readers_of(set, CodeLight(display.curves), model);
  const Sitter sitter{set, *tables, readers};
  std::vector<SittingsEnd> ends;
  for (std::size_t o = 0; o < standard_observers().size(); ++o) {
    SittingsEnd end{standard_observers()[o], {}};
    // Other individuals than the tables hold.
    constexpr std::uint64_t sitters = 0x736974746572;
    const IndividualEyes individuals(*observer_from(end.observer), display, model);
    std::vector<std::size_t> outcome(count);
    parallel_for(count, [&](std::size_t i) {
      const auto number = static_cast<std::uint32_t>(i);
      outcome[i] = sitter.end_of(individuals(sitters, number),
                                 RandomStream(sitters, 51 + static_cast<std::uint32_t>(o), number));
    });
    for (const std::size_t one : outcome) end.shares[one] += 1 / static_cast<double>(count);
    ends.push_back(std::move(end));
  }
  return ends;
}

}  // namespace copunctal
