// CMA-ES: a search that learns the shape of the hill it climbs.
//
// Hansen, N. (2016), The CMA Evolution Strategy: A Tutorial, arXiv:1604.00772; equations and
// default parameters as there (weights of the better half only, from memory).
#pragma once

#include <cstdint>
#include <functional>
#include <vector>

namespace copunctal {

/// A point and what the objective says of it.
struct Found {
  std::vector<double> at;
  double value = 0;
};

/// The largest value of `objective` found in `evaluations` calls, beginning with a cloud around
/// `start` whose standard deviation along coordinate i is step[i] (> 0, expects; as many as
/// coordinates, one or more). Deterministic for a seed. Values may not be NaN; -infinity is allowed
/// where a point means nothing. Stops early when the cloud has shrunk to 1e-9 of `step`.
Found cma_es(const std::vector<double>& start, const std::vector<double>& step,
             const std::function<double(const std::vector<double>&)>& objective, int evaluations,
             std::uint64_t seed);

}  // namespace copunctal
