#include "copunctal/store/records.h"

#include <fmt/format.h>

#include <algorithm>
#include <set>

#include "copunctal/store/database.h"
#include "copunctal/store/record_rows.h"

namespace copunctal {
namespace {

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

}  // namespace

Result<std::vector<PracticalRecord>> Records::practicals() const {
  COPUNCTAL_TRY(Statement rows, database_->prepare(std::string(select_practicals) +
                                                   " ORDER BY created_utc, practical_id"));
  std::vector<PracticalRecord> practicals;
  for (;;) {
    COPUNCTAL_TRY(const bool has_row, rows.step());
    if (!has_row) return practicals;
    practicals.push_back(practical_in(rows));
  }
}

Result<std::optional<PracticalRecord>> Records::practical(std::string_view id) const {
  if (const auto known = foresight_.practicals.find(id); known != foresight_.practicals.end())
    return known->second;
  COPUNCTAL_TRY(Statement row,
                database_->prepare(std::string(select_practicals) + " WHERE practical_id = ?1"));
  COPUNCTAL_TRY(const bool is_there, row.bind(id).step());
  if (!is_there) return std::nullopt;
  return practical_in(row);
}

Result<std::optional<SittingRecord>> Records::sitting(std::string_view id) const {
  if (const auto known = foresight_.sittings.find(id); known != foresight_.sittings.end())
    return known->second;
  const std::array ids = {std::string(id)};
  COPUNCTAL_TRY(Statement row,
                rows_of(*database_, std::string(select_sittings) + "sitting_id", ids));
  COPUNCTAL_TRY(ItemRows item_rows, ItemRows::ask(*database_, ids));
  COPUNCTAL_TRY(const bool is_there, row.step());
  if (!is_there) return std::nullopt;
  SittingRecord sitting = sitting_in(row);
  COPUNCTAL_TRY(auto items, std::move(item_rows).take());
  sitting.items = std::move(items[sitting.id]);
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
  for (std::size_t from = 0; from < sittings.size(); from += most_ids) {
    const std::size_t to = std::min(from + most_ids, sittings.size());
    std::vector<std::string> ids;
    for (std::size_t i = from; i < to; ++i) ids.push_back(sittings[i].id);
    COPUNCTAL_TRY(ItemRows rows, ItemRows::ask(database, ids));
    COPUNCTAL_TRY(auto items, std::move(rows).take());
    for (std::size_t i = from; i < to; ++i) sittings[i].items = std::move(items[sittings[i].id]);
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

Result<void> Records::foresee(const std::vector<ToRead>& changes) {
  std::set<std::string> sitting_set, answer_set, practical_set;
  for (const ToRead& change : changes) {
    if (!change.sitting.empty()) sitting_set.insert(change.sitting);
    if (!change.answer.empty()) answer_set.insert(change.answer);
    if (!change.practical.empty()) practical_set.insert(change.practical);
  }
  const std::vector<std::string> sittings(sitting_set.begin(), sitting_set.end()),
      answers(answer_set.begin(), answer_set.end()),
      practicals(practical_set.begin(), practical_set.end());
  if (sittings.empty() && answers.empty() && practicals.empty()) return {};

  COPUNCTAL_TRY(Statement sitting_rows,
                rows_of(*database_, std::string(select_sittings) + "sitting_id", sittings));
  COPUNCTAL_TRY(ItemRows item_rows, ItemRows::ask(*database_, sittings));
  COPUNCTAL_TRY(AnswerRows answers_of_rows, AnswerRows::ask(*database_, sittings));
  COPUNCTAL_TRY(
      Statement answer_rows,
      rows_of(*database_, with_answer_columns("SELECT", "FROM answers WHERE answer_id"), answers));
  COPUNCTAL_TRY(
      Statement practical_rows,
      rows_of(*database_, std::string(select_practicals) + " WHERE practical_id", practicals));
  COPUNCTAL_TRY(Statement their_practical_rows,
                rows_of(*database_,
                        std::string(select_practicals) +
                            " WHERE practical_id IN (SELECT practical_id FROM sittings WHERE"
                            " sitting_id",
                        sittings, ")"));

  COPUNCTAL_TRY(auto items, std::move(item_rows).take());
  COPUNCTAL_TRY(auto answers_of, std::move(answers_of_rows).take());
  for (const std::string& id : sittings) {
    foresight_.sittings[id] = std::nullopt;
    foresight_.answers_of[id] = std::move(answers_of[id]);
  }
  for (const std::string& id : answers) foresight_.answers[id] = std::nullopt;
  for (const std::string& id : practicals) foresight_.practicals[id] = std::nullopt;
  COPUNCTAL_TRY_VOID(for_each(sitting_rows, [&](const Statement& row) {
    SittingRecord sitting = sitting_in(row);
    sitting.items = std::move(items[sitting.id]);
    foresight_.sittings[row.text(0)] = std::move(sitting);
  }));
  COPUNCTAL_TRY_VOID(for_each(answer_rows, [&](const Statement& row) {
    foresight_.answers[row.text(0)] = answer_in(row);
  }));
  for (Statement* rows : {&practical_rows, &their_practical_rows})
    COPUNCTAL_TRY_VOID(for_each(*rows, [&](const Statement& row) {
      foresight_.practicals[row.text(0)] = practical_in(row);
    }));
  return {};
}

Result<std::set<std::string>> Records::pseudonyms_among(
    std::string_view practical_id, const std::array<std::string, 16>& names) const {
  COPUNCTAL_TRY(Statement rows,
                database_->prepare("SELECT pseudonym FROM sittings WHERE practical_id = ?1 AND"
                                   " pseudonym <> '' AND pseudonym IN (?2, ?3, ?4, ?5, ?6, ?7, ?8,"
                                   " ?9, ?10, ?11, ?12, ?13, ?14, ?15, ?16, ?17)"));
  rows.bind(practical_id);
  for (const std::string& name : names) rows.bind(name);
  std::set<std::string> taken;
  COPUNCTAL_TRY_VOID(for_each(rows, [&](const Statement& row) { taken.insert(row.text(0)); }));
  return taken;
}

Result<std::vector<AnswerRecord>> Records::answers_of(std::string_view sitting_id) const {
  if (const auto known = foresight_.answers_of.find(sitting_id);
      known != foresight_.answers_of.end())
    return known->second;
  const std::array ids = {std::string(sitting_id)};
  COPUNCTAL_TRY(AnswerRows rows, AnswerRows::ask(*database_, ids));
  COPUNCTAL_TRY(auto answers, std::move(rows).take());
  return std::move(answers[ids.front()]);
}

Result<std::optional<AnswerRecord>> Records::answer(std::string_view id) const {
  if (const auto known = foresight_.answers.find(id); known != foresight_.answers.end())
    return known->second;
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
  foresight_.practicals.clear();
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
      .run_later();
}

Result<void> Changes::add(const SittingRecord& sitting) {
  foresight_.sittings.erase(sitting.id);
  if (const auto known = foresight_.practicals.find(sitting.practical_id);
      known != foresight_.practicals.end() && known->second)
    ++known->second->sittings;
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
    if (auto added = row.run_later(); !added) return added;
  }
  return add(sitting.id, sitting.items);
}

Result<void> Changes::add(std::string_view sitting_id, const std::vector<ItemRecord>& items) {
  foresight_.sittings.erase(std::string(sitting_id));
  for (const ItemRecord& item : items) {
    COPUNCTAL_TRY(Statement row, database_->prepare("INSERT INTO items (sitting_id, item, round,"
                                                    " plate, plate_id, repeats)"
                                                    " VALUES (?1, ?2, ?3, ?4, ?5, ?6)"));
    row.bind(sitting_id).bind(item.item).bind(item.round).bind(item.plate).bind(item.plate_id);
    if (auto added = row.bind(item.repeats).run_later(); !added) return added;
  }
  return {};
}

Result<void> Changes::add(const AnswerRecord& answer) {
  foresight_.answers.erase(answer.id);
  foresight_.answers_of.erase(answer.sitting_id);
  COPUNCTAL_TRY(Statement row, database_->prepare(with_answer_columns(
                                   "INSERT INTO answers (",
                                   ") VALUES (?1,?2,?3,?4,?5,?6,?7,?8,?9,?10,?11,?12,?13,?14,"
                                   "?15,?16,?17)")));
  COPUNCTAL_TRY_VOID(bind_answer(row, answer).run_later());
  for (std::size_t i = 0; i < answer.strokes.size(); ++i) {
    COPUNCTAL_TRY(Statement stroke,
                  database_->prepare("INSERT INTO strokes (sitting_id, item, stroke, points)"
                                     " VALUES (?1, ?2, ?3, ?4)"));
    COPUNCTAL_TRY_VOID(stroke.bind(answer.sitting_id)
                           .bind(answer.item)
                           .bind(static_cast<std::int64_t>(i))
                           .bind(text_of(answer.strokes[i]))
                           .run_later());
  }
  return {};
}

Result<void> Changes::declare_void(std::string_view sitting_id, std::int64_t item,
                                   std::string_view reason, std::string_view voided_utc) {
  foresight_.answers_of.erase(std::string(sitting_id));
  COPUNCTAL_TRY(Statement row,
                database_->prepare("INSERT INTO voids (sitting_id, item, reason, voided_utc)"
                                   " VALUES (?1, ?2, ?3, ?4)"));
  return row.bind(sitting_id).bind(item).bind(reason).bind(voided_utc).run_later();
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
      .run_later();
}

Result<void> Changes::add_participation(std::string_view practical_id, std::string_view entry) {
  COPUNCTAL_TRY(Statement row, database_->prepare("INSERT INTO participations (practical_id, entry)"
                                                  " VALUES (?1, ?2) ON CONFLICT DO NOTHING"));
  return row.bind(practical_id).bind(entry).run_later();
}

Result<void> Changes::put(const SheetRating& rating) {
  COPUNCTAL_TRY(
      Statement row,
      database_->prepare("INSERT INTO sheet_ratings (rater, sitting_id, rating, kind)"
                         " VALUES (?1, ?2, ?3, ?4) ON CONFLICT (rater, sitting_id)"
                         " DO UPDATE SET rating = excluded.rating, kind = excluded.kind"));
  return row.bind(rating.rater)
      .bind(rating.sitting_id)
      .bind(rating.rating)
      .bind(rating.kind)
      .run_later();
}

Result<void> Changes::set_collect_code(std::string_view sitting_id,
                                       std::string_view collect_sha256) {
  foresight_.sittings.erase(std::string(sitting_id));
  COPUNCTAL_TRY(Statement row, database_->prepare("UPDATE sittings SET collect_sha256 = ?2"
                                                  " WHERE sitting_id = ?1"));
  return row.bind(sitting_id).bind(collect_sha256).run_later();
}

Result<void> Changes::keep_practical_until(std::string_view id,
                                           std::optional<std::string_view> day) {
  foresight_.practicals.erase(std::string(id));
  COPUNCTAL_TRY(Statement row, database_->prepare("UPDATE practicals SET keep_until = ?2"
                                                  " WHERE practical_id = ?1"));
  return row.bind(id).bind(day).run_later();
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
  foresight_.sittings.erase(std::string(sitting_id));
  COPUNCTAL_TRY(Statement row, database_->prepare("UPDATE sittings SET state = 'ended',"
                                                  " ended_utc = ?2 WHERE sitting_id = ?1"));
  return row.bind(sitting_id).bind(ended_utc).run_later();
}

Result<void> Changes::open_practical(std::string_view id, std::string_view card,
                                     std::string_view card_sha256, std::string_view opened_utc) {
  foresight_.practicals.erase(std::string(id));
  COPUNCTAL_TRY(Statement row,
                database_->prepare("UPDATE practicals SET state = 'open', card = ?2,"
                                   " card_sha256 = ?3, opened_utc = ?4 WHERE practical_id = ?1"));
  return row.bind(id).bind(card).bind(card_sha256).bind(opened_utc).run_later();
}

Result<void> Changes::close_practical(std::string_view id, std::string_view closed_utc) {
  foresight_ = {};  // its sittings end too
  {
    COPUNCTAL_TRY(Statement row,
                  database_->prepare("UPDATE sittings SET state = 'ended', ended_utc = ?2"
                                     " WHERE practical_id = ?1 AND state = 'running'"));
    if (auto ended = row.bind(id).bind(closed_utc).run_later(); !ended) return ended;
  }
  COPUNCTAL_TRY(Statement row,
                database_->prepare("UPDATE practicals SET state = 'closed', closed_utc = ?2"
                                   " WHERE practical_id = ?1"));
  return row.bind(id).bind(closed_utc).run_later();
}

Result<void> Changes::choose(std::string_view sitting_id, std::string_view tell) {
  foresight_.sittings.erase(std::string(sitting_id));
  COPUNCTAL_TRY(Statement row,
                database_->prepare("UPDATE sittings SET tell = ?2 WHERE sitting_id = ?1"));
  return row.bind(sitting_id).bind(tell).run_later();
}

Result<bool> Changes::remove_sitting(std::string_view sitting_id) {
  foresight_ = {};
  COPUNCTAL_TRY(Statement row, database_->prepare("DELETE FROM sittings WHERE sitting_id = ?1"));
  if (auto removed = row.bind(sitting_id).run(); !removed)
    return tl::unexpected(std::move(removed).error());
  const bool was_there = database_->changed() > 0;
  has_removed_ = has_removed_ || was_there;
  return was_there;
}

}  // namespace copunctal
