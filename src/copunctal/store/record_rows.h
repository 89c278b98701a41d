// Rows of the store's tables as records, and how rows are asked for: of one id or of many.
//
// Internal to store/. Whoever needs rows of several tables asks for all of them first and takes
// them afterwards: a database that is far sends them together.
#pragma once

#include <map>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "copunctal/base/result.h"
#include "copunctal/store/database.h"
#include "copunctal/store/records.h"

namespace copunctal {

inline constexpr std::string_view select_practicals =
    "SELECT practical_id, name, created_utc, display, set_hash, plates, exposure_ms, grace_ms,"
    " (SELECT count(*) FROM sittings WHERE sittings.practical_id = practicals.practical_id),"
    " state, loans, card, card_sha256, opened_utc, closed_utc, course, course_group, lateness,"
    " again, keep_until FROM practicals";
inline constexpr std::string_view select_sittings =
    "SELECT sitting_id, practical_id, tell, sex_at_birth, order_seed, state, consented_utc,"
    " created_utc, ended_utc, pseudonym, loan, consent_text, for_class, for_research, way, eye,"
    " person, collect_sha256, set_hash, display FROM sittings WHERE ";

/// A statement with the columns that the answers and their audit have in common.
std::string with_answer_columns(std::string_view before, std::string_view after);

/// Texts as they stand in a column, and back; damage reads as nothing.
std::string text_of(const std::vector<std::string>& symbols);
std::vector<std::string> symbols_in(const std::string& text);
std::string text_of(const DrawnStroke& stroke);
std::string hexadecimal(std::uint64_t number);

/// Of the row that a statement stands at.
PracticalRecord practical_in(const Statement& row);
SittingRecord sitting_in(const Statement& row);  ///< Without its items.
AnswerRecord answer_in(const Statement& row);    ///< Without strokes, and as if it were not void.

/// Calls `take` at each row.
template <class Take>
Result<void> for_each(Statement& rows, const Take& take) {
  for (;;) {
    COPUNCTAL_TRY(const bool has_row, rows.step());
    if (!has_row) return {};
    take(rows);
  }
}

/// "BEFORE IN (ids) AFTER", asked ahead; at most `most_ids` of them. No rows where there are none.
inline constexpr std::size_t most_ids = 256;
Result<Statement> rows_of(Database& database, std::string_view before,
                          std::span<const std::string> ids, std::string_view after = {});

/// Items of sittings, in the order of showing.
class ItemRows {
 public:
  static Result<ItemRows> ask(Database& database, std::span<const std::string> sittings);
  /// By sitting.
  Result<std::map<std::string, std::vector<ItemRecord>, std::less<>>> take() &&;

 private:
  explicit ItemRows(Statement rows) : rows_(std::move(rows)) {}
  Statement rows_;
};

/// Answers that count of sittings, with strokes and whether they are void, by item.
class AnswerRows {
 public:
  static Result<AnswerRows> ask(Database& database, std::span<const std::string> sittings);
  /// By sitting; nothing for one without any.
  Result<std::map<std::string, std::vector<AnswerRecord>, std::less<>>> take() &&;

 private:
  AnswerRows(Statement answers, Statement voids, Statement strokes)
      : answers_(std::move(answers)), voids_(std::move(voids)), strokes_(std::move(strokes)) {}
  Statement answers_, voids_, strokes_;
};

}  // namespace copunctal
