#include "copunctal/store/records.h"

#include <fmt/format.h>

#include <charconv>
#include <nlohmann/json.hpp>

#include "copunctal/base/expects.h"
#include "copunctal/store/database.h"

namespace copunctal {
namespace {

constexpr std::string_view select_practicals =
    "SELECT practical_id, name, created_utc, display, set_hash, plates, exposure_ms, grace_ms,"
    " (SELECT count(*) FROM sittings WHERE sittings.practical_id = practicals.practical_id),"
    " state, loans, card, card_sha256, opened_utc, closed_utc"
    " FROM practicals WHERE ?1 IS NULL OR practical_id = ?1 ORDER BY created_utc, practical_id";

std::optional<std::string> text_or_nothing(const Statement& row, int column) {
  return row.is_null(column) ? std::nullopt : std::optional(row.text(column));
}

std::vector<std::string> symbols_in(const std::string& text);

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
          .closed_utc = text_or_nothing(row, 14)};
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

/// A statement with the columns that the answers and their audit have in common.
std::string with_answer_columns(std::string_view before, std::string_view after) {
  constexpr std::string_view columns =
      "answer_id, sitting_id, item, symbols, end, onset_ms, response_ms, shown_ms, frames,"
      " hidden, page_load, body_sha256, received_utc, received_steady_ns";
  return fmt::format("{} {} {}", before, columns, after);
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
  return answer;
}

Statement& bind_answer(Statement& statement, const AnswerRecord& answer) {
  return statement.bind(answer.id)
      .bind(answer.sitting_id)
      .bind(answer.item)
      .bind(text_of(answer.symbols))
      .bind(answer.end)
      .bind(answer.onset_ms)
      .bind(answer.response_ms)
      .bind(answer.shown_ms)
      .bind(answer.frames)
      .bind(std::int64_t{answer.hidden})
      .bind(answer.page_load)
      .bind(answer.body_sha256)
      .bind(answer.received_utc)
      .bind(answer.received_steady_ns);
}

std::string hexadecimal(std::uint64_t number) {
  return fmt::format("{:016x}", number);
}

std::uint64_t number_in(const std::string& text) {
  std::uint64_t number = 0;
  std::from_chars(text.data(), text.data() + text.size(), number, 16);
  return number;
}

Result<std::vector<ItemRecord>> items_of(Database& database, std::string_view sitting_id) {
  COPUNCTAL_TRY(Statement rows, database.prepare("SELECT item, round, plate, plate_id FROM items"
                                                 " WHERE sitting_id = ?1 ORDER BY item"));
  rows.bind(sitting_id);
  std::vector<ItemRecord> items;
  for (;;) {
    COPUNCTAL_TRY(const bool has_row, rows.step());
    if (!has_row) return items;
    items.push_back({rows.whole(0), rows.text(1), rows.whole(2), rows.text(3)});
  }
}

}  // namespace

Result<std::vector<PracticalRecord>> Records::practicals() const {
  COPUNCTAL_TRY(Statement rows, database_->prepare(select_practicals));
  rows.bind_null();
  std::vector<PracticalRecord> practicals;
  for (;;) {
    COPUNCTAL_TRY(const bool has_row, rows.step());
    if (!has_row) return practicals;
    practicals.push_back(practical_in(rows));
  }
}

Result<std::optional<PracticalRecord>> Records::practical(std::string_view id) const {
  COPUNCTAL_TRY(Statement row, database_->prepare(select_practicals));
  COPUNCTAL_TRY(const bool is_there, row.bind(id).step());
  if (!is_there) return std::nullopt;
  return practical_in(row);
}

namespace {

constexpr std::string_view select_sittings =
    "SELECT sitting_id, practical_id, tell, sex_at_birth, order_seed, state, consented_utc,"
    " created_utc, ended_utc, pseudonym, loan, consent_text, for_class, for_research"
    " FROM sittings WHERE ";

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
  return sitting;
}

}  // namespace

Result<std::optional<SittingRecord>> Records::sitting(std::string_view id) const {
  COPUNCTAL_TRY(Statement row,
                database_->prepare(std::string(select_sittings) + "sitting_id = ?1"));
  COPUNCTAL_TRY(const bool is_there, row.bind(id).step());
  if (!is_there) return std::nullopt;
  SittingRecord sitting = sitting_in(row);
  COPUNCTAL_TRY(sitting.items, items_of(*database_, id));
  return sitting;
}

