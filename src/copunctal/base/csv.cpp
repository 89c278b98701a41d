#include "copunctal/base/csv.h"

#include <algorithm>
#include <optional>

#include "copunctal/base/text.h"

namespace copunctal {
namespace {

constexpr std::string_view byte_order_mark = "\xEF\xBB\xBF";

unsigned byte_at(std::string_view bytes, std::size_t i) {
  return static_cast<unsigned char>(bytes[i]);
}

/// How many bytes the character at `i` takes; 0 when there is none. The ranges of the second byte
/// are those of RFC 3629, section 4.
std::size_t character_at(std::string_view bytes, std::size_t i) {
  const unsigned first = byte_at(bytes, i);
  if (first < 0x80) return 1;
  const std::size_t size = first >= 0xC2 && first <= 0xDF   ? 2
                           : first >= 0xE0 && first <= 0xEF ? 3
                           : first >= 0xF0 && first <= 0xF4 ? 4
                                                            : 0;
  if (size == 0 || i + size > bytes.size()) return 0;
  const unsigned second = byte_at(bytes, i + 1);
  const unsigned least = first == 0xE0 ? 0xA0 : first == 0xF0 ? 0x90 : 0x80;
  const unsigned most = first == 0xED ? 0x9F : first == 0xF4 ? 0x8F : 0xBF;
  if (second < least || second > most) return 0;
  for (std::size_t k = 2; k < size; ++k)
    if ((byte_at(bytes, i + k) & 0xC0) != 0x80) return 0;
  return size;
}

/// Walks the text once, and knows where it is.
class Reader {
 public:
  Reader(std::string_view text, const std::string& name, const CsvLimits& limits)
      : text_(text), name_(name), limits_(limits) {}

  Result<std::vector<CsvRow>> rows() {
    std::vector<CsvRow> rows;
    while (at_ < text_.size()) {
      COPUNCTAL_TRY(CsvRow row, record());
      if (row.fields.size() == 1 && row.fields.front().empty()) continue;
      if (rows.size() == limits_.rows)
        return wrong(row.line, 1, "more than " + std::to_string(limits_.rows) + " rows",
                     "split the file");
      if (!rows.empty() && row.fields.size() != rows.front().fields.size())
        return wrong(row.line, std::min(row.fields.size(), rows.front().fields.size()) + 1,
                     "the row has " + std::to_string(row.fields.size()) + " fields, the header " +
                         std::to_string(rows.front().fields.size()),
                     "give every row as many fields as the header; put fields with commas in "
                     "quotes");
      rows.push_back(std::move(row));
    }
    return rows;
  }

 private:
  tl::unexpected<Error> wrong(std::size_t line, std::size_t column, const std::string& what,
                              const std::string& remedy) const {
    const std::string place = csv_place(name_, line, column);
    return fail(Error::Kind::bad_input, place + ": " + what, "table", place, remedy);
  }

  bool at_line_end() const {
    return at_ >= text_.size() || text_[at_] == '\n' || text_.substr(at_, 2) == "\r\n";
  }

  Result<CsvRow> record() {
    CsvRow row{line_, {}};
    for (;;) {
      if (row.fields.size() == limits_.columns)
        return wrong(row.line, limits_.columns + 1,
                     "more than " + std::to_string(limits_.columns) + " columns",
                     "leave out columns that are not asked for");
      COPUNCTAL_TRY(std::string field, this->field(row.fields.size() + 1));
      row.fields.push_back(std::move(field));
      if (at_line_end()) break;
      ++at_;  // the comma
    }
    if (at_ < text_.size()) at_ += text_[at_] == '\n' ? 1U : 2U;
    ++line_;
    return row;
  }

  Result<std::string> field(std::size_t column) {
    const bool is_quoted = at_ < text_.size() && text_[at_] == '"';
    const std::size_t line = line_;
    if (is_quoted) ++at_;
    std::string field;
    std::size_t characters = 0;
    for (;;) {
      if (!is_quoted && (at_line_end() || text_[at_] == ',')) return field;
      if (at_ >= text_.size())
        return wrong(line, column, "a quote is opened and never closed", "close it, or double it");
      if (text_[at_] == '"') {
        if (!is_quoted)
          return wrong(line_, column, "a quote stands inside a field without quotes",
                       "put the field in quotes and double the quote inside");
        ++at_;
        if (at_ >= text_.size() || text_[at_] != '"') break;
      }
      COPUNCTAL_TRY(const std::size_t size, character(column, is_quoted));
      if (++characters > limits_.field_characters)
        return wrong(
            line, column,
            "the field is longer than " + std::to_string(limits_.field_characters) + " characters",
            "shorten it");
      field.append(text_.substr(at_, size));
      at_ += size;
    }
    if (!at_line_end() && text_[at_] != ',')
      return wrong(line_, column, "something follows a closing quote",
                   "put a comma there, or double the quote inside the field");
    return field;
  }

  /// The size of the character here, which may stand in a field.
  Result<std::size_t> character(std::size_t column, bool is_quoted) {
    const std::size_t size = character_at(text_, at_);
    if (size == 0)
      return wrong(line_, column, "the text is not UTF-8", "save the table as CSV in UTF-8");
    if (text_[at_] == '\n') ++line_;
    const bool is_line_end = is_quoted && at_line_end();
    const bool is_control = byte_at(text_, at_) < 0x20 || text_[at_] == 0x7F;
    if (text_[at_] == '\0')
      return wrong(line_, column, "a NUL character", "save the table as CSV in UTF-8");
    if (is_control && !is_line_end && !(is_quoted && text_[at_] == '\n'))
      return wrong(line_, column, "a control character",
                   "end lines with LF or CRLF, and separate fields by commas");
    return size;
  }

  std::string_view text_;
  const std::string& name_;
  const CsvLimits& limits_;
  std::size_t at_ = 0, line_ = 1;
};

}  // namespace

bool is_utf8(std::string_view bytes) {
  for (std::size_t i = 0; i < bytes.size();) {
    const std::size_t size = character_at(bytes, i);
    if (size == 0) return false;
    i += size;
  }
  return true;
}

std::string csv_place(const std::string& name, std::size_t line, std::size_t column) {
  return name + ":" + std::to_string(line) + ", column " + std::to_string(column);
}

Result<std::vector<CsvRow>> csv_from(std::string_view text, const std::string& name,
                                     const CsvLimits& limits) {
  if (text.size() > limits.bytes)
    return fail(Error::Kind::bad_input,
                name + ": larger than " + std::to_string(limits.bytes) + " bytes", "table", name,
                "split the file");
  if (text.starts_with(byte_order_mark)) text.remove_prefix(byte_order_mark.size());
  return Reader(text, name, limits).rows();
}

std::string csv_field(std::string_view text) {
  if (text.find_first_of(",\"\r\n") == std::string_view::npos) return std::string(text);
  std::string quoted = "\"";
  for (const char c : text) {
    if (c == '"') quoted += '"';
    quoted += c;
  }
  return quoted + "\"";
}

std::string csv_spreadsheet_field(std::string_view text) {
  constexpr std::string_view begins_a_formula = "=+-@\t\r'";
  if (text.empty() || begins_a_formula.find(text.front()) == std::string_view::npos)
    return csv_field(text);
  return csv_field("'" + std::string(text));
}

}  // namespace copunctal
