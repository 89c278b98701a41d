// Individual observers drawn from a population.
#pragma once

#include <cstdint>

#include "copunctal/observer/observer.h"

namespace copunctal {

/// How individuals differ. SDs of Asano, Fairchild & Blonde 2016 (PLoS ONE 11:e0145671), the set
/// scaled to matched observers; lens, macula and densities in proportion, peaks in nm.
struct PopulationSpread {
  double lens = 0.187, macula = 0.365;
  double density_l = 0.090, density_m = 0.090, density_s = 0.074;
  double peak_l_nm = 2.0, peak_m_nm = 1.5, peak_s_nm = 1.3;
  double youngest = 18, oldest = 60;  ///< Ages, uniform: our choice for a class and its teachers.
};

/// Individual number `index` of the population around `centre` (its kind and separation): seeded,
/// independent of order and threads. In a dichromat both long-wave cones hold one pigment and shift
/// together. Deviations of lens, macula and densities are cut at -95 %.
Observer individual(const Observer& centre, std::uint64_t seed, std::uint32_t index,
                    const PopulationSpread& spread = {});

}  // namespace copunctal
