#include "copunctal/base/csv.h"

#include <gtest/gtest.h>

#include "copunctal/base/random.h"

using namespace copunctal;

namespace {

using Table = std::vector<std::vector<std::string>>;

Table fields_of(std::string_view text) {
  const auto rows = csv_from(text, "t.csv");
  EXPECT_TRUE(rows.has_value()) << (rows ? "" : rows.error().message);
  Table table;
  if (rows)
    for (const CsvRow& row : *rows) table.push_back(row.fields);
  return table;
}

std::string refusal_of(std::string_view text, const CsvLimits& limits = {}) {
  const auto rows = csv_from(text, "t.csv", limits);
  EXPECT_FALSE(rows.has_value()) << text;
  if (rows) return {};
  EXPECT_EQ(rows.error().kind, Error::Kind::bad_input);
  EXPECT_FALSE(rows.error().remedy.empty());
  return rows.error().message;
}

}  // namespace

// RFC 4180, section 2: its own examples, rules 1 to 7.
TEST(Csv, ReadsTheExamplesOfRfc4180) {
  const Table two = {{"aaa", "bbb", "ccc"}, {"zzz", "yyy", "xxx"}};
  EXPECT_EQ(fields_of("aaa,bbb,ccc\r\nzzz,yyy,xxx\r\n"), two);
  EXPECT_EQ(fields_of("aaa,bbb,ccc\r\nzzz,yyy,xxx"), two);
  EXPECT_EQ(fields_of("\"aaa\",\"bbb\",\"ccc\"\r\nzzz,yyy,xxx"), two);
  EXPECT_EQ(fields_of("\"aaa\",\"b\r\nbb\",\"ccc\"\r\nzzz,yyy,xxx"),
            (Table{{"aaa", "b\r\nbb", "ccc"}, {"zzz", "yyy", "xxx"}}));
  EXPECT_EQ(fields_of("\"aaa\",\"b\"\"bb\",\"ccc\""), (Table{{"aaa", "b\"bb", "ccc"}}));
}

TEST(Csv, TakesLineFeedsMarksEmptyLinesAndLettersOfAnyScript) {
  const Table two = {{"a", "b"}, {"ß", "名"}};
  EXPECT_EQ(fields_of("\xEF\xBB\xBF"
                      "a,b\nß,名\n"),
            two);
  EXPECT_EQ(fields_of("a,b\n\r\nß,名\n\n"), two);
  EXPECT_EQ(fields_of(""), Table{});
  EXPECT_EQ(fields_of("a,\n,b\n"), (Table{{"a", ""}, {"", "b"}}));
}

TEST(Csv, NamesTheLineAndColumnOfWhatIsWrong) {
  const auto says = [](const std::string& message, const std::string& place,
                       const std::string& what) {
    EXPECT_TRUE(message.starts_with("t.csv:" + place)) << message;
    EXPECT_NE(message.find(what), std::string::npos) << message;
  };
  says(refusal_of("a,b\nc,\"d"), "2, column 2", "never closed");
  says(refusal_of("a,b\nc,d\"e"), "2, column 2", "inside a field");
  says(refusal_of("a,b\n\"c\"d,e"), "2, column 1", "closing quote");
  says(refusal_of("a,b\nc"), "2, column 2", "1 fields, the header 2");
  says(refusal_of("a,b\nc,d,e"), "2, column 3", "3 fields, the header 2");
  says(refusal_of(std::string_view("a,b\nc,\0", 7)), "2, column 2", "NUL");
  says(refusal_of("a,b\nc,\x1b[0m"), "2, column 2", "control");
  says(refusal_of("a,b\rc,d"), "1, column 2", "control");
  says(refusal_of("\"a\nb\",c\nd,\xff"), "3, column 2", "UTF-8");
  for (const char* bad : {"\xC0\xAF", "\xED\xA0\x80", "\xF4\x90\x80\x80", "\x80", "\xE2\x82"})
    says(refusal_of(bad), "1, column 1", "UTF-8");
  says(refusal_of("a\n" + std::string(65, 'x')), "2, column 1", "longer than 64");
  EXPECT_EQ(fields_of("a\n" + std::string(64, 'x')).size(), 2U);
  says(refusal_of("a\nb\nc", {.rows = 2}), "3, column 1", "more than 2 rows");
  says(refusal_of("a,b,c", {.columns = 2}), "1, column 3", "more than 2 columns");
  EXPECT_NE(refusal_of("a,b,c", {.bytes = 4}).find("larger than 4 bytes"), std::string::npos);
}

// What is written is read back, whatever stands in the fields. 5,000 tables.
TEST(Csv, WhatIsWrittenIsReadBack) {
  RandomStream stream(20301);
  constexpr std::string_view letters = "a,\"\n=+-@'; é";
  for (int trial = 0; trial < 5000; ++trial) {
    Table table;
    std::string text, sheet;
    const std::size_t columns = 2 + stream.below(3);
    for (std::size_t row = 0; row < 1 + stream.below(4); ++row) {
      table.emplace_back();
      for (std::size_t column = 0; column < columns; ++column) {
        std::string field;
        for (std::size_t i = stream.below(5); i > 0; --i) {
          const std::size_t pick = stream.below(12);
          field += pick == 11 ? std::string("é") : std::string(1, letters[pick]);
        }
        text += (column == 0 ? "" : ",") + csv_field(field);
        sheet += (column == 0 ? "" : ",") + csv_spreadsheet_field(field);
        table.back().push_back(field);
      }
      text += "\r\n";
      sheet += "\n";
    }
    ASSERT_EQ(fields_of(text), table) << text;
    Table from_sheet = fields_of(sheet);
    for (auto& row : from_sheet)
      for (std::string& field : row) {
        ASSERT_TRUE(field.empty() || std::string_view("=+-@").find(field[0]) == std::string::npos);
        if (field.starts_with("'")) field.erase(0, 1);
      }
    ASSERT_EQ(from_sheet, table) << sheet;
  }
}
