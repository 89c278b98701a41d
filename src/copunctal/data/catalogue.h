// Where every embedded number comes from.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "copunctal/base/result.h"

namespace copunctal {

/// A printed value the table must contain, with where it is printed.
struct PublishedCheck {
  double at = 0;  ///< Value of the table's first column.
  std::string column;
  double value = 0, tolerance = 0;
  std::string source;
};

/// An entry that looks mistyped and is not, with the reason.
struct RoughEntry {
  double at = 0;  ///< Value of the table's first column.
  std::string column, reason;
};

/// One table's provenance, from the .toml beside it.
struct Provenance {
  std::string name, title, source, licence, sha256;
  std::optional<std::string> doi;
  double first = 0, last = 0, step = 0;  ///< Of the first column; step 0: not on an even grid.
  std::vector<std::string> columns, units;
  std::vector<std::string> smooth;  ///< Columns in which one wrong entry would show.
  std::string rough;                ///< Why the other columns are exempt.
  std::vector<RoughEntry> rough_entries;
  std::vector<PublishedCheck> checks;
};

/// Text of an embedded data file, or nothing.
std::optional<std::string_view> embedded_text(std::string_view path);

/// Names of all embedded tables, sorted.
std::vector<std::string> table_names();

/// Provenance of a table. Errors: not_found, or bad_input for a malformed .toml.
Result<Provenance> provenance(std::string_view name);

}  // namespace copunctal
