// From readings to observers: evidence first, the prior as a named second step.
#pragma once

#include <array>
#include <cstddef>
#include <string>
#include <vector>

#include "copunctal/inference/reading_tables.h"

namespace copunctal {

/// One plate and what was read on it: symbol indices, ascending; empty for no figure.
struct ScoredReading {
  std::size_t plate = 0;
  std::vector<std::size_t> answer;
};

/// log10 P(all readings | observer) per grid point: the mean over individuals of the product over
/// plates. A share `response_slip` of answers is taken as given at random
/// (docs/science/inference.md).
std::vector<double> log10_likelihoods(const ReadingTables& tables,
                                      const std::vector<ScoredReading>& readings);

/// Share of answers that say nothing of the eye: a slip of the finger, a glance aside. [assumed]
inline constexpr double response_slip = 0.03;

/// P(answer) of one individual, that share of slips included; as ReadingTables::probability().
double probability_with_slips(const ReadingTables& tables, std::size_t point,
                              std::size_t individual, std::size_t plate,
                              const std::vector<std::size_t>& answer);

/// Kinds in the order used below.
inline constexpr std::array all_red_green_blue_kinds = {ObserverKind::normal, ObserverKind::protan,
                                                        ObserverKind::deutan, ObserverKind::tritan};

/// How common each kind is: normal, protan, deutan, tritan. Men .9199 .02 .06 .0001, women .9959
/// .001 .003 .0001 (Birch 2012, J. Opt. Soc. Am. A 29:313-320, about 8 % and 0.4 %; protan to
/// deutan 1 : 3 and tritan 1 in 10,000 by secondary tables).
std::array<double, 4> kind_prior_men();
std::array<double, 4> kind_prior_women();
/// Neither given: an equal mix of the two.
std::array<double, 4> kind_prior_mixed();

/// P(separation | kind) over the tables' grid points of that kind, sum 1: dichromats half of
/// protans and a fifth of deutans (secondary tables: protanopia 1.0, protanomaly 1.0,
/// deuteranopia 1.2, deuteranomaly 5 % of men); the rest even up to 12.5 nm and falling to a tenth
/// at 25 nm. [assumed]
std::vector<double> separation_prior(const ReadingTables& tables, ObserverKind kind);

/// The outcome over kinds and separations.
struct Posterior {
  std::array<double, 4> evidence_only{};  ///< Kinds taken as equally common.
  std::array<double, 4> with_prior{};
  /// P(separation | kind, readings) over the kind's grid points, in grid order.
  std::vector<double> protan_separation, deutan_separation;
};

Posterior posterior(const ReadingTables& tables, const std::vector<double>& log10_likelihoods,
                    const std::array<double, 4>& kind_prior);

/// Index of a kind that the readings point to, or -1 for "cannot tell": its posterior is at least
/// .9 and ten times the next, and no other kind explains the readings ten times better on the
/// evidence alone.
int verdict_of(const Posterior& outcome);

}  // namespace copunctal
