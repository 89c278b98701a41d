#include "copunctal/base/parallel.h"

#include <atomic>
#include <numeric>
#include <stdexcept>
#include <vector>

#include <gtest/gtest.h>

namespace copunctal {
namespace {

TEST(Parallel, VisitsEveryIndexOnce) {
  std::vector<int> visits(1000);
  parallel_for(
      visits.size(), [&](std::size_t i) { ++visits[i]; }, 4);
  EXPECT_EQ(visits, std::vector<int>(1000, 1));
}

TEST(Parallel, HandsOnTheException) {
  EXPECT_THROW(parallel_for(
                   100,
                   [](std::size_t i) {
                     if (i == 37) throw std::runtime_error("37");
                   },
                   2),
               std::runtime_error);
}

}  // namespace
}  // namespace copunctal
