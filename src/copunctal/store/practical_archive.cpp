#include "copunctal/store/practical_archive.h"

#include <algorithm>
#include <set>

#include <nlohmann/json.hpp>

#include "copunctal/base/text.h"
#include "copunctal/store/database.h"
#include "copunctal/store/identifiers.h"

namespace copunctal {
namespace {

using Json = nlohmann::json;

constexpr std::int64_t format_of_this_program = 1;
constexpr std::string_view root_table = "practicals";

std::vector<std::string> names_of(const std::vector<TableColumn>& columns) {
  std::vector<std::string> names;
  for (const TableColumn& column : columns) names.push_back(column.name);
  return names;
}

std::string select_of(const FamilyTable& table, const std::string& where) {
  return "SELECT " + quoted_names(names_of(table.columns)) + " FROM " + quoted_name(table.name) +
         " WHERE " + where + " ORDER BY " + quoted_names(table.key);
}

Json value_in(const Statement& row, int at, ColumnType type) {
  if (row.is_null(at)) return nullptr;
  switch (type) {
    case ColumnType::whole:
      return row.whole(at);
    case ColumnType::real:
      return row.real(at);
    case ColumnType::text:
      return row.text(at);
  }
  return nullptr;
}

Json row_in(const Statement& row, const FamilyTable& table) {
  Json object = Json::object();
  for (std::size_t i = 0; i < table.columns.size(); ++i)
    object[table.columns[i].name] = value_in(row, static_cast<int>(i), table.columns[i].type);
  return object;
}

// A real number may have a whole one's look: its column says what it is.
std::string cell_text(const Json& value) {
  return value.is_number_float() ? shortest(value.get<double>()) : value.dump();
}

// One form only: keys in the order of their bytes, no white space.
std::string row_text(const Json& row) {
  std::string text;
  for (const auto& [key, value] : row.items())
    text += (text.empty() ? "" : ",") + Json(key).dump() + ":" + cell_text(value);
  return "{" + text + "}";
}

/// Rows by table, each as row_text() writes it, in order.
using RowTexts = std::map<std::string, std::vector<std::string>>;

Result<RowTexts> rows_of(Database& database, const std::vector<FamilyTable>& family,
                         std::string_view practical) {
  RowTexts texts;
  for (const FamilyTable& table : family) {
    std::vector<std::string>& rows = texts[table.name];
    COPUNCTAL_TRY(Statement row, database.prepare(select_of(table, table.where)));
    row.bind(practical);
    for (;;) {
      COPUNCTAL_TRY(const bool has_row, row.step());
      if (!has_row) break;
      try {
        rows.push_back(row_text(row_in(row, table)));
      } catch (const Json::exception&) {
        return fail(Error::Kind::io, "table " + table.name + " holds text that is not UTF-8",
                    "database", table.name, "restore a backup");
      }
    }
  }
  return texts;
}

tl::unexpected<Error> no_practical(std::string_view id) {
  return fail(Error::Kind::not_found, "there is no practical " + std::string(id), "practical",
              std::string(id), "copunctal practical list names them");
}

// ---- reading ----------------------------------------------------------------------------------

/// A place in a file: "term.json: tables.sittings[2].tell".
struct Place {
  std::string file, path;

