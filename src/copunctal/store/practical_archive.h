// One practical as text: everything that belongs to it, out and in again.
//
// Internal to store/. The text is JSON in one form only: keys sorted, numbers at their shortest, a
// line a row, rows in the order of their primary keys. So the same content is the same bytes,
// whichever database it comes from.
#pragma once

#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "copunctal/base/result.h"
#include "copunctal/store/data_keeper.h"
#include "copunctal/store/family.h"

namespace copunctal {

/// The practical's text. `intended_use` stands in it. Error: not_found.
Result<std::string> archive_of(Database& database, std::string_view practical,
                               std::string_view intended_use);

/// Adds what is missing of the practical in `text`, within the transaction that is open; on an
/// Error that must be rolled back. Answers how many rows were added to which table, and the
/// practical's id. Errors: bad_input naming the place for anything that is not as archive_of()
/// writes it, or whose rows do not belong together; conflict for a row that is there already and
/// says something else; io for a newer schema.
struct Imported {
  std::string practical;
  RowCounts added;
};
Result<Imported> add_archive(Database& database, std::string_view text, const std::string& name);

/// Cells as text, null told from empty.
struct TidyTable {
  FamilyTable table;
  std::vector<std::vector<std::optional<std::string>>> rows;
};
Result<std::vector<TidyTable>> tidy_tables_of(Database& database, std::string_view practical);

/// Removes the root's row and all that belongs to it, within the transaction that is open.
Result<RowCounts> remove_family(Database& database, std::string_view root, std::string_view id);
/// How many rows that would be.
Result<RowCounts> count_family(Database& database, std::string_view root, std::string_view id);

}  // namespace copunctal
