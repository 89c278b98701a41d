// Hills whose tops are known: the sphere, the ellipsoid and Rosenbrock's function as in Hansen's
// tutorial (arXiv:1604.00772, section on test functions).
#include "copunctal/design/cma_es.h"

#include <cmath>

#include <gtest/gtest.h>

namespace copunctal {
namespace {

double rosenbrock(const std::vector<double>& x) {
  double sum = 0;
  for (std::size_t i = 0; i + 1 < x.size(); ++i)
    sum += 100 * std::pow(x[i + 1] - x[i] * x[i], 2) + std::pow(1 - x[i], 2);
  return -sum;
}

TEST(CmaEs, FindsTheTopOfRosenbrocksFunction) {
  for (const std::uint64_t seed : {1U, 2U, 3U}) {
    const Found found =
        cma_es(std::vector<double>(5, 0), std::vector<double>(5, 0.3), rosenbrock, 6000, seed);
    EXPECT_GT(found.value, -1e-8) << "seed " << seed;
    for (const double x : found.at) EXPECT_NEAR(x, 1, 1e-3);
  }
}

TEST(CmaEs, ATurnedAndStretchedHillIsLearnt) {
  // Axis lengths from 1 to 1000, turned: plain steps would creep along it.
  const auto hill = [](const std::vector<double>& x) {
    const double a = x[0] + x[1], b = x[0] - x[1], c = x[2] + 0.5 * x[3], d = x[3] - 0.5 * x[2];
    return -(a * a + 1e2 * b * b + 1e4 * c * c + 1e6 * d * d);
  };
  const Found found = cma_es({3, -2, 1, 4}, {1, 1, 1, 1}, hill, 3000, 5);
  EXPECT_GT(found.value, -1e-9);
}

TEST(CmaEs, IsTheSameForASeedAndAnotherForAnother) {
  const auto twice = [](std::uint64_t seed) {
    return cma_es({0, 0, 0}, {0.3, 0.3, 0.3}, rosenbrock, 200, seed);
  };
  EXPECT_EQ(twice(4).at, twice(4).at);
  EXPECT_NE(twice(4).at, twice(6).at);
}

TEST(CmaEs, KeepsToItsEvaluationsAndToWhatMeansSomething) {
  int calls = 0;
  const Found found = cma_es(
      {1, 1}, {0.5, 0.5},
      [&](const std::vector<double>& x) {
        ++calls;
        return x[0] < 0 ? -std::numeric_limits<double>::infinity() : -x[0] - x[1] * x[1];
      },
      137, 9);
  EXPECT_LE(calls, 137);
  EXPECT_GE(found.at[0], 0);
  EXPECT_NEAR(found.at[0], 0, 0.05);
}

}  // namespace
}  // namespace copunctal
