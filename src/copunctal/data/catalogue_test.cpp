// Audits every embedded table against its provenance: checksum, grid, finite, published checks and,
// for columns marked smooth, single mistyped entries.
#include "copunctal/data/catalogue.h"

#include <algorithm>
#include <cmath>

#include <gtest/gtest.h>

#include "copunctal/base/hash.h"
#include "copunctal/data/table.h"
#include "copunctal/data/table_audit.h"

namespace copunctal {
namespace {

class EveryTable : public testing::TestWithParam<std::string> {};
INSTANTIATE_TEST_SUITE_P(Data, EveryTable, testing::ValuesIn(table_names()));

TEST_P(EveryTable, IsWhatItsProvenanceSays) {
  const auto record = provenance(GetParam());
  ASSERT_TRUE(record.has_value()) << record.error().message;
  EXPECT_FALSE(record->title.empty());
  EXPECT_FALSE(record->source.empty());
  EXPECT_FALSE(record->licence.empty());
  EXPECT_EQ(sha256_hex(*embedded_text(GetParam() + ".csv")), record->sha256);

  const Table& read = table(GetParam());
  EXPECT_EQ(read.column_names, record->columns);
  EXPECT_EQ(record->units.size(), record->columns.size());
  for (const auto& column : read.columns)
    for (const double value : column) EXPECT_TRUE(std::isfinite(value));
  const auto& first = read.columns.front();
  EXPECT_EQ(first.front(), record->first);
  EXPECT_EQ(first.back(), record->last);
  if (record->step > 0) {
    for (std::size_t i = 1; i < first.size(); ++i)
      EXPECT_DOUBLE_EQ(first[i] - first[i - 1], record->step);
  }
  for (const PublishedCheck& check : record->checks) {
    const auto row = std::find(first.begin(), first.end(), check.at);
    ASSERT_NE(row, first.end()) << check.source;
    EXPECT_NEAR(read.column(check.column)[static_cast<std::size_t>(row - first.begin())],
                check.value, check.tolerance)
        << check.source;
  }
}

TEST_P(EveryTable, HasNoEntryItsNeighboursContradict) {
  const auto record = provenance(GetParam());
  ASSERT_TRUE(record.has_value());
  const Table& read = table(GetParam());
  EXPECT_TRUE(record->smooth.size() + 1 == read.columns.size() || !record->rough.empty())
      << "columns that are not smooth need a reason";
  const auto known_rough = [&](const std::string& column, double at) {
    return std::any_of(record->rough_entries.begin(), record->rough_entries.end(),
                       [&](const RoughEntry& entry) {
                         return entry.at == at && entry.column == column && !entry.reason.empty();
                       });
  };
  for (const std::string& column : record->smooth)
    for (const SuspectEntry& suspect : find_suspect_entries(read.column(column))) {
      const double at = read.columns.front()[suspect.index];
      if (known_rough(column, at)) continue;
      ADD_FAILURE() << column << " at " << at << ": off by " << suspect.error << " (likeness "
                    << suspect.likeness << ")";
    }
}

// The value with its second and third significant digits exchanged, as a typist does.
double with_swapped_digits(double value) {
  const double unit = std::pow(10, std::floor(std::log10(std::abs(value))) - 2);
  const int three = static_cast<int>(std::floor(std::abs(value) / unit + 1e-9));
  const int tens = three / 10 % 10, ones = three % 10;
  const double change = (ones - tens) * 9 * unit;
  return value + (value < 0 ? -change : change);
}

// In every smooth column, two digits exchanged in one entry are found.
TEST_P(EveryTable, WouldShowASwap) {
  const auto record = provenance(GetParam());
  ASSERT_TRUE(record.has_value());
  for (const std::string& column : record->smooth) {
    std::vector<double> values = table(GetParam()).column(column);
    std::size_t at = 0;  // the largest entry, away from the ends, whose two digits differ
    for (std::size_t i = 8; i + 8 < values.size(); ++i)
      if (with_swapped_digits(values[i]) != values[i] &&
          (at == 0 || std::abs(values[i]) > std::abs(values[at])))
        at = i;
    ASSERT_NE(at, 0U);
    values[at] = with_swapped_digits(values[at]);
    const auto suspects = find_suspect_entries(values);
    EXPECT_TRUE(std::any_of(suspects.begin(), suspects.end(),
                            [&](const SuspectEntry& s) { return s.index == at; }))
        << column << " at " << at;
  }
}

}  // namespace
}  // namespace copunctal
