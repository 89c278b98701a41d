// A practical as tidy tables for a spreadsheet or a statistics program, with their dictionary.
#pragma once

#include <filesystem>
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "copunctal/design/plate_set.h"
#include "copunctal/store/data_keeper.h"

namespace copunctal {

/// Files by name: a CSV a table; wide.csv, a row a sitting with its columns and a column a plate,
/// by the plate's name where the set is known; datapackage.json, the dictionary (a Data Package of
/// Frictionless Data with a Table Schema a table). A text that a spreadsheet would take for a
/// formula has an apostrophe in front, which the dictionary says.
std::map<std::string, std::string> csv_files_of(const std::vector<KeptTable>& tables,
                                                const std::optional<PlateSet>& set);

/// What a column holds, in a sentence; nothing for one the dictionary does not know.
std::optional<std::string> description_of(std::string_view table, std::string_view column);

/// The set of that hash among those in DIR/sets, if it is there.
std::optional<PlateSet> set_of_hash(const std::filesystem::path& data, std::string_view hash);

}  // namespace copunctal
