// What is done to the data besides running practicals: looking, carrying out and in, removing for
// good, backups, and the log of all that.
//
// What only reads, and backups, may be done while a server holds the directory; the rest needs it
// for itself, and is refused with the server's process id otherwise.
#pragma once

#include <filesystem>
#include <functional>
#include <map>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "copunctal/base/result.h"
#include "copunctal/store/audit_log.h"
#include "copunctal/store/records.h"

namespace copunctal {

/// Rows by table.
using RowCounts = std::map<std::string, std::int64_t>;

/// A practical's table with its columns in the order of the table; cells as text, null told from
/// empty.
struct KeptTable {
  struct Column {
    std::string name, type;  ///< "integer", "number" or "string".
    bool is_required = false, is_key = false;
  };
  struct Reference {
    std::string table;
    std::vector<std::string> columns, to_columns;
  };
  std::string name;
  std::vector<Column> columns;
  std::vector<Reference> references;
  std::vector<std::vector<std::optional<std::string>>> rows;
};

struct ImportReport {
  std::string practical;
  RowCounts added;  ///< Empty when all of it was there already.
};

struct RemovalReport {
  RowCounts removed;
  std::vector<std::filesystem::path> backups;  ///< In the directory, that still hold it.
};

struct RestoreReport {
  std::filesystem::path before;   ///< Backup of what was there; empty where nothing could be read.
  std::filesystem::path damaged;  ///< Where a file that was no sound database was put; or empty.
};

class DataKeeper {
 public:
  using Clock = std::function<std::string()>;  ///< As DeskClocks::utc.

  /// Reads a directory that has practicals, beside a server or not. Errors: not_found where there
  /// are none; as Store::open().
  static Result<DataKeeper> beside(const std::filesystem::path& directory, Clock clock);
  /// Holds the directory, as a server would. Errors: not_found; as Store::open().
  static Result<DataKeeper> alone(const std::filesystem::path& directory, Clock clock);

  /// A PostgreSQL database, beside its servers, also to remove. Its backups are PostgreSQL's own.
  /// Errors: not_found where no practicals are kept; as Store::connect().
  static Result<DataKeeper> connected(const std::string& address, Clock clock);

  DataKeeper(DataKeeper&&) noexcept;
  DataKeeper& operator=(DataKeeper&&) noexcept;
  DataKeeper(const DataKeeper&) = delete;
  DataKeeper& operator=(const DataKeeper&) = delete;
  ~DataKeeper();

  Result<std::vector<PracticalRecord>> practicals();

  /// All of one practical as JSON, the same bytes for the same content; noted in the log. Error:
  /// not_found.
  Result<std::string> exported(std::string_view practical, std::string_view intended_use);
  /// The same as tables, parents first; noted in the log. Error: not_found.
  Result<std::vector<KeptTable>> exported_tables(std::string_view practical);

  /// Removes a practical, or one sitting of it, for good: no page of the database and its log
  /// files holds anything of it afterwards. Needs alone() or connected(). Errors: not_found; io,
  /// also when another program's reading kept traces from being wiped.
  Result<RemovalReport> remove(std::string_view practical, std::optional<std::string_view> sitting);
  /// What that would remove.
  Result<RowCounts> count(std::string_view practical, std::optional<std::string_view> sitting);

  /// Of a directory: a copy of everything in one file, by default DIR/backups/backup-TIME.db; noted
  /// in the log.
  Result<std::filesystem::path> back_up(const std::optional<std::filesystem::path>& out,
                                        bool force);

  Result<LogRead> log();

 private:
  struct Inside;
  explicit DataKeeper(std::unique_ptr<Inside> inside);
  std::unique_ptr<Inside> inside_;
};

/// Removes practicals whose last day has passed, for good, from a directory that nobody serves; one
/// without practicals is left alone. Returns their names. Errors: as DataKeeper::remove().
Result<std::vector<std::string>> remove_expired(const std::filesystem::path& directory,
                                                const DataKeeper::Clock& clock);
/// The same in a PostgreSQL database, beside its servers.
Result<std::vector<std::string>> remove_expired_in_database(const std::string& address,
                                                            const DataKeeper::Clock& clock);

/// Adds a practical to a directory, which is made when it is not there. All or nothing. Errors:
/// bad_input naming the place, conflict for a row that is there and says something else, io.
Result<ImportReport> import_practical(const std::filesystem::path& directory,
                                      std::string_view archive, const std::string& name,
                                      const DataKeeper::Clock& clock);

/// The same to a PostgreSQL database, beside its servers. Errors also: as Store::connect().
Result<ImportReport> import_into_database(const std::string& address, std::string_view archive,
                                          const std::string& name, const DataKeeper::Clock& clock);

/// Puts a backup in place of all there is, after a backup of that. The backup is checked wholly
/// first and left as it is. Errors: bad_input for a file that is none; io for a damaged or newer
/// one.
Result<RestoreReport> restore_backup(const std::filesystem::path& directory,
                                     const std::filesystem::path& backup,
                                     const DataKeeper::Clock& clock);

}  // namespace copunctal