Result<std::vector<SittingRecord>> Records::sittings_of(std::string_view practical_id) const {
  COPUNCTAL_TRY(Statement rows,
                database_->prepare(std::string(select_sittings) +
                                   "practical_id = ?1 ORDER BY created_utc, sitting_id"));
  rows.bind(practical_id);
  std::vector<SittingRecord> sittings;
  for (;;) {
    COPUNCTAL_TRY(const bool has_row, rows.step());
    if (!has_row) break;
    sittings.push_back(sitting_in(rows));
  }
  for (SittingRecord& sitting : sittings) {
    COPUNCTAL_TRY(sitting.items, items_of(*database_, sitting.id));
  }
  return sittings;
}

Result<std::vector<std::pair<std::string, std::int64_t>>> Records::loans_of(
    std::string_view practical_id) const {
  COPUNCTAL_TRY(Statement rows,
                database_->prepare("SELECT loan, count(*) FROM sittings WHERE practical_id = ?1"
                                   " AND loan IS NOT NULL GROUP BY loan ORDER BY loan"));
  rows.bind(practical_id);
  std::vector<std::pair<std::string, std::int64_t>> loans;
  for (;;) {
    COPUNCTAL_TRY(const bool has_row, rows.step());
    if (!has_row) return loans;
    loans.emplace_back(rows.text(0), rows.whole(1));
  }
}

Result<bool> Records::has_pseudonym(std::string_view practical_id,
                                    std::string_view pseudonym) const {
  COPUNCTAL_TRY(
      Statement row,
      database_->prepare("SELECT 1 FROM sittings WHERE practical_id = ?1 AND pseudonym = ?2"));
  return row.bind(practical_id).bind(pseudonym).step();
}

Result<std::vector<AnswerRecord>> Records::answers_of(std::string_view sitting_id) const {
  COPUNCTAL_TRY(Statement rows, database_->prepare(with_answer_columns(
                                    "SELECT", "FROM answers WHERE sitting_id = ?1 ORDER BY item")));
  rows.bind(sitting_id);
  std::vector<AnswerRecord> answers;
  for (;;) {
    COPUNCTAL_TRY(const bool has_row, rows.step());
    if (!has_row) return answers;
    answers.push_back(answer_in(rows));
  }
}

Result<std::optional<AnswerRecord>> Records::answer(std::string_view id) const {
  COPUNCTAL_TRY(Statement row, database_->prepare(with_answer_columns(
                                   "SELECT", "FROM answers WHERE answer_id = ?1")));
  COPUNCTAL_TRY(const bool is_there, row.bind(id).step());
  if (!is_there) return std::nullopt;
  return answer_in(row);
}

Result<std::vector<std::pair<AuditReason, AnswerRecord>>> Records::refused_answers_of(
    std::string_view sitting_id) const {
  COPUNCTAL_TRY(Statement rows, database_->prepare(with_answer_columns(
                                    "SELECT",
                                    ", reason FROM refused_answers WHERE sitting_id = ?1"
                                    " ORDER BY received_utc, answer_id")));
  rows.bind(sitting_id);
  std::vector<std::pair<AuditReason, AnswerRecord>> refused;
  for (;;) {
    COPUNCTAL_TRY(const bool has_row, rows.step());
    if (!has_row) return refused;
    refused.emplace_back(rows.text(14) == "late" ? AuditReason::late : AuditReason::conflict,
                         answer_in(rows));
  }
}

Result<void> Changes::add(const PracticalRecord& practical) {
  COPUNCTAL_TRY(
      Statement row,
      database_->prepare("INSERT INTO practicals (practical_id, name, created_utc, display,"
                         " set_hash, plates, exposure_ms, grace_ms, state, loans)"
                         " VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10)"));
  return row.bind(practical.id)
      .bind(practical.name)
      .bind(practical.created_utc)
      .bind(practical.display)
      .bind(practical.set_hash)
      .bind(practical.plates)
      .bind(practical.exposure_ms)
      .bind(practical.grace_ms)
      .bind(practical.state)
      .bind(text_of(practical.loans))
      .run();
}

