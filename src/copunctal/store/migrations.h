// The schema, as the steps that lead to it.
//
// Internal to store/. A step that has been released is never edited: add another one.
#pragma once

#include <span>
#include <string>
#include <string_view>

#include "copunctal/base/result.h"
#include "copunctal/store/database.h"

namespace copunctal {

/// One step of the schema; its number is its place in the list, from 1.
///
/// One script serves both databases when it keeps to what postgres_sql.h says. A step that cannot,
/// such as one that rebuilds a table, which PostgreSQL alters in place, says `postgres` too; that
/// runs as it is, in the schema copunctal. Both must lead to the same tables and columns.
struct Migration {
  std::string_view name;
  std::string_view script;
  std::string_view postgres = {};  ///< Empty: `script`, translated.
};

std::span<const Migration> all_migrations();

/// Brings an empty or older database up to the last of `steps`, all or nothing, and notes each
/// step with its SHA-256. Errors: io for a database newer than this program; bad_input for one of
/// another program or whose steps differ from ours.
Result<void> migrate(Database& database, std::string_view now_utc, const std::string& file,
                     std::span<const Migration> steps = all_migrations());

}  // namespace copunctal
