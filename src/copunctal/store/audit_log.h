// The log of what was done to the data: a chain of rows, each holding the hash of the one before.
//
// A row's hash is SHA-256 over the previous row's hash and its own content, so that an edited,
// removed or reordered row breaks the chain from there on; the number and hash of the last row are
// kept a second time, so that a row missing at the end is found too. Who can write the whole file
// can write the whole chain anew: only a head hash noted elsewhere shows that. No names, codes or
// answers stand in it: what an event was about is given by a short hash of its random id.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "copunctal/base/result.h"

namespace copunctal {

class Database;

enum class LogEvent {
  start,
  stop,
  exported,
  removed,
  imported,
  backup,
  restore,
  migration,
  conflict,
};
/// "start", "stop", "export", "delete", "import", "backup", "restore", "migration", "conflict".
std::string_view name_of(LogEvent event);

struct LogEntry {
  std::int64_t number = 0;  ///< From 1, without gaps.
  std::string at_utc, event;
  std::string subject;  ///< log_subject() of an id, or empty.
  std::string details;  ///< Counts and schema numbers, in words.
  std::string previous_sha256, sha256;
};

/// The hash the first row follows: 64 zeros.
std::string first_previous_sha256();
/// SHA-256 over the entry's fields but its own hash, the previous hash first, joined by line feeds.
std::string sha256_of(const LogEntry& entry);
/// What stands for a practical or sitting in the log: the first 16 digits of SHA-256 of its id.
std::string log_subject(std::string_view id);

struct LogRead {
  std::vector<LogEntry> entries;
  std::int64_t head_number = 0;  ///< As kept a second time.
  std::string head_sha256;
};

/// The first place where the chain does not hold, in words; nothing when all of it does.
/// `known_head`: a head noted earlier, which must be on the chain; empty for none.
std::optional<std::string> break_in(const LogRead& log, std::string_view known_head = {});

/// Internal to store/: the table's migration, and its two operations.
extern const std::string_view audit_log_schema;
/// Whether the file's schema has the log yet.
Result<bool> has_log(Database& database);
/// Appends an entry, within the transaction that is open.
Result<void> append_to_log(Database& database, LogEvent event, std::string_view now_utc,
                           std::string_view subject, std::string_view details);
/// The log as it stands; within one statement's view each.
Result<LogRead> read_log(Database& database);

}  // namespace copunctal
