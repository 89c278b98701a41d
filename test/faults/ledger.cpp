#include "faults/ledger.h"

#include <sqlite3.h>

#include <functional>
#include <stdexcept>

#include "copunctal/store/postgres_server.h"

namespace copunctal {
namespace {

/// Calls `row` with the texts of each row that `sql` gives.
void for_each_row(sqlite3* database, const char* sql,
                  const std::function<void(const std::vector<std::string>&)>& row) {
  sqlite3_stmt* statement = nullptr;
  if (sqlite3_prepare_v2(database, sql, -1, &statement, nullptr) != SQLITE_OK)
    throw std::runtime_error(sqlite3_errmsg(database));
  while (sqlite3_step(statement) == SQLITE_ROW) {
    std::vector<std::string> texts;
    for (int column = 0; column < sqlite3_column_count(statement); ++column) {
      const auto* text = sqlite3_column_text(statement, column);
      texts.emplace_back(text == nullptr ? "" : reinterpret_cast<const char*>(text));
    }
    row(texts);
  }
  if (sqlite3_finalize(statement) != SQLITE_OK) throw std::runtime_error(sqlite3_errmsg(database));
}

}  // namespace

void Ledger::sent(const std::string& answer, const Entry& entry) {
  const std::lock_guard lock(mutex_);
  entries_.emplace(answer, entry);
}

void Ledger::acknowledged(const std::string& answer) {
  const std::lock_guard lock(mutex_);
  entries_.at(answer).is_acknowledged = true;
}

void Ledger::heard_too_late(const std::string& answer) {
  const std::lock_guard lock(mutex_);
  entries_.at(answer).is_heard_too_late = true;
}

void Ledger::begun(const std::string& sitting) {
  const std::lock_guard lock(mutex_);
  sittings_.insert(sitting);
}

std::set<std::string> Ledger::sittings() const {
  const std::lock_guard lock(mutex_);
  return sittings_;
}

std::map<std::string, Entry> Ledger::entries() const {
  const std::lock_guard lock(mutex_);
  return entries_;
}

std::vector<std::vector<std::string>> rows_in(const std::string& database_file, const char* sql) {
  sqlite3* database = nullptr;
  if (sqlite3_open_v2(database_file.c_str(), &database, SQLITE_OPEN_READWRITE, nullptr) !=
      SQLITE_OK)
    throw std::runtime_error("cannot open " + database_file);
  std::vector<std::vector<std::string>> rows;
  for_each_row(database, sql,
               [&rows](const std::vector<std::string>& row) { rows.push_back(row); });
  sqlite3_close(database);
  return rows;
}

Findings compare(const Ledger& ledger, const std::vector<std::vector<std::string>>& answers,
                 const std::vector<std::vector<std::string>>& sittings) {
  const auto entries = ledger.entries();
  Findings findings;
  std::map<std::string, int> rows_of_answer, rows_of_item;
  for (const std::vector<std::string>& row : answers) {
    findings.doubled += ++rows_of_answer[row[0]] > 1 ? 1 : 0;
    findings.doubled += ++rows_of_item[row[1] + "/" + row[2]] > 1 ? 1 : 0;
    const auto entry = entries.find(row[0]);
    if (entry == entries.end()) {
      ++findings.unknown;
      continue;
    }
    const Entry& sent = entry->second;
    const bool is_same =
        sent.sitting == row[1] && std::to_string(sent.item) == row[2] && sent.body_sha256 == row[3];
    findings.altered += is_same ? 0 : 1;
    findings.kept_unacknowledged += sent.is_acknowledged ? 0 : 1;
  }
  for (const auto& [answer, entry] : entries) {
    findings.acknowledged += entry.is_acknowledged ? 1 : 0;
    const bool is_there = rows_of_answer.count(answer) != 0;
    findings.lost += entry.is_acknowledged && !is_there ? 1 : 0;
    const bool is_late = entry.is_heard_too_late && !entry.is_acknowledged;
    findings.heard_too_late += is_late ? 1 : 0;
    findings.heard_too_late_only += is_late && !is_there ? 1 : 0;
  }
  std::set<std::string> missing = ledger.sittings();
  for (const std::vector<std::string>& row : sittings) missing.erase(row[0]);
  findings.lost += static_cast<int>(missing.size());
  return findings;
}

Findings compare_in_postgres(const Ledger& ledger, const PostgresServer& postgres,
                             const std::string& database) {
  return compare(ledger,
                 postgres.rows("SELECT answer_id, sitting_id, item, body_sha256 FROM"
                               " copunctal.answers",
                               database),
                 postgres.rows("SELECT sitting_id FROM copunctal.sittings", database));
}

Findings compare(const Ledger& ledger, const std::string& database_file) {
  sqlite3* database = nullptr;
  if (sqlite3_open_v2(database_file.c_str(), &database, SQLITE_OPEN_READWRITE, nullptr) !=
      SQLITE_OK)
    throw std::runtime_error("cannot open " + database_file);
  sqlite3_busy_timeout(database, 5000);
  const auto rows = [&](const char* sql) {
    std::vector<std::vector<std::string>> all;
    for_each_row(database, sql,
                 [&all](const std::vector<std::string>& row) { all.push_back(row); });
    return all;
  };
  Findings findings;
  if (rows("SELECT name FROM sqlite_schema WHERE name IN ('answers', 'sittings')").size() == 2) {
    findings = compare(ledger, rows("SELECT answer_id, sitting_id, item, body_sha256 FROM answers"),
                       rows("SELECT sitting_id FROM sittings"));
    for (const char* check : {"PRAGMA integrity_check", "PRAGMA foreign_key_check"})
      for (const std::vector<std::string>& row : rows(check))
        if (row[0] != "ok") findings.damage.push_back(row[0]);
  } else {
    findings = compare(ledger, {}, {});
    findings.damage.emplace_back("the tables are gone");
  }
  sqlite3_close(database);
  return findings;
}

}  // namespace copunctal