Result<void> Changes::add(const SittingRecord& sitting) {
  {
    COPUNCTAL_TRY(Statement row,
                  database_->prepare(
                      "INSERT INTO sittings (sitting_id, practical_id, tell, sex_at_birth,"
                      " order_seed, state, consented_utc, created_utc, ended_utc,"
                      " pseudonym, loan, consent_text, for_class, for_research)"
                      " VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14)"));
    row.bind(sitting.id)
        .bind(sitting.practical_id)
        .bind(sitting.tell)
        .bind(sitting.sex_at_birth)
        .bind(hexadecimal(sitting.order_seed))
        .bind(sitting.state)
        .bind(sitting.consented_utc)
        .bind(sitting.created_utc)
        .bind(sitting.ended_utc)
        .bind(sitting.pseudonym)
        .bind(sitting.loan)
        .bind(sitting.consent_text)
        .bind(std::int64_t{sitting.for_class})
        .bind(std::int64_t{sitting.for_research});
    if (auto added = row.run(); !added) return added;
  }
  for (const ItemRecord& item : sitting.items) {
    COPUNCTAL_TRY(Statement row,
                  database_->prepare("INSERT INTO items (sitting_id, item, round, plate, plate_id)"
                                     " VALUES (?1, ?2, ?3, ?4, ?5)"));
    row.bind(sitting.id).bind(item.item).bind(item.round).bind(item.plate).bind(item.plate_id);
    if (auto added = row.run(); !added) return added;
  }
  return {};
}

Result<void> Changes::add(const AnswerRecord& answer) {
  COPUNCTAL_TRY(Statement row, database_->prepare(with_answer_columns(
                                   "INSERT INTO answers (",
                                   ") VALUES (?1,?2,?3,?4,?5,?6,?7,?8,?9,?10,?11,?12,?13,?14)")));
  return bind_answer(row, answer).run();
}

Result<void> Changes::refuse(const AnswerRecord& answer, AuditReason reason) {
  COPUNCTAL_TRY(Statement row,
                database_->prepare(with_answer_columns(
                    "INSERT OR IGNORE INTO refused_answers (",
                    ", reason) VALUES (?1,?2,?3,?4,?5,?6,?7,?8,?9,?10,?11,?12,?13,?14,?15)")));
  COPUNCTAL_TRY_VOID(bind_answer(row, answer)
                         .bind(std::string_view(reason == AuditReason::late ? "late" : "conflict"))
                         .run());
  if (reason != AuditReason::conflict || database_->changed() == 0) return {};
  return note(LogEvent::conflict, answer.received_utc, log_subject(answer.sitting_id));
}

Result<void> Changes::note(LogEvent event, std::string_view now_utc, std::string_view subject,
                           std::string_view details) {
  return append_to_log(*database_, event, now_utc, subject, details);
}

Result<void> Changes::end_sitting(std::string_view sitting_id, std::string_view ended_utc) {
  COPUNCTAL_TRY(Statement row, database_->prepare("UPDATE sittings SET state = 'ended',"
                                                  " ended_utc = ?2 WHERE sitting_id = ?1"));
  return row.bind(sitting_id).bind(ended_utc).run();
}

Result<void> Changes::open_practical(std::string_view id, std::string_view card,
                                     std::string_view card_sha256, std::string_view opened_utc) {
  COPUNCTAL_TRY(Statement row,
                database_->prepare("UPDATE practicals SET state = 'open', card = ?2,"
                                   " card_sha256 = ?3, opened_utc = ?4 WHERE practical_id = ?1"));
  return row.bind(id).bind(card).bind(card_sha256).bind(opened_utc).run();
}

Result<void> Changes::close_practical(std::string_view id, std::string_view closed_utc) {
  {
    COPUNCTAL_TRY(Statement row,
                  database_->prepare("UPDATE sittings SET state = 'ended', ended_utc = ?2"
                                     " WHERE practical_id = ?1 AND state = 'running'"));
    if (auto ended = row.bind(id).bind(closed_utc).run(); !ended) return ended;
  }
  COPUNCTAL_TRY(Statement row,
                database_->prepare("UPDATE practicals SET state = 'closed', closed_utc = ?2"
                                   " WHERE practical_id = ?1"));
  return row.bind(id).bind(closed_utc).run();
}

Result<void> Changes::choose(std::string_view sitting_id, std::string_view tell) {
  COPUNCTAL_TRY(Statement row,
                database_->prepare("UPDATE sittings SET tell = ?2 WHERE sitting_id = ?1"));
  return row.bind(sitting_id).bind(tell).run();
}

Result<bool> Changes::remove_sitting(std::string_view sitting_id) {
  COPUNCTAL_TRY(Statement row, database_->prepare("DELETE FROM sittings WHERE sitting_id = ?1"));
  if (auto removed = row.bind(sitting_id).run(); !removed)
    return tl::unexpected(std::move(removed).error());
  const bool was_there = database_->changed() > 0;
  has_removed_ = has_removed_ || was_there;
  return was_there;
}

}  // namespace copunctal
