#include "copunctal/store/audit_log.h"

#include <algorithm>

#include "copunctal/base/hash.h"
#include "copunctal/store/database.h"

namespace copunctal {

// Inserting is guarded too, so that REPLACE, which removes without a trigger, finds no way in.
const std::string_view audit_log_schema = R"sql(
CREATE TABLE audit_log (
  number   INTEGER PRIMARY KEY,
  at_utc   TEXT NOT NULL CHECK (length(at_utc) BETWEEN 1 AND 32),
  event    TEXT NOT NULL CHECK (event IN ('start', 'stop', 'export', 'delete', 'import', 'backup', 'restore', 'migration', 'conflict')),
  subject  TEXT NOT NULL CHECK (length(subject) IN (0, 16) AND subject NOT GLOB '*[^0-9a-f]*'),
  details  TEXT NOT NULL CHECK (length(details) <= 200 AND instr(details, char(10)) = 0),
  previous_sha256 TEXT NOT NULL CHECK (length(previous_sha256) = 64),
  sha256          TEXT NOT NULL UNIQUE CHECK (length(sha256) = 64)
) STRICT;
-- The last row's number and hash, kept a second time.
CREATE TABLE audit_head (
  only_row INTEGER PRIMARY KEY CHECK (only_row = 1),
  number   INTEGER NOT NULL,
  sha256   TEXT NOT NULL CHECK (length(sha256) = 64)
) STRICT;
INSERT INTO audit_head VALUES (1, 0, '0000000000000000000000000000000000000000000000000000000000000000');
CREATE TRIGGER audit_log_is_never_changed BEFORE UPDATE ON audit_log
BEGIN SELECT raise(ABORT, 'the log is never changed'); END;
CREATE TRIGGER audit_log_is_never_shortened BEFORE DELETE ON audit_log
BEGIN SELECT raise(ABORT, 'the log is never shortened'); END;
CREATE TRIGGER audit_log_grows_at_its_end BEFORE INSERT ON audit_log
WHEN NEW.number IS NOT (SELECT number + 1 FROM audit_head) OR NEW.previous_sha256 IS NOT (SELECT sha256 FROM audit_head)
BEGIN SELECT raise(ABORT, 'the log grows at its end only'); END;
CREATE TRIGGER audit_log_moves_its_head AFTER INSERT ON audit_log
BEGIN UPDATE audit_head SET number = NEW.number, sha256 = NEW.sha256; END;
)sql";

std::string_view name_of(LogEvent event) {
  switch (event) {
    case LogEvent::start:
      return "start";
    case LogEvent::stop:
      return "stop";
    case LogEvent::exported:
      return "export";
    case LogEvent::removed:
      return "delete";
    case LogEvent::imported:
      return "import";
    case LogEvent::backup:
      return "backup";
    case LogEvent::restore:
      return "restore";
    case LogEvent::migration:
      return "migration";
    case LogEvent::conflict:
      return "conflict";
  }
  return "";
}

std::string first_previous_sha256() {
  std::string nothing(64, '0');
  return nothing;
}

std::string sha256_of(const LogEntry& entry) {
  return sha256_hex(entry.previous_sha256 + "\n" + std::to_string(entry.number) + "\n" +
                    entry.at_utc + "\n" + entry.event + "\n" + entry.subject + "\n" +
                    entry.details);
}

std::string log_subject(std::string_view id) {
  return sha256_hex(id).substr(0, 16);
}

std::optional<std::string> break_in(const LogRead& log, std::string_view known_head) {
  std::string previous = first_previous_sha256();
  std::int64_t number = 0;
  bool knows_head = known_head.empty() || known_head == previous;
  for (const LogEntry& entry : log.entries) {
    const std::string row = "row " + std::to_string(entry.number);
    if (entry.number != ++number)
      return row + " stands where row " + std::to_string(number) + " belongs";
    if (entry.previous_sha256 != previous) return row + " does not follow the row before it";
    if (entry.sha256 != sha256_of(entry)) return row + " is not what it was when it was written";
    previous = entry.sha256;
    knows_head = knows_head || previous == known_head;
  }
  if (log.head_number != number || log.head_sha256 != previous)
    return "the last row is number " + std::to_string(number) + ", but the log ended with number " +
           std::to_string(log.head_number);
  if (!knows_head) return "the head that was noted is not on this chain";
  return std::nullopt;
}

Result<bool> has_log(Database& database) {
  COPUNCTAL_TRY(const auto tables, database.tables());
  const auto has = [&](std::string_view name) {
    return std::find(tables.begin(), tables.end(), name) != tables.end();
  };
  return has("audit_log") && has("audit_head");
}

Result<void> append_to_log(Database& database, LogEvent event, std::string_view now_utc,
                           std::string_view subject, std::string_view details) {
  LogEntry entry;
  {
    COPUNCTAL_TRY(Statement head, database.prepare("SELECT number, sha256 FROM audit_head"));
    COPUNCTAL_TRY(const bool is_there, head.step());
    if (!is_there)
      return fail(Error::Kind::io, "the log of the data has lost its head", "log", "",
                  "restore a backup");
    entry.number = head.whole(0) + 1;
    entry.previous_sha256 = head.text(1);
  }
  entry.at_utc = now_utc;
  entry.event = name_of(event);
  entry.subject = subject;
  entry.details = details;
  entry.sha256 = sha256_of(entry);
  COPUNCTAL_TRY(Statement row,
                database.prepare("INSERT INTO audit_log (number, at_utc, event, subject, details,"
                                 " previous_sha256, sha256) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)"));
  return row.bind(entry.number)
      .bind(entry.at_utc)
      .bind(entry.event)
      .bind(entry.subject)
      .bind(entry.details)
      .bind(entry.previous_sha256)
      .bind(entry.sha256)
      .run_later();
}

Result<LogRead> read_log(Database& database) {
  LogRead log;
  {
    COPUNCTAL_TRY(Statement head, database.prepare("SELECT number, sha256 FROM audit_head"));
    COPUNCTAL_TRY(const bool is_there, head.step());
    if (is_there) {
      log.head_number = head.whole(0);
      log.head_sha256 = head.text(1);
    }
  }
  COPUNCTAL_TRY(Statement rows,
                database.prepare("SELECT number, at_utc, event, subject, details, previous_sha256,"
                                 " sha256 FROM audit_log ORDER BY number"));
  for (;;) {
    COPUNCTAL_TRY(const bool has_row, rows.step());
    if (!has_row) return log;
    log.entries.push_back({rows.whole(0), rows.text(1), rows.text(2), rows.text(3), rows.text(4),
                           rows.text(5), rows.text(6)});
  }
}

}  // namespace copunctal
