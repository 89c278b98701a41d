#include "copunctal/colour/difference.h"

#include <fstream>
#include <sstream>

#include <gtest/gtest.h>

#include "copunctal/data/table.h"

namespace copunctal {
namespace {

// The 34 pairs of Sharma, Wu & Dalal (2005), printed to four decimals: tolerance 1e-4.
TEST(Difference, Ciede2000GivesThePublishedPairs) {
  std::ifstream file(COPUNCTAL_SOURCE_DIR "/data/checks/ciede2000_34.csv");
  std::stringstream text;
  text << file.rdbuf();
  const auto pairs = read_table(text.str(), "ciede2000_34.csv");
  ASSERT_TRUE(pairs.has_value());
  ASSERT_EQ(pairs->rows(), 34U);
  for (std::size_t i = 0; i < pairs->rows(); ++i) {
    const auto& c = pairs->columns;
    const Lab p{c[1][i], c[2][i], c[3][i]}, q{c[4][i], c[5][i], c[6][i]};
    EXPECT_NEAR(ciede2000(p, q), c[7][i], 1e-4) << "pair " << i + 1;
    EXPECT_NEAR(ciede2000(q, p), c[7][i], 1e-4) << "pair " << i + 1 << " reversed";
  }
}

// By definition: the white itself is L* = 100; 18.42 % grey is L* = 50 (ISO/CIE 11664-4).
TEST(Difference, LabOfGreys) {
  const Xyz white{0.9505, 1, 1.089};
  EXPECT_NEAR(lab_from(white, white).l, 100, 1e-12);
  const Lab grey = lab_from(0.184187 * white, white);
  EXPECT_NEAR(grey.l, 50, 1e-4);
  EXPECT_NEAR(grey.a, 0, 1e-12);
  EXPECT_NEAR(grey.b, 0, 1e-12);
}

}  // namespace
}  // namespace copunctal
