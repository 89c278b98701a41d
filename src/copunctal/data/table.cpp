#include "copunctal/data/table.h"

#include <algorithm>
#include <map>
#include <mutex>
#include <utility>

#include "copunctal/base/expects.h"
#include "copunctal/base/text.h"
#include "copunctal/data/catalogue.h"

namespace copunctal {
namespace {

tl::unexpected<Error> bad_line(const std::string& name, std::size_t line, std::string_view what,
                               std::string_view remedy) {
  const std::string place = name + ":" + std::to_string(line);
  return fail(Error::Kind::bad_input, place + ": " + std::string(what), "table", place,
              std::string(remedy));
}

}  // namespace

const std::vector<double>& Table::column(std::string_view column_name) const {
  const auto at = std::find(column_names.begin(), column_names.end(), column_name);
  expects(at != column_names.end());
  return columns[static_cast<std::size_t>(at - column_names.begin())];
}

Result<Table> read_table(std::string_view csv, std::string name) {
  Table table;
  table.name = std::move(name);
  std::size_t line_number = 0;
  for (const std::string_view raw : split(csv, '\n')) {
    ++line_number;
    const std::string_view line = trimmed(raw);
    if (line.empty() || line.front() == '#') continue;
    const auto cells = split(line, ',');
    if (table.column_names.empty()) {
      for (const std::string_view cell : cells) table.column_names.emplace_back(trimmed(cell));
      table.columns.resize(cells.size());
      continue;
    }
    if (cells.size() != table.columns.size())
      return bad_line(table.name, line_number,
                      std::to_string(cells.size()) + " cells where the header names " +
                          std::to_string(table.columns.size()),
                      "give every line one number per column");
    for (std::size_t i = 0; i < cells.size(); ++i) {
      const auto value = number_from(cells[i]);
      if (!value)
        return bad_line(table.name, line_number, "'" + std::string(cells[i]) + "' is not a number",
                        "write a finite decimal number");
      table.columns[i].push_back(*value);
    }
  }
  if (table.rows() == 0)
    return bad_line(table.name, line_number, "no rows", "give a header line and rows of numbers");
  return table;
}

const Table& table(std::string_view name) {
  static std::mutex lock;
  static std::map<std::string, Table, std::less<>> read;
  const std::scoped_lock hold(lock);
  if (const auto known = read.find(name); known != read.end()) return known->second;
  const auto text = embedded_text(std::string(name) + ".csv");
  expects(text.has_value());
  auto parsed = read_table(*text, std::string(name) + ".csv");
  expects(parsed.has_value());
  return read.emplace(std::string(name), std::move(*parsed)).first->second;
}

}  // namespace copunctal
