// What belongs to a practical or a sitting, found in the schema by its foreign keys.
//
// Internal to store/. Tables that later migrations add are found by themselves as soon as they
// refer, over however many steps, to the row they belong to.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "copunctal/base/result.h"
#include "copunctal/store/database.h"

namespace copunctal {

/// A table of the family, and which of its rows belong.
struct FamilyTable {
  std::string name;
  std::vector<TableColumn> columns;  ///< As the table has them.
  std::vector<std::string> key;      ///< The primary key's columns.
  std::vector<ForeignKey> foreign_keys;
  std::string where;  ///< SQL: true of the rows that belong to the root's row whose key is ?1.
};

/// The root and every table that refers to it, parents before their children. `root` has a primary
/// key of one column. Error: unsupported for a column or a circle of references this cannot carry.
Result<std::vector<FamilyTable>> family_of(Database& database, std::string_view root);

/// A name in SQL.
std::string quoted_name(std::string_view name);
/// "a", "b" for SQL.
std::string quoted_names(const std::vector<std::string>& names);

}  // namespace copunctal
