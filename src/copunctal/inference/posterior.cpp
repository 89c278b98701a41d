#include "copunctal/inference/posterior.h"

#include <algorithm>
#include <cmath>
#include <limits>

#include "copunctal/base/expects.h"

namespace copunctal {
namespace {

std::size_t kind_index(ObserverKind kind) {
  const auto* const at =
      std::find(all_red_green_blue_kinds.begin(), all_red_green_blue_kinds.end(), kind);
  expects(at != all_red_green_blue_kinds.end());
  return static_cast<std::size_t>(at - all_red_green_blue_kinds.begin());
}

// Number of different answers to a plate of one or two slots: subsets of at most that size.
double answer_count(std::size_t symbols, std::size_t slots) {
  const auto k = static_cast<double>(symbols);
  return slots == 1 ? k + 1 : 1 + k + k * (k - 1) / 2;
}

}  // namespace

double probability_with_slips(const ReadingTables& tables, std::size_t point,
                              std::size_t individual, std::size_t plate,
                              const std::vector<std::size_t>& answer) {
  const double by_chance = 1 / answer_count(tables.symbols(), tables.slots_of(plate));
  return (1 - response_slip) * tables.probability(point, individual, plate, answer) +
         response_slip * by_chance;
}

std::vector<double> log10_likelihoods(const ReadingTables& tables,
                                      const std::vector<ScoredReading>& readings) {
  std::vector<double> result;
  for (std::size_t point = 0; point < tables.grid().size(); ++point) {
    // Sum of exponentials, kept in logarithms: eighteen small factors must not underflow.
    std::vector<double> logs(tables.individuals(), 0);
    for (const ScoredReading& reading : readings)
      for (std::size_t i = 0; i < logs.size(); ++i)
        logs[i] +=
            std::log10(probability_with_slips(tables, point, i, reading.plate, reading.answer));
    double top = -std::numeric_limits<double>::infinity();
    for (const double one : logs) top = std::max(top, one);
    double sum = 0;
    for (const double one : logs) sum += std::pow(10, one - top);
    result.push_back(top + std::log10(sum / static_cast<double>(logs.size())));
  }
  return result;
}

std::array<double, 4> kind_prior_men() {
  return {0.9199, 0.02, 0.06, 0.0001};
}
std::array<double, 4> kind_prior_women() {
  return {0.9959, 0.001, 0.003, 0.0001};
}
std::array<double, 4> kind_prior_mixed() {
  std::array<double, 4> mix{};
  for (std::size_t k = 0; k < mix.size(); ++k)
    mix[k] = (kind_prior_men()[k] + kind_prior_women()[k]) / 2;
  return mix;
}

std::vector<double> separation_prior(const ReadingTables& tables, ObserverKind kind) {
  const double dichromats = kind == ObserverKind::protan ? 0.5 : 0.2;
  std::vector<double> prior;
  double anomalous = 0;
  for (const GridPoint& point : tables.grid()) {
    if (point.kind != kind) continue;
    const double s = point.separation_nm;
    const double weight = s == 0 ? 0 : s <= 12.5 ? 1 : 1 - 0.9 * (s - 12.5) / 12.5;
    prior.push_back(weight);
    anomalous += weight;
  }
  if (prior.size() == 1) return {1.0};
  for (double& p : prior) p = p == 0 ? dichromats : p / anomalous * (1 - dichromats);
  return prior;
}

Posterior posterior(const ReadingTables& tables, const std::vector<double>& log10_likelihoods,
                    const std::array<double, 4>& kind_prior) {
  expects(log10_likelihoods.size() == tables.grid().size());
  const double top = *std::max_element(log10_likelihoods.begin(), log10_likelihoods.end());
  std::array<std::vector<double>, 4> joint;
  std::array<double, 4> of_kind{};
  for (std::size_t k = 0; k < 4; ++k) {
    const std::vector<double> prior = separation_prior(tables, all_red_green_blue_kinds[k]);
    std::size_t at = 0;
    for (std::size_t point = 0; point < tables.grid().size(); ++point) {
      if (kind_index(tables.grid()[point].kind) != k) continue;
      joint[k].push_back(prior[at++] * std::pow(10, log10_likelihoods[point] - top));
      of_kind[k] += joint[k].back();
    }
  }
  Posterior outcome;
  double evidence = 0, weighted = 0;
  for (std::size_t k = 0; k < 4; ++k) {
    evidence += of_kind[k];
    weighted += kind_prior[k] * of_kind[k];
  }
  for (std::size_t k = 0; k < 4; ++k) {
    outcome.evidence_only[k] = of_kind[k] / evidence;
    outcome.with_prior[k] = kind_prior[k] * of_kind[k] / weighted;
    for (double& p : joint[k]) p /= of_kind[k];
  }
  outcome.protan_separation = joint[1];
  outcome.deutan_separation = joint[2];
  return outcome;
}

int verdict_of(const Posterior& outcome) {
  const auto& p = outcome.with_prior;
  const auto best = static_cast<std::size_t>(std::max_element(p.begin(), p.end()) - p.begin());
  double next = 0, strongest = 0;
  for (std::size_t k = 0; k < p.size(); ++k) {
    if (k != best) next = std::max(next, p[k]);
    strongest = std::max(strongest, outcome.evidence_only[k]);
  }
  const bool clear = p[best] >= 0.9 && p[best] >= 10 * next;
  const bool supported = outcome.evidence_only[best] * 10 >= strongest;
  return clear && supported ? static_cast<int>(best) : -1;
}

}  // namespace copunctal
