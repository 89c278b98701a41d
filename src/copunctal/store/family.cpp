#include "copunctal/store/family.h"

#include <algorithm>
#include <map>
#include <set>

#include "copunctal/base/expects.h"
#include "copunctal/base/text.h"
#include "copunctal/store/database.h"

namespace copunctal {
namespace {

tl::unexpected<Error> cannot_carry(const std::string& what) {
  return fail(Error::Kind::unsupported, "the database's schema cannot be carried: " + what,
              "schema", what, "use the program that made this database");
}

Result<void> read_columns(Database& database, FamilyTable& table) {
  COPUNCTAL_TRY(table.columns, database.columns(table.name));
  std::map<int, std::string> key;
  for (const TableColumn& column : table.columns)
    if (column.key > 0) key[column.key] = column.name;
  for (const auto& [place, name] : key) table.key.push_back(name);
  if (table.key.empty()) return cannot_carry(table.name + " without a primary key");
  return {};
}

std::string condition_on(const ForeignKey& key, const FamilyTable& parent) {
  const auto& to = key.to_columns.empty() ? parent.key : key.to_columns;
  expects(to.size() == key.from_columns.size());
  return "(" + quoted_names(key.from_columns) + ") IN (SELECT " + quoted_names(to) + " FROM " +
         quoted_name(parent.name) + " WHERE " + parent.where + ")";
}

}  // namespace

std::string quoted_name(std::string_view name) {
  std::string quoted = "\"";
  for (const char c : name) {
    if (c == '"') quoted += '"';
    quoted += c;
  }
  return quoted + "\"";
}

std::string quoted_names(const std::vector<std::string>& names) {
  std::vector<std::string> quoted;
  quoted.reserve(names.size());
  for (const std::string& name : names) quoted.push_back(quoted_name(name));
  return joined(quoted, ", ");
}

Result<std::vector<FamilyTable>> family_of(Database& database, std::string_view root) {
  COPUNCTAL_TRY(const auto names, database.tables());
  std::map<std::string, FamilyTable> tables;
  for (const std::string& name : names) {
    FamilyTable table{.name = name, .columns = {}, .key = {}, .foreign_keys = {}, .where = {}};
    COPUNCTAL_TRY(table.foreign_keys, database.foreign_keys(name));
    tables.emplace(name, std::move(table));
  }
  expects(tables.contains(std::string(root)));

  std::set<std::string> members = {std::string(root)};
  const auto has_parent_in = [&](const FamilyTable& table) {
    return std::any_of(table.foreign_keys.begin(), table.foreign_keys.end(),
                       [&](const ForeignKey& key) { return members.contains(key.to); });
  };
  for (bool grew = true; grew;) {
    grew = false;
    for (const auto& [name, table] : tables)
      if (!members.contains(name) && has_parent_in(table)) grew = members.insert(name).second;
  }

  std::vector<FamilyTable> family;
  std::map<std::string, std::size_t> placed;
  while (family.size() < members.size()) {
    const std::size_t before = family.size();
    for (const std::string& name : members) {
      FamilyTable& table = tables.at(name);
      const auto waits = [&](const ForeignKey& key) {
        return name != root && members.contains(key.to) && !placed.contains(key.to);
      };
      if (placed.contains(name) ||
          std::any_of(table.foreign_keys.begin(), table.foreign_keys.end(), waits))
        continue;
      COPUNCTAL_TRY_VOID(read_columns(database, table));
      if (name == root) {
        if (table.key.size() != 1) return cannot_carry(name + " has a key of several columns");
        table.where = quoted_name(table.key.front()) + " = ?1";
      }
      std::vector<std::string> conditions;
      if (name != root)
        for (const ForeignKey& key : table.foreign_keys)
          if (const auto parent = placed.find(key.to); parent != placed.end())
            conditions.push_back(condition_on(key, family[parent->second]));
      if (!conditions.empty()) table.where = "(" + joined(conditions, " OR ") + ")";
      placed.emplace(name, family.size());
      family.push_back(table);
    }
    if (family.size() == before) return cannot_carry("a circle of references");
  }
  return family;
}

}  // namespace copunctal