  Place in(const std::string& key) const { return {file, path.empty() ? key : path + "." + key}; }
  Place at(std::size_t index) const { return {file, path + "[" + std::to_string(index) + "]"}; }
  tl::unexpected<Error> wrong(const std::string& what,
                              Error::Kind kind = Error::Kind::bad_input) const {
    return fail(kind, file + ": " + (path.empty() ? "" : path + ": ") + what, "archive", path,
                "import a file as `copunctal practical export` wrote it");
  }
};

// Parsed with each key once, and no deeper than an archive goes.
Result<Json> parsed(std::string_view text, const Place& file) {
  std::vector<std::set<std::string>> keys;
  std::string twice;
  constexpr int deepest = 5;
  bool is_deep = false;
  const auto watch = [&](int depth, Json::parse_event_t event, Json& value) {
    is_deep = is_deep || depth > deepest;
    if (event == Json::parse_event_t::object_start) keys.emplace_back();
    if (event == Json::parse_event_t::object_end) keys.pop_back();
    if (event == Json::parse_event_t::key && !keys.back().insert(value.get<std::string>()).second &&
        twice.empty())
      twice = value.get<std::string>();
    return !is_deep;
  };
  try {
    Json json = Json::parse(text, watch);
    if (is_deep) return file.wrong("nested deeper than an archive goes");
    if (!twice.empty()) return file.wrong("the key '" + twice + "' stands twice in one object");
    return json;
  } catch (const Json::exception& error) {
    return file.wrong(std::string("this is no JSON (") + error.what() + ")");
  }
}

Result<Json> checked_cell(const TableColumn& column, const Json& value, const Place& place) {
  if (value.is_null()) {
    if (column.is_required) return place.wrong("must not be null");
    return value;
  }
  switch (column.type) {
    case ColumnType::whole:
      if (!value.is_number_integer()) return place.wrong("must be a whole number");
      if (value.is_number_unsigned() && value.get<std::uint64_t>() > INT64_MAX)
        return place.wrong("must be a whole number of 64 bits");
      return Json(value.get<std::int64_t>());
    case ColumnType::real:
      if (!value.is_number()) return place.wrong("must be a number");
      return Json(value.get<double>());
    case ColumnType::text:
      if (!value.is_string()) return place.wrong("must be text");
      return value;
  }
  return value;
}

/// A row with every column; those an older schema did not have are left to the database.
struct ArchivedRow {
  std::vector<std::pair<TableColumn, Json>> cells;
  Json key = Json::array();
};

Result<ArchivedRow> checked_row(const FamilyTable& table, const Json& row, bool is_older,
                                const Place& place) {
  if (!row.is_object()) return place.wrong("must be an object, a row of " + table.name);
  const std::vector<std::string> known = names_of(table.columns);
  for (const auto& [name, value] : row.items())
    if (std::find(known.begin(), known.end(), name) == known.end())
      return place.in(name).wrong("table " + table.name + " has no such column");
  ArchivedRow checked;
  std::map<std::string, Json> by_name;
  for (const TableColumn& column : table.columns) {
    const auto at = row.find(column.name);
    if (at == row.end()) {
      if (!is_older || column.key > 0) return place.in(column.name).wrong("is missing");
      continue;
    }
    COPUNCTAL_TRY(Json cell, checked_cell(column, *at, place.in(column.name)));
    by_name[column.name] = cell;
    checked.cells.emplace_back(column, std::move(cell));
  }
  for (const std::string& name : table.key) checked.key.push_back(by_name[name]);
  return checked;
}

void bind(Statement& statement, const Json& value, ColumnType type) {
  if (value.is_null()) {
    statement.bind_null();
  } else if (type == ColumnType::whole) {
    statement.bind(value.get<std::int64_t>());
  } else if (type == ColumnType::real) {
    statement.bind(value.get<double>());
  } else {
    statement.bind(std::string_view(value.get_ref<const std::string&>()));
  }
}

ColumnType type_of(const FamilyTable& table, const std::string& name) {
  const auto at = std::find_if(table.columns.begin(), table.columns.end(),
                               [&](const TableColumn& column) { return column.name == name; });
  return at->type;
}

// The row of that key as it is stored, or nothing.
Result<std::optional<Json>> stored_row(Database& database, const FamilyTable& table,
                                       const ArchivedRow& row) {
  std::vector<std::string> conditions;
  for (const std::string& name : table.key) conditions.push_back(quoted_name(name) + " = ?");
  COPUNCTAL_TRY(Statement question,
                database.prepare(select_of(table, joined(conditions, " AND "))));
  for (std::size_t i = 0; i < table.key.size(); ++i)
    bind(question, row.key[i], type_of(table, table.key[i]));
  COPUNCTAL_TRY(const bool is_there, question.step());
  if (!is_there) return std::nullopt;
  return row_in(question, table);
}

// True when it was added, false when the same was there.
Result<bool> add_row(Database& database, const FamilyTable& table, const ArchivedRow& row,
                     const Place& place) {
  COPUNCTAL_TRY(const std::optional<Json> stored, stored_row(database, table, row));
  if (stored) {
    for (const auto& [column, value] : row.cells)
      if (cell_text(stored->at(column.name)) != cell_text(value))
        return place.in(column.name)
            .wrong("the database has this row already, with something else here",
                   Error::Kind::conflict);
    return false;
  }
  std::vector<std::string> names, marks;
  for (const auto& [column, value] : row.cells) {
    names.push_back(column.name);
    marks.emplace_back("?");
  }
  COPUNCTAL_TRY(Statement insert,
                database.prepare("INSERT INTO " + quoted_name(table.name) + " (" +
                                 quoted_names(names) + ") VALUES (" + joined(marks, ", ") + ")"));
  for (const auto& [column, value] : row.cells) bind(insert, value, column.type);
  if (auto added = insert.run(); !added) {
    // A rule of the schema is the file's fault; a full disk is not.
    if (database.failure() == DatabaseFailure::reference)
      return place.wrong("refers to a row that is not there");
    if (database.failure() == DatabaseFailure::rule)
      return place.wrong("the database does not allow this row (" + added.error().message + ")");
    return tl::unexpected(std::move(added).error());
  }
  return true;
}

Result<void> check_heads(const Json& archive, std::int64_t schema, const Place& file) {
  if (!archive.is_object()) return file.wrong("must be an object");
  const std::set<std::string> known = {"format", "intended_use", "practical", "schema", "tables"};
  for (const auto& [key, value] : archive.items())
    if (!known.contains(key)) return file.in(key).wrong("there is no such key");
  for (const std::string& key : known)
    if (!archive.contains(key)) return file.in(key).wrong("is missing");
  for (const char* key : {"format", "schema"})
    if (!archive.at(key).is_number_integer()) return file.in(key).wrong("must be a whole number");
  if (archive.at("format") != format_of_this_program || archive.at("schema") > schema)
    return fail(Error::Kind::io,
                file.file + ": written by a newer program (format " + archive.at("format").dump() +
                    ", schema " + archive.at("schema").dump() + "; this one knows " +
                    std::to_string(format_of_this_program) + " and " + std::to_string(schema) + ")",
                "archive", "schema", "use the newer program");
  if (archive.at("schema") < 1) return file.in("schema").wrong("must be 1 or more");
  if (!archive.at("intended_use").is_string()) return file.in("intended_use").wrong("must be text");
  if (!archive.at("practical").is_string() ||
      !is_id(archive.at("practical").get_ref<const std::string&>()))
    return file.in("practical").wrong("must be an id of 32 hexadecimal digits");
  if (!archive.at("tables").is_object()) return file.in("tables").wrong("must be an object");
  return {};
}

}  // namespace

Result<std::string> archive_of(Database& database, std::string_view practical,
                               std::string_view intended_use) {
  COPUNCTAL_TRY(const auto family, family_of(database, root_table));
  COPUNCTAL_TRY(const SchemaMark mark, database.schema_mark());
  COPUNCTAL_TRY(const RowTexts rows, rows_of(database, family, practical));
  if (rows.at(std::string(root_table)).empty()) return no_practical(practical);
  std::string text = "{\"format\":" + std::to_string(format_of_this_program) +
                     ",\n\"intended_use\":" + Json(intended_use).dump() +
                     ",\n\"practical\":" + Json(practical).dump() +
                     ",\n\"schema\":" + std::to_string(mark.version) + ",\n\"tables\":{";
  std::string between;
  for (const auto& [table, its_rows] : rows) {
    text += between + "\n" + Json(table).dump() + ":[";
    for (std::size_t i = 0; i < its_rows.size(); ++i) text += (i == 0 ? "\n" : ",\n") + its_rows[i];
    text += "]";
    between = ",";
  }
  return text + "}}\n";
}

Result<Imported> add_archive(Database& database, std::string_view text, const std::string& name) {
  const Place file{name, ""};
  COPUNCTAL_TRY(const Json archive, parsed(text, file));
  COPUNCTAL_TRY(const SchemaMark mark, database.schema_mark());
  COPUNCTAL_TRY_VOID(check_heads(archive, mark.version, file));
  COPUNCTAL_TRY(const auto family, family_of(database, root_table));
  const bool is_older = archive.at("schema") < mark.version;
  const Json& tables = archive.at("tables");
  for (const auto& [table, rows] : tables.items()) {
    const bool is_known = std::any_of(
        family.begin(), family.end(),
        [&, &its_name = table](const FamilyTable& one) { return one.name == its_name; });
    if (!is_known) return file.in("tables").in(table).wrong("there is no such table");
    if (!rows.is_array()) return file.in("tables").in(table).wrong("must be a list of rows");
  }

  Imported imported{archive.at("practical").get<std::string>(), {}};
  std::map<std::string, std::vector<Json>> keys;
  for (const FamilyTable& table : family) {
    const Place place = file.in("tables").in(table.name);
    const auto rows = tables.find(table.name);
    if (rows == tables.end()) {
      if (!is_older) return place.wrong("is missing");
      continue;
    }
    std::set<std::string> seen;
    for (std::size_t i = 0; i < rows->size(); ++i) {
      COPUNCTAL_TRY(const ArchivedRow row, checked_row(table, (*rows)[i], is_older, place.at(i)));
      if (!seen.insert(row.key.dump()).second) return place.at(i).wrong("this row stands twice");
      COPUNCTAL_TRY(const bool is_new, add_row(database, table, row, place.at(i)));
      if (is_new) ++imported.added[table.name];
      keys[table.name].push_back(row.key);
    }
  }

  // Every row must belong to the practical the file names.
  for (const FamilyTable& table : family) {
    COPUNCTAL_TRY(Statement row,
                  database.prepare("SELECT " + quoted_names(table.key) + " FROM " +
                                   quoted_name(table.name) + " WHERE " + table.where));
    row.bind(std::string_view(imported.practical));
    std::set<std::string> belong;
    for (;;) {
      COPUNCTAL_TRY(const bool has_row, row.step());
      if (!has_row) break;
      Json key = Json::array();
      for (std::size_t i = 0; i < table.key.size(); ++i)
        key.push_back(value_in(row, static_cast<int>(i), type_of(table, table.key[i])));
      belong.insert(key.dump());
    }
    const auto& its_keys = keys[table.name];
    for (std::size_t i = 0; i < its_keys.size(); ++i)
      if (!belong.contains(its_keys[i].dump()))
        return file.in("tables")
            .in(table.name)
            .at(i)
            .wrong("does not belong to the practical the file names");
  }
  if (keys[std::string(root_table)].size() != 1)
    return file.in("tables").in(std::string(root_table)).wrong("must hold one practical");
  return imported;
}

Result<std::vector<TidyTable>> tidy_tables_of(Database& database, std::string_view practical) {
  COPUNCTAL_TRY(const auto family, family_of(database, root_table));
  std::vector<TidyTable> tables;
  for (const FamilyTable& table : family) {
    TidyTable tidy{table, {}};
    COPUNCTAL_TRY(Statement row, database.prepare(select_of(table, table.where)));
    row.bind(practical);
    for (;;) {
      COPUNCTAL_TRY(const bool has_row, row.step());
      if (!has_row) break;
      auto& cells = tidy.rows.emplace_back();
      for (std::size_t i = 0; i < table.columns.size(); ++i) {
        const int at = static_cast<int>(i);
        if (row.is_null(at))
          cells.emplace_back();
        else
          cells.emplace_back(table.columns[i].type == ColumnType::real ? shortest(row.real(at))
                                                                       : row.text(at));
      }
    }
    if (table.name == root_table && tidy.rows.empty()) return no_practical(practical);
    tables.push_back(std::move(tidy));
  }
  return tables;
}

Result<RowCounts> count_family(Database& database, std::string_view root, std::string_view id) {
  COPUNCTAL_TRY(const auto family, family_of(database, root));
  RowCounts counts;
  for (const FamilyTable& table : family) {
    COPUNCTAL_TRY(Statement question,
                  database.prepare("SELECT count(*) FROM " + quoted_name(table.name) + " WHERE " +
                                   table.where));
    COPUNCTAL_TRY(const bool has_row, question.bind(id).step());
    counts[table.name] = has_row ? question.whole(0) : 0;
  }
  return counts;
}

// Children first; what a key's ON DELETE took along with its parent was counted before.
Result<RowCounts> remove_family(Database& database, std::string_view root, std::string_view id) {
  COPUNCTAL_TRY(const RowCounts counts, count_family(database, root, id));
  COPUNCTAL_TRY(const auto family, family_of(database, root));
  for (auto table = family.rbegin(); table != family.rend(); ++table) {
    COPUNCTAL_TRY(Statement removal, database.prepare("DELETE FROM " + quoted_name(table->name) +
                                                      " WHERE " + table->where));
    COPUNCTAL_TRY_VOID(removal.bind(id).run());
  }
  return counts;
}

}  // namespace copunctal
