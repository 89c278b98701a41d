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
    " state, loans, card, card_sha256, opened_utc, closed_utc, course, course_group, lateness, "
    "again,"
    " keep_until"
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
          .closed_utc = text_or_nothing(row, 14),
          .course = row.text(15),
          .group = row.text(16),
          .lateness = row.text(17),
          .again = row.whole(18) != 0,
          .keep_until = text_or_nothing(row, 19)};
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
      " hidden, page_load, body_sha256, received_utc, received_steady_ns, hesitated, first_symbols,"
      " dropped";

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
  answer.hesitated = row.whole(14) != 0;
  if (!row.is_null(15)) answer.first_symbols = symbols_in(row.text(15));
  answer.dropped = row.whole(16);
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
      .bind(answer.received_steady_ns)
      .bind(std::int64_t{answer.hesitated})
      .bind(answer.first_symbols ? std::optional(text_of(*answer.first_symbols)) : std::nullopt)
      .bind(answer.dropped);
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
  COPUNCTAL_TRY(Statement rows,
                database.prepare("SELECT item, round, plate, plate_id, repeats FROM items"
                                 " WHERE sitting_id = ?1 ORDER BY item"));
  rows.bind(sitting_id);
  std::vector<ItemRecord> items;
  for (;;) {
    COPUNCTAL_TRY(const bool has_row, rows.step());
    if (!has_row) return items;
    items.push_back({rows.whole(0), rows.text(1), rows.whole(2), rows.text(3), std::nullopt});
    if (!rows.is_null(4)) items.back().repeats = rows.whole(4);
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
    " created_utc, ended_utc, pseudonym, loan, consent_text, for_class, for_research, way, eye,"
    " person, collect_sha256, set_hash, display FROM sittings WHERE ";

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

namespace {

Result<std::vector<SittingRecord>> sittings_where(Database& database, std::string_view condition,
                                                  std::string_view id) {
  std::vector<SittingRecord> sittings;
  {
    COPUNCTAL_TRY(Statement rows,
                  database.prepare(fmt::format("{}{} = ?1 ORDER BY created_utc, sitting_id",
                                               select_sittings, condition)));
    rows.bind(id);
    for (;;) {
      COPUNCTAL_TRY(const bool has_row, rows.step());
      if (!has_row) break;
      sittings.push_back(sitting_in(rows));
    }
  }
  for (SittingRecord& sitting : sittings) {
    COPUNCTAL_TRY(sitting.items, items_of(database, sitting.id));
  }
  return sittings;
}

}  // namespace

Result<std::vector<SittingRecord>> Records::sittings_of(std::string_view practical_id) const {
  return sittings_where(*database_, "practical_id", practical_id);
}

Result<std::vector<SittingRecord>> Records::sittings_of_person(std::string_view person) const {
  return sittings_where(*database_, "person", person);
}

Result<std::optional<std::string>> Records::sitting_to_collect(
    std::string_view collect_sha256) const {
  COPUNCTAL_TRY(Statement row,
                database_->prepare("SELECT sitting_id FROM sittings WHERE collect_sha256 = ?1"));
  COPUNCTAL_TRY(const bool is_there, row.bind(collect_sha256).step());
  return is_there ? std::optional(row.text(0)) : std::nullopt;
}

Result<std::vector<std::pair<std::int64_t, std::string>>> Records::voids_of(
    std::string_view sitting_id) const {
  COPUNCTAL_TRY(
      Statement rows,
      database_->prepare("SELECT item, reason FROM voids WHERE sitting_id = ?1 ORDER BY item"));
  rows.bind(sitting_id);
  std::vector<std::pair<std::int64_t, std::string>> voids;
  for (;;) {
    COPUNCTAL_TRY(const bool has_row, rows.step());
    if (!has_row) return voids;
    voids.emplace_back(rows.whole(0), rows.text(1));
  }
}

Result<std::optional<SignOffRecord>> Records::sign_off_of(std::string_view sitting_id) const {
  COPUNCTAL_TRY(Statement row, database_->prepare("SELECT sitting_id, done, examiner, supervisor,"
                                                  " remark, signed_utc FROM sign_offs"
                                                  " WHERE sitting_id = ?1"));
  COPUNCTAL_TRY(const bool is_there, row.bind(sitting_id).step());
  if (!is_there) return std::nullopt;
  return SignOffRecord{row.text(0), symbols_in(row.text(1)), row.text(2), row.text(3), row.text(4),
                       row.text(5)};
}

Result<std::vector<std::string>> Records::participations_of(std::string_view practical_id) const {
  COPUNCTAL_TRY(Statement rows,
                database_->prepare("SELECT entry FROM participations WHERE practical_id = ?1"
                                   " ORDER BY entry"));
  rows.bind(practical_id);
  std::vector<std::string> entries;
  for (;;) {
    COPUNCTAL_TRY(const bool has_row, rows.step());
    if (!has_row) return entries;
    entries.push_back(rows.text(0));
  }
}

Result<std::vector<SheetRating>> Records::sheet_ratings_of(std::string_view practical_id) const {
  COPUNCTAL_TRY(Statement rows,
                database_->prepare("SELECT rater, sitting_id, rating, kind FROM sheet_ratings"
                                   " WHERE sitting_id IN (SELECT sitting_id FROM sittings"
                                   " WHERE practical_id = ?1) ORDER BY rater, sitting_id"));
  rows.bind(practical_id);
  std::vector<SheetRating> ratings;
  for (;;) {
    COPUNCTAL_TRY(const bool has_row, rows.step());
    if (!has_row) return ratings;
    ratings.push_back({rows.text(0), rows.text(1), rows.whole(2), rows.text(3)});
  }
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

namespace {

std::string text_of(const DrawnStroke& stroke) {
  return nlohmann::json(stroke).dump();
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

Result<std::vector<AnswerRecord>> Records::answers_of(std::string_view sitting_id) const {
  std::vector<AnswerRecord> answers;
  {
    COPUNCTAL_TRY(Statement rows,
                  database_->prepare(with_answer_columns(
                      "SELECT", "FROM answers WHERE sitting_id = ?1 ORDER BY item")));
    rows.bind(sitting_id);
    for (;;) {
      COPUNCTAL_TRY(const bool has_row, rows.step());
      if (!has_row) break;
      answers.push_back(answer_in(rows));
    }
  }
  const auto answer_to = [&](std::int64_t item) -> AnswerRecord* {
    for (AnswerRecord& answer : answers)
      if (answer.item == item) return &answer;
    return nullptr;
  };
  COPUNCTAL_TRY(const auto voids, voids_of(sitting_id));
  for (const auto& [item, reason] : voids)
    if (AnswerRecord* answer = answer_to(item)) answer->is_void = true;
  COPUNCTAL_TRY(Statement rows, database_->prepare("SELECT item, points FROM strokes"
                                                   " WHERE sitting_id = ?1 ORDER BY item, stroke"));
  rows.bind(sitting_id);
  for (;;) {
    COPUNCTAL_TRY(const bool has_row, rows.step());
    if (!has_row) return answers;
    if (AnswerRecord* answer = answer_to(rows.whole(0)))
      answer->strokes.push_back(stroke_in(rows.text(1)));
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
    refused.emplace_back(rows.text(17) == "late" ? AuditReason::late : AuditReason::conflict,
                         answer_in(rows));
  }
}

Result<void> Changes::add(const PracticalRecord& practical) {
  COPUNCTAL_TRY(
      Statement row,
      database_->prepare("INSERT INTO practicals (practical_id, name, created_utc, display,"
                         " set_hash, plates, exposure_ms, grace_ms, state, loans, course,"
                         " course_group, lateness, again, keep_until)"
                         " VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14,"
                         " ?15)"));
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
      .bind(practical.course)
      .bind(practical.group)
      .bind(practical.lateness)
      .bind(std::int64_t{practical.again})
      .bind(practical.keep_until)
      .run();
}

Result<void> Changes::add(const SittingRecord& sitting) {
  {
    COPUNCTAL_TRY(Statement row,
                  database_->prepare(
                      "INSERT INTO sittings (sitting_id, practical_id, tell, sex_at_birth,"
                      " order_seed, state, consented_utc, created_utc, ended_utc,"
                      " pseudonym, loan, consent_text, for_class, for_research, way, eye, person,"
                      " collect_sha256, set_hash, display) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, "
                      "?9, ?10, ?11, ?12,"
                      " ?13, ?14, ?15, ?16, ?17, ?18, ?19, ?20)"));
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
        .bind(std::int64_t{sitting.for_research})
        .bind(sitting.way)
        .bind(sitting.eye)
        .bind(sitting.person)
        .bind(sitting.collect_sha256)
        .bind(sitting.set_hash)
        .bind(sitting.display);
    if (auto added = row.run(); !added) return added;
  }
  return add(sitting.id, sitting.items);
}

Result<void> Changes::add(std::string_view sitting_id, const std::vector<ItemRecord>& items) {
  for (const ItemRecord& item : items) {
    COPUNCTAL_TRY(Statement row, database_->prepare("INSERT INTO items (sitting_id, item, round,"
                                                    " plate, plate_id, repeats)"
                                                    " VALUES (?1, ?2, ?3, ?4, ?5, ?6)"));
    row.bind(sitting_id).bind(item.item).bind(item.round).bind(item.plate).bind(item.plate_id);
    if (auto added = row.bind(item.repeats).run(); !added) return added;
  }
  return {};
}

Result<void> Changes::add(const AnswerRecord& answer) {
  COPUNCTAL_TRY(Statement row, database_->prepare(with_answer_columns(
                                   "INSERT INTO answers (",
                                   ") VALUES (?1,?2,?3,?4,?5,?6,?7,?8,?9,?10,?11,?12,?13,?14,"
                                   "?15,?16,?17)")));
  COPUNCTAL_TRY_VOID(bind_answer(row, answer).run());
  for (std::size_t i = 0; i < answer.strokes.size(); ++i) {
    COPUNCTAL_TRY(Statement stroke,
                  database_->prepare("INSERT INTO strokes (sitting_id, item, stroke, points)"
                                     " VALUES (?1, ?2, ?3, ?4)"));
    COPUNCTAL_TRY_VOID(stroke.bind(answer.sitting_id)
                           .bind(answer.item)
                           .bind(static_cast<std::int64_t>(i))
                           .bind(text_of(answer.strokes[i]))
                           .run());
  }
  return {};
}

Result<void> Changes::declare_void(std::string_view sitting_id, std::int64_t item,
                                   std::string_view reason, std::string_view voided_utc) {
  COPUNCTAL_TRY(Statement row,
                database_->prepare("INSERT INTO voids (sitting_id, item, reason, voided_utc)"
                                   " VALUES (?1, ?2, ?3, ?4)"));
  return row.bind(sitting_id).bind(item).bind(reason).bind(voided_utc).run();
}

Result<void> Changes::add(const SignOffRecord& sign_off) {
  COPUNCTAL_TRY(Statement row,
                database_->prepare("INSERT INTO sign_offs (sitting_id, done, examiner, supervisor,"
                                   " remark, signed_utc) VALUES (?1, ?2, ?3, ?4, ?5, ?6)"));
  return row.bind(sign_off.sitting_id)
      .bind(text_of(sign_off.done))
      .bind(sign_off.examiner)
      .bind(sign_off.supervisor)
      .bind(sign_off.remark)
      .bind(sign_off.signed_utc)
      .run();
}

Result<void> Changes::add_participation(std::string_view practical_id, std::string_view entry) {
  COPUNCTAL_TRY(Statement row, database_->prepare("INSERT INTO participations (practical_id, entry)"
                                                  " VALUES (?1, ?2) ON CONFLICT DO NOTHING"));
  return row.bind(practical_id).bind(entry).run();
}

Result<void> Changes::put(const SheetRating& rating) {
  COPUNCTAL_TRY(
      Statement row,
      database_->prepare("INSERT INTO sheet_ratings (rater, sitting_id, rating, kind)"
                         " VALUES (?1, ?2, ?3, ?4) ON CONFLICT (rater, sitting_id)"
                         " DO UPDATE SET rating = excluded.rating, kind = excluded.kind"));
  return row.bind(rating.rater).bind(rating.sitting_id).bind(rating.rating).bind(rating.kind).run();
}

Result<void> Changes::set_collect_code(std::string_view sitting_id,
                                       std::string_view collect_sha256) {
  COPUNCTAL_TRY(Statement row, database_->prepare("UPDATE sittings SET collect_sha256 = ?2"
                                                  " WHERE sitting_id = ?1"));
  return row.bind(sitting_id).bind(collect_sha256).run();
}

Result<void> Changes::keep_practical_until(std::string_view id,
                                           std::optional<std::string_view> day) {
  COPUNCTAL_TRY(Statement row, database_->prepare("UPDATE practicals SET keep_until = ?2"
                                                  " WHERE practical_id = ?1"));
  return row.bind(id).bind(day).run();
}

Result<void> Changes::refuse(const AnswerRecord& answer, AuditReason reason) {
  COPUNCTAL_TRY(
      Statement row,
      database_->prepare(with_answer_columns(
          "INSERT INTO refused_answers (",
          ", reason) VALUES (?1,?2,?3,?4,?5,?6,?7,?8,?9,?10,?11,?12,?13,?14,?15,?16,?17,?18)"
          " ON CONFLICT DO NOTHING")));
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
