#include "copunctal/colour/quantities.h"

#include <algorithm>
#include <cmath>
#include <iostream>

#include <gtest/gtest.h>
#include <Eigen/Dense>

#include "copunctal/base/random.h"

namespace copunctal {
namespace {

using Map = LinearMap<LinearRgb, Xyz>;

// A random matrix of a given condition number: two random rotations about random singular values.
Eigen::Matrix3d matrix_of_condition(RandomStream& random, double condition) {
  const auto rotation = [&] {
    Eigen::Matrix3d m;
    for (int i = 0; i < 3; ++i)
      for (int j = 0; j < 3; ++j) m(i, j) = random.normal();
    return Eigen::Matrix3d(Eigen::HouseholderQR<Eigen::Matrix3d>(m).householderQ());
  };
  const Eigen::Vector3d values(1, std::pow(condition, -random.uniform()), 1 / condition);
  return rotation() * values.asDiagonal() * rotation();
}

Map map_of(const Eigen::Matrix3d& m) {
  Map map;
  for (std::size_t i = 0; i < 3; ++i)
    for (std::size_t j = 0; j < 3; ++j)
      map.rows[i][j] = m(static_cast<Eigen::Index>(i), static_cast<Eigen::Index>(j));
  return map;
}

// Property: 10^5 matrices of condition 1 to 10^3: the largest entry of A A^-1 - I stays below
// 1e-10, and our inverse is Eigen's within the condition's rounding.
TEST(Quantities, AMapTimesItsInverseIsTheIdentity) {
  RandomStream random(6, 1);
  double worst = 0;
  for (int i = 0; i < 100'000; ++i) {
    const double condition = std::pow(10, random.uniform(0, 3));
    const Eigen::Matrix3d m = matrix_of_condition(random, condition);
    const Map map = map_of(m);
    const auto back = inverse(map);
    const auto product = map * back;
    const Eigen::Matrix3d reference = m.inverse();
    for (std::size_t r = 0; r < 3; ++r) {
      for (std::size_t c = 0; c < 3; ++c) {
        const double miss = std::abs(product.rows[r][c] - (r == c ? 1 : 0));
        worst = std::max(worst, miss);
        ASSERT_LE(miss, 1e-10) << i;
        ASSERT_NEAR(back.rows[r][c],
                    reference(static_cast<Eigen::Index>(r), static_cast<Eigen::Index>(c)),
                    1e-9 * condition)
            << i;
      }
    }
  }
  std::cout << "largest entry of A inverse(A) - I over 10^5 matrices: " << worst << "\n";
}

// Law: light adds through any map.
TEST(Quantities, MapsAreLinear) {
  RandomStream random(6, 2);
  for (int i = 0; i < 1000; ++i) {
    const Map map = map_of(matrix_of_condition(random, 50));
    const LinearRgb a{random.normal(), random.normal(), random.normal()},
        b{random.normal(), random.normal(), random.normal()};
    const Xyz together = map(a + 2.0 * b), apart = map(a) + 2.0 * map(b);
    EXPECT_NEAR(together.x, apart.x, 1e-13);
    EXPECT_NEAR(together.y, apart.y, 1e-13);
    EXPECT_NEAR(together.z, apart.z, 1e-13);
  }
}

}  // namespace
}  // namespace copunctal
