#include "copunctal/store/record_rows.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <charconv>
#include <nlohmann/json.hpp>

#include "copunctal/base/expects.h"

namespace copunctal {
namespace {

std::optional<std::string> text_or_nothing(const Statement& row, int column) {
  return row.is_null(column) ? std::nullopt : std::optional(row.text(column));
}

std::uint64_t number_in(const std::string& text) {
  std::uint64_t number = 0;
  std::from_chars(text.data(), text.data() + text.size(), number, 16);
  return number;
}

/// The column was written as points; damage reads as none.
DrawnStroke stroke_in(const std::string& text) {
  const auto array = nlohmann::json::parse(text, nullptr, /*allow_exceptions=*/false);
  DrawnStroke stroke;
  if (!array.is_array()) return stroke;
  for (const auto& point : array)
    if (point.is_array() && point.size() == 3 && point[0].is_number() && point[1].is_number() &&
        point[2].is_number())
      stroke.push_back({point[0], point[1], point[2]});
  return stroke;
}

}  // namespace

std::string with_answer_columns(std::string_view before, std::string_view after) {
  constexpr std::string_view columns =
      "answer_id, sitting_id, item, symbols, end, onset_ms, response_ms, shown_ms, frames,"
      " hidden, page_load, body_sha256, received_utc, received_steady_ns, hesitated, first_symbols,"
      " dropped";

  return fmt::format("{} {} {}", before, columns, after);
}

std::string text_of(const std::vector<std::string>& symbols) {
  return nlohmann::json(symbols).dump();
}

/// The column was checked to be a JSON array when it was written; damage reads as no symbols.
std::vector<std::string> symbols_in(const std::string& text) {
  const auto array = nlohmann::json::parse(text, nullptr, /*allow_exceptions=*/false);
  std::vector<std::string> symbols;
  if (!array.is_array()) return symbols;
  for (const auto& symbol : array)
    if (symbol.is_string()) symbols.push_back(symbol.get<std::string>());
  return symbols;
}

std::string text_of(const DrawnStroke& stroke) {
  return nlohmann::json(stroke).dump();
}

std::string hexadecimal(std::uint64_t number) {
  return fmt::format("{:016x}", number);
}

PracticalRecord practical_in(const Statement& row) {
  return {.id = row.text(0),
          .name = row.text(1),
          .created_utc = row.text(2),
          .display = row.text(3),
          .set_hash = row.text(4),
          .plates = row.whole(5),
          .exposure_ms = row.whole(6),
          .grace_ms = row.whole(7),
          .sittings = row.whole(8),
          .state = row.text(9),
          .loans = symbols_in(row.text(10)),
          .card = text_or_nothing(row, 11),
          .card_sha256 = text_or_nothing(row, 12),
          .opened_utc = text_or_nothing(row, 13),
          .closed_utc = text_or_nothing(row, 14),
          .course = row.text(15),
          .group = row.text(16),
          .lateness = row.text(17),
          .again = row.whole(18) != 0,
          .keep_until = text_or_nothing(row, 19)};
}

SittingRecord sitting_in(const Statement& row) {
  SittingRecord sitting;
  sitting.id = row.text(0);
  sitting.practical_id = row.text(1);
  sitting.tell = row.text(2);
  if (!row.is_null(3)) sitting.sex_at_birth = row.text(3);
  sitting.order_seed = number_in(row.text(4));
  sitting.state = row.text(5);
  sitting.consented_utc = row.text(6);
  sitting.created_utc = row.text(7);
  sitting.ended_utc = text_or_nothing(row, 8);
  sitting.pseudonym = row.text(9);
  sitting.loan = text_or_nothing(row, 10);
  sitting.consent_text = row.whole(11);
  sitting.for_class = row.whole(12) != 0;
  sitting.for_research = row.whole(13) != 0;
  sitting.way = row.text(14);
  sitting.eye = row.text(15);
  sitting.person = text_or_nothing(row, 16);
  sitting.collect_sha256 = text_or_nothing(row, 17);
  sitting.set_hash = text_or_nothing(row, 18);
  sitting.display = text_or_nothing(row, 19);
  return sitting;
}

AnswerRecord answer_in(const Statement& row) {
  AnswerRecord answer{.id = row.text(0),
                      .sitting_id = row.text(1),
                      .item = row.whole(2),
                      .symbols = symbols_in(row.text(3)),
                      .end = row.text(4),
                      .onset_ms = row.real(5),
                      .response_ms = std::nullopt,
                      .shown_ms = row.real(7),
                      .frames = row.whole(8),
                      .hidden = row.whole(9) != 0,
                      .page_load = row.text(10),
                      .body_sha256 = row.text(11),
                      .received_utc = row.text(12),
                      .received_steady_ns = row.whole(13)};
  if (!row.is_null(6)) answer.response_ms = row.real(6);
  answer.hesitated = row.whole(14) != 0;
  if (!row.is_null(15)) answer.first_symbols = symbols_in(row.text(15));
  answer.dropped = row.whole(16);
  return answer;
}

// A statement is prepared for a few numbers of ids; what is too much is filled with an id that
// nothing has.
Result<Statement> rows_of(Database& database, std::string_view before,
                          std::span<const std::string> ids, std::string_view after) {
  expects(ids.size() <= most_ids);
  constexpr std::array<std::size_t, 4> numbers = {1, 8, 64, most_ids};
  const std::size_t places = *std::find_if(
      numbers.begin(), numbers.end(), [&](std::size_t number) { return number >= ids.size(); });
  std::string sql = fmt::format("{} IN (?1", before);
  for (std::size_t i = 2; i <= places; ++i) sql += fmt::format(", ?{}", i);
  COPUNCTAL_TRY(Statement rows, database.prepare(fmt::format("{}) {}", sql, after)));
  for (std::size_t i = 0; i < places; ++i)
    rows.bind(i < ids.size() ? std::string_view{ids[i]} : std::string_view{});
  COPUNCTAL_TRY_VOID(rows.ask_ahead());
  return rows;
}

Result<ItemRows> ItemRows::ask(Database& database, std::span<const std::string> sittings) {
  COPUNCTAL_TRY(Statement rows,
                rows_of(database,
                        "SELECT item, round, plate, plate_id, repeats, sitting_id FROM items"
                        " WHERE sitting_id",
                        sittings, "ORDER BY sitting_id, item"));
  return ItemRows(std::move(rows));
}

Result<std::map<std::string, std::vector<ItemRecord>, std::less<>>> ItemRows::take() && {
  std::map<std::string, std::vector<ItemRecord>, std::less<>> all;
  COPUNCTAL_TRY_VOID(for_each(rows_, [&](const Statement& row) {
    auto& items = all[row.text(5)];
    items.push_back({row.whole(0), row.text(1), row.whole(2), row.text(3), std::nullopt});
    if (!row.is_null(4)) items.back().repeats = row.whole(4);
  }));
  return all;
}

Result<AnswerRows> AnswerRows::ask(Database& database, std::span<const std::string> sittings) {
  COPUNCTAL_TRY(Statement answers,
                rows_of(database, with_answer_columns("SELECT", "FROM answers WHERE sitting_id"),
                        sittings, "ORDER BY sitting_id, item"));
  COPUNCTAL_TRY(Statement voids,
                rows_of(database, "SELECT sitting_id, item FROM voids WHERE sitting_id", sittings));
  COPUNCTAL_TRY(Statement strokes,
                rows_of(database, "SELECT sitting_id, item, points FROM strokes WHERE sitting_id",
                        sittings, "ORDER BY sitting_id, item, stroke"));
  return AnswerRows(std::move(answers), std::move(voids), std::move(strokes));
}

Result<std::map<std::string, std::vector<AnswerRecord>, std::less<>>> AnswerRows::take() && {
  std::map<std::string, std::vector<AnswerRecord>, std::less<>> all;
  COPUNCTAL_TRY_VOID(for_each(answers_, [&](const Statement& row) {
    AnswerRecord answer = answer_in(row);
    all[answer.sitting_id].push_back(std::move(answer));
  }));
  const auto answer_at = [&](const Statement& row) -> AnswerRecord* {
    const auto sitting = all.find(row.text(0));
    if (sitting == all.end()) return nullptr;
    for (AnswerRecord& answer : sitting->second)
      if (answer.item == row.whole(1)) return &answer;
    return nullptr;
  };
  COPUNCTAL_TRY_VOID(for_each(voids_, [&](const Statement& row) {
    if (AnswerRecord* answer = answer_at(row)) answer->is_void = true;
  }));
  COPUNCTAL_TRY_VOID(for_each(strokes_, [&](const Statement& row) {
    if (AnswerRecord* answer = answer_at(row)) answer->strokes.push_back(stroke_in(row.text(2)));
  }));
  return all;
}

}  // namespace copunctal
