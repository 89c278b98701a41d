// Tables as RFC 4180 text: read whole or refused with the row and column at fault.
#pragma once

#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

#include "copunctal/base/result.h"

namespace copunctal {

/// A record and the line of the file it begins on, from 1; quoted fields may span lines.
struct CsvRow {
  std::size_t line = 0;
  std::vector<std::string> fields;
};

struct CsvLimits {
  std::size_t bytes = 5'000'000;
  std::size_t rows = 100'000;
  std::size_t columns = 512;
  std::size_t field_characters = 64;
};

/// Whether the bytes are UTF-8 (RFC 3629): no overlong forms, surrogates or numbers past U+10FFFF.
bool is_utf8(std::string_view bytes);

/// "answers.csv:12, column 3": how every message about a cell begins.
std::string csv_place(const std::string& name, std::size_t line, std::size_t column);

/// The records of the text, with or without a byte order mark, lines ended by CRLF or LF, empty
/// lines left out; every record as wide as the first. `name` stands in messages. Errors:
/// bad_input with the place for bytes that are no UTF-8, control characters (NUL among them), a
/// quote left open or out of place, a lone CR, a record of another width, or more than the limits.
Result<std::vector<CsvRow>> csv_from(std::string_view text, const std::string& name,
                                     const CsvLimits& limits = {});

/// A field as RFC 4180 wants it: in quotes, doubled inside, where it holds a comma, a quote or a
/// line's end.
std::string csv_field(std::string_view text);

/// The same for a text field of a table that people open in a spreadsheet: with an apostrophe in
/// front where its beginning would be taken for a formula (= + - @, tab, CR) or is an apostrophe
/// itself, so that the first apostrophe of such a field is never part of it.
std::string csv_spreadsheet_field(std::string_view text);

}  // namespace copunctal
