// What the clients were promised, and whether the store's file keeps it.
#pragma once

#include <map>
#include <mutex>
#include <set>
#include <string>
#include <vector>

namespace copunctal {

class PostgresServer;

/// What the clients know of one answer.
struct Entry {
  std::string sitting;
  int item = 0;
  std::string body_sha256;         ///< Of the bytes sent.
  bool is_acknowledged = false;    ///< A 200 was read, so it must be there for ever.
  bool is_heard_too_late = false;  ///< A 200 was read that no disk without power could have given.
};

/// May be used from any thread.
class Ledger {
 public:
  void sent(const std::string& answer, const Entry& entry);
  void acknowledged(const std::string& answer);
  /// A 200 was read after the power was cut, and thrown away.
  void heard_too_late(const std::string& answer);
  /// A 201 was read for this sitting, so it must be there for ever as well.
  void begun(const std::string& sitting);
  std::map<std::string, Entry> entries() const;
  std::set<std::string> sittings() const;

 private:
  mutable std::mutex mutex_;
  std::map<std::string, Entry> entries_;
  std::set<std::string> sittings_;
};

/// What is wrong with the file, in the light of the ledger.
struct Findings {
  int acknowledged = 0;             ///< Promises made.
  int heard_too_late = 0;           ///< Heard after the power was cut, and nothing since.
  int heard_too_late_only = 0;      ///< Those of them that are not there.
  int lost = 0;                     ///< Promised (answer or sitting), and not there.
  int altered = 0;                  ///< There, with another body, sitting or item.
  int doubled = 0;                  ///< Two rows for one answer or one item.
  int unknown = 0;                  ///< Rows nobody sent.
  int kept_unacknowledged = 0;      ///< Committed, the acknowledgement cut off: harmless.
  std::vector<std::string> damage;  ///< integrity_check and foreign_key_check, if they complain.

  bool is_clean() const {
    return lost == 0 && altered == 0 && doubled == 0 && unknown == 0 && damage.empty();
  }
};

/// The texts of the rows that `sql` gives.
std::vector<std::vector<std::string>> rows_in(const std::string& database_file, const char* sql);

/// The same of rows read elsewhere: answer, sitting, item and body of answers; sittings.
Findings compare(const Ledger& ledger, const std::vector<std::vector<std::string>>& answers,
                 const std::vector<std::vector<std::string>>& sittings);

/// Reads a database of a PostgreSQL server by its own client.
Findings compare_in_postgres(const Ledger& ledger, const PostgresServer& postgres,
                             const std::string& database);

/// Reads the file as it stands, with SQL of its own and none of the store's code.
Findings compare(const Ledger& ledger, const std::string& database_file);

}  // namespace copunctal
