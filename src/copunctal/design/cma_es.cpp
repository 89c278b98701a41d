#include "copunctal/design/cma_es.h"

#include <algorithm>
#include <cmath>
#include <limits>

#include <Eigen/Dense>

#include "copunctal/base/expects.h"
#include "copunctal/base/random.h"

namespace copunctal {
namespace {

// The strategy's parameters for n coordinates (table 1 of the tutorial).
struct Strategy {
  explicit Strategy(Eigen::Index n) {
    const auto d = static_cast<double>(n);
    offspring = 4 + static_cast<Eigen::Index>(std::floor(3 * std::log(d)));
    parents = offspring / 2;
    weights.resize(parents);
    for (Eigen::Index i = 0; i < parents; ++i)
      weights[i] =
          std::log(static_cast<double>(offspring + 1) / 2) - std::log(static_cast<double>(i + 1));
    weights /= weights.sum();
    mass = 1 / weights.squaredNorm();
    step_decay = (mass + 2) / (d + mass + 5);
    step_damping = 1 + 2 * std::max(0.0, std::sqrt((mass - 1) / (d + 1)) - 1) + step_decay;
    path_decay = (4 + mass / d) / (d + 4 + 2 * mass / d);
    rank_one = 2 / ((d + 1.3) * (d + 1.3) + mass);
    rank_mu = std::min(1 - rank_one, 2 * (mass - 2 + 1 / mass) / ((d + 2) * (d + 2) + mass));
    expected_norm = std::sqrt(d) * (1 - 1 / (4 * d) + 1 / (21 * d * d));
  }
  Eigen::Index offspring = 0, parents = 0;
  Eigen::VectorXd weights;
  double mass = 0, step_decay = 0, step_damping = 0, path_decay = 0, rank_one = 0, rank_mu = 0,
         expected_norm = 0;
};

}  // namespace

Found cma_es(const std::vector<double>& start, const std::vector<double>& step,
             const std::function<double(const std::vector<double>&)>& objective, int evaluations,
             std::uint64_t seed) {
  expects(!start.empty() && step.size() == start.size());
  for (const double s : step) expects(s > 0);
  const auto n = static_cast<Eigen::Index>(start.size());
  const Strategy strategy(n);
  const Eigen::VectorXd scale = Eigen::Map<const Eigen::VectorXd>(step.data(), n),
                        origin = Eigen::Map<const Eigen::VectorXd>(start.data(), n);
  RandomStream random(seed, 41);

  Found best{start, -std::numeric_limits<double>::infinity()};
  // Everything below lives in units of `step` around `start`.
  Eigen::VectorXd mean = Eigen::VectorXd::Zero(n), step_path = mean, path = mean;
  Eigen::MatrixXd covariance = Eigen::MatrixXd::Identity(n, n), axes = covariance;
  Eigen::VectorXd lengths = Eigen::VectorXd::Ones(n);
  double sigma = 1;

  struct Offspring {
    Eigen::VectorXd from_mean;
    double value = 0;
  };
  for (int used = 0; used < evaluations && sigma * lengths.maxCoeff() > 1e-9;) {
    std::vector<Offspring> cloud;
    for (Eigen::Index k = 0; k < strategy.offspring && used < evaluations; ++k, ++used) {
      Eigen::VectorXd z(n);
      for (double& one : z) one = random.normal();
      Offspring child{axes * lengths.cwiseProduct(z), 0};
      const Eigen::VectorXd x = origin + scale.cwiseProduct(mean + sigma * child.from_mean);
      const std::vector<double> at(x.begin(), x.end());
      child.value = objective(at);
      if (child.value > best.value) best = {at, child.value};
      cloud.push_back(std::move(child));
    }
    if (static_cast<Eigen::Index>(cloud.size()) < strategy.parents) break;
    std::stable_sort(cloud.begin(), cloud.end(),
                     [](const Offspring& a, const Offspring& b) { return a.value > b.value; });

    Eigen::VectorXd shift = Eigen::VectorXd::Zero(n);
    Eigen::MatrixXd spread = Eigen::MatrixXd::Zero(n, n);
    for (Eigen::Index i = 0; i < strategy.parents; ++i) {
      const Eigen::VectorXd& y = cloud[static_cast<std::size_t>(i)].from_mean;
      shift += strategy.weights[i] * y;
      spread += strategy.weights[i] * y * y.transpose();
    }
    mean += sigma * shift;

    const Eigen::VectorXd whitened =
        axes * (axes.transpose() * shift).cwiseQuotient(lengths.cwiseMax(1e-12));
    step_path =
        (1 - strategy.step_decay) * step_path +
        std::sqrt(strategy.step_decay * (2 - strategy.step_decay) * strategy.mass) * whitened;
    const double generations = static_cast<double>(used) / static_cast<double>(strategy.offspring);
    const double norm = step_path.norm();
    const bool is_short = norm / std::sqrt(1 - std::pow(1 - strategy.step_decay, 2 * generations)) <
                          (1.4 + 2 / (static_cast<double>(n) + 1)) * strategy.expected_norm;
    path = (1 - strategy.path_decay) * path;
    if (is_short)
      path += std::sqrt(strategy.path_decay * (2 - strategy.path_decay) * strategy.mass) * shift;
    const double lost = is_short ? 0 : strategy.path_decay * (2 - strategy.path_decay);
    covariance =
        (1 + strategy.rank_one * lost - strategy.rank_one - strategy.rank_mu) * covariance +
        strategy.rank_one * path * path.transpose() + strategy.rank_mu * spread;
    sigma *=
        std::exp(strategy.step_decay / strategy.step_damping * (norm / strategy.expected_norm - 1));
    const Eigen::SelfAdjointEigenSolver<Eigen::MatrixXd> eigen(covariance);
    axes = eigen.eigenvectors();
    lengths = eigen.eigenvalues().cwiseMax(1e-20).cwiseSqrt();
  }
  return best;
}

}  // namespace copunctal
