// Published tables, as published: CSV in, named columns of numbers out.
#pragma once

#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

#include "copunctal/base/result.h"

namespace copunctal {

/// A table of numbers: one vector per column, all of the same length.
struct Table {
  std::string name;
  std::vector<std::string> column_names;
  std::vector<std::vector<double>> columns;

  std::size_t rows() const { return columns.empty() ? 0 : columns.front().size(); }
  /// The column called `name`; expects() that there is one.
  const std::vector<double>& column(std::string_view column_name) const;
};

/// Reads CSV: lines starting with '#' are comments, the first other line names the columns, every
/// other line has one number per column. Errors (bad_input) name file, line and remedy.
Result<Table> read_table(std::string_view csv, std::string name);

/// An embedded table by name ("xyz1931"), read once. expects() that it exists.
const Table& table(std::string_view name);

}  // namespace copunctal
