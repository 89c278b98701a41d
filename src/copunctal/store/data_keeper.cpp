#include "copunctal/store/data_keeper.h"

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cerrno>
#include <fstream>
#include <system_error>

#include "copunctal/base/expects.h"
#include "copunctal/store/data_directory.h"
#include "copunctal/store/database.h"
#include "copunctal/store/migrations.h"
#include "copunctal/store/practical_archive.h"
#include "copunctal/store/upkeep.h"

namespace copunctal {
namespace {

namespace fs = std::filesystem;

constexpr std::string_view file_beginning = "SQLite format 3";  // and a NUL

tl::unexpected<Error> nothing_kept(const fs::path& directory) {
  return fail(Error::Kind::not_found, directory.string() + ": no practicals are kept here",
              "data directory", directory.string(), "name the directory of practicals with --data");
}

/// Undoes what was not kept, whatever way the scope is left.
class Transaction {
 public:
  static Result<std::unique_ptr<Transaction>> reading(Database& database) {
    COPUNCTAL_TRY_VOID(database.begin_reading());
    return std::unique_ptr<Transaction>(new Transaction(database));
  }
  static Result<std::unique_ptr<Transaction>> writing(Database& database) {
    COPUNCTAL_TRY_VOID(database.begin_writing());
    return std::unique_ptr<Transaction>(new Transaction(database));
  }
  Transaction(const Transaction&) = delete;
  Transaction& operator=(const Transaction&) = delete;
  ~Transaction() {
    if (database_.in_transaction()) (void)database_.run("ROLLBACK");
  }
  Result<void> keep() { return database_.run("COMMIT"); }

 private:
  explicit Transaction(Database& database) : database_(database) {}
  Database& database_;
};

std::string plural(std::int64_t count, const std::string& what) {
  return std::to_string(count) + " " + what + (count == 1 ? "" : "s");
}

std::int64_t all_of(const RowCounts& counts) {
  std::int64_t sum = 0;
  for (const auto& [table, count] : counts) sum += count;
  return sum;
}

std::int64_t count_in(const RowCounts& counts, const std::string& table) {
  const auto at = counts.find(table);
  return at == counts.end() ? 0 : at->second;
}

std::string in_words(const RowCounts& counts) {
  return plural(count_in(counts, "practicals"), "practical") + ", " +
         plural(count_in(counts, "sittings"), "sitting") + ", " +
         plural(count_in(counts, "answers"), "answer") + ", " + plural(all_of(counts), "row");
}

bool holds(const fs::path& file, std::string_view words) {
  std::ifstream stream(file, std::ios::binary);
  std::string window;
  std::array<char, 1 << 16> chunk{};
  while (stream.read(chunk.data(), chunk.size()) || stream.gcount() > 0) {
    window.append(chunk.data(), static_cast<std::size_t>(stream.gcount()));
    if (window.find(words) != std::string::npos) return true;
    if (window.size() > words.size()) window.erase(0, window.size() - words.size());
  }
  return false;
}

// Ids are random, so that their bytes are found where anything of theirs is.
std::vector<fs::path> copies_that_hold(const fs::path& directory, std::string_view id) {
  std::vector<fs::path> found;
  std::error_code error;
  for (const auto& entry : fs::directory_iterator(backups_in(directory), error))
    if (entry.is_regular_file(error) && holds(entry.path(), id)) found.push_back(entry.path());
  for (const auto& entry : fs::directory_iterator(directory, error))
    if (entry.path().filename().string().starts_with("copunctal.db.damaged-") &&
        holds(entry.path(), id))
      found.push_back(entry.path());
  std::sort(found.begin(), found.end());
  return found;
}

/// Copies that a power cut left half made; whoever holds the directory knows that nobody makes
/// them.
void remove_drafts(const fs::path& directory) {
  std::error_code error;
  std::vector<fs::path> drafts = {directory / "copunctal.db.restoring"};
  for (const auto& entry : fs::directory_iterator(backups_in(directory), error))
    if (entry.path().extension() == ".part") drafts.push_back(entry.path());
  for (const fs::path& draft : drafts) remove_database(draft);
}

std::string_view type_name(ColumnType type) {
  switch (type) {
    case ColumnType::whole:
      return "integer";
    case ColumnType::real:
      return "number";
    case ColumnType::text:
      return "string";
  }
  return "";
}

KeptTable kept(TidyTable&& tidy) {
  KeptTable table{tidy.table.name, {}, {}, std::move(tidy.rows)};
  for (const TableColumn& column : tidy.table.columns)
    table.columns.push_back(
        {column.name, std::string(type_name(column.type)), column.is_required, column.key > 0});
  for (const ForeignKey& key : tidy.table.foreign_keys)
    table.references.push_back({key.to, key.from_columns, key.to_columns});
  return table;
}

}  // namespace

struct DataKeeper::Inside {
  fs::path directory;  ///< Empty: connected().
  Clock clock;
  std::optional<DataDirectory> held;  ///< Only alone().
  std::unique_ptr<Database> database;

  Result<void> note(LogEvent event, std::string_view subject, std::string_view details) {
    COPUNCTAL_TRY(const auto transaction, Transaction::writing(*database));
    COPUNCTAL_TRY_VOID(append_to_log(*database, event, clock(), subject, details));
    return transaction->keep();
  }
};

DataKeeper::DataKeeper(std::unique_ptr<Inside> inside) : inside_(std::move(inside)) {}
DataKeeper::DataKeeper(DataKeeper&&) noexcept = default;
DataKeeper& DataKeeper::operator=(DataKeeper&&) noexcept = default;
DataKeeper::~DataKeeper() = default;

Result<DataKeeper> DataKeeper::alone(const fs::path& directory, Clock clock) {
  std::error_code error;
  if (!fs::exists(database_in(directory), error)) return nothing_kept(directory);
  COPUNCTAL_TRY(DataDirectory held, DataDirectory::open(directory));
  COPUNCTAL_TRY(const auto file, held.private_file("copunctal.db"));
  COPUNCTAL_TRY(auto database, Database::open(file));
  COPUNCTAL_TRY_VOID(bring_up_to_date(*database, directory, clock()));
  return DataKeeper(std::unique_ptr<Inside>(
      new Inside{directory, std::move(clock), std::move(held), std::move(database)}));
}

// The lock is taken only to bring an older file up to date, and let go at once.
Result<DataKeeper> DataKeeper::beside(const fs::path& directory, Clock clock) {
  std::error_code error;
  const fs::path file = database_in(directory);
  if (!fs::exists(file, error)) return nothing_kept(directory);
  {
    COPUNCTAL_TRY(const auto database, Database::open(file));
    COPUNCTAL_TRY(const SchemaMark mark, database->schema_mark());
    const std::int64_t version = mark.version;
    if (version == static_cast<std::int64_t>(all_migrations().size())) {
      COPUNCTAL_TRY_VOID(migrate(*database, clock(), file.string()));  // checks whose it is
    }
    if (version < static_cast<std::int64_t>(all_migrations().size())) {
      COPUNCTAL_TRY(const DataDirectory held, DataDirectory::open(directory));
      COPUNCTAL_TRY_VOID(bring_up_to_date(*database, held.path(), clock()));
    }
    if (version > static_cast<std::int64_t>(all_migrations().size()))
      COPUNCTAL_TRY_VOID(migrate(*database, clock(), file.string()));  // says that it is newer
  }
  COPUNCTAL_TRY(auto database, Database::open(file));
  // A server that commits without a pause leaves little room: whoever copies beside it can wait.
  COPUNCTAL_TRY_VOID(database->run("PRAGMA busy_timeout=30000"));
  return DataKeeper(std::unique_ptr<Inside>(
      new Inside{directory, std::move(clock), std::nullopt, std::move(database)}));
}

Result<DataKeeper> DataKeeper::connected(const std::string& address, Clock clock) {
  COPUNCTAL_TRY(auto database, Database::connect(address));
  COPUNCTAL_TRY(const SchemaMark mark, database->schema_mark());
  if (mark.is_empty)
    return fail(Error::Kind::not_found, database->name() + ": no practicals are kept here",
                "database", database->name(), "name the database of practicals with --database");
  COPUNCTAL_TRY_VOID(migrate(*database, clock(), database->name()));
  return DataKeeper(
      std::unique_ptr<Inside>(new Inside{{}, std::move(clock), std::nullopt, std::move(database)}));
}

Result<std::vector<PracticalRecord>> DataKeeper::practicals() {
  COPUNCTAL_TRY(const auto view, Transaction::reading(*inside_->database));
  return Records(*inside_->database).practicals();
}

Result<std::string> DataKeeper::exported(std::string_view practical,
                                         std::string_view intended_use) {
  std::string text;
  {
    COPUNCTAL_TRY(const auto view, Transaction::reading(*inside_->database));
    COPUNCTAL_TRY(text, archive_of(*inside_->database, practical, intended_use));
  }
  COPUNCTAL_TRY_VOID(inside_->note(LogEvent::exported, log_subject(practical), "as JSON"));
  return text;
}

Result<std::vector<KeptTable>> DataKeeper::exported_tables(std::string_view practical) {
  std::vector<KeptTable> tables;
  {
    COPUNCTAL_TRY(const auto view, Transaction::reading(*inside_->database));
    COPUNCTAL_TRY(auto tidy, tidy_tables_of(*inside_->database, practical));
    for (TidyTable& table : tidy) tables.push_back(kept(std::move(table)));
  }
  COPUNCTAL_TRY_VOID(inside_->note(LogEvent::exported, log_subject(practical), "as tables"));
  return tables;
}

namespace {

/// What belongs to a practical, or to one sitting of it, in the transaction that is open. Error:
/// not_found.
Result<RowCounts> counted(Database& database, std::string_view practical,
                          std::optional<std::string_view> sitting) {
  const Records records(database);
  COPUNCTAL_TRY(const auto its_practical, records.practical(practical));
  if (!its_practical)
    return fail(Error::Kind::not_found, "there is no practical " + std::string(practical),
                "practical", std::string(practical), "copunctal practical list names them");
  if (!sitting) return count_family(database, "practicals", practical);
  COPUNCTAL_TRY(const auto its_sitting, records.sitting(*sitting));
  if (!its_sitting || its_sitting->practical_id != practical)
    return fail(
        Error::Kind::not_found,
        "the practical " + std::string(practical) + " has no sitting " + std::string(*sitting),
        "sitting", std::string(*sitting), "copunctal practical export holds them with their ids");
  return count_family(database, "sittings", *sitting);
}

}  // namespace

Result<RowCounts> DataKeeper::count(std::string_view practical,
                                    std::optional<std::string_view> sitting) {
  COPUNCTAL_TRY(const auto view, Transaction::reading(*inside_->database));
  return counted(*inside_->database, practical, sitting);
}

Result<RemovalReport> DataKeeper::remove(std::string_view practical,
                                         std::optional<std::string_view> sitting) {
  expects(inside_->held.has_value() || inside_->directory.empty());
  Database& database = *inside_->database;
  const std::string_view id = sitting.value_or(practical);
  RemovalReport report;
  const auto removed = [&]() -> Result<void> {
    COPUNCTAL_TRY(const auto transaction, Transaction::writing(database));
    COPUNCTAL_TRY_VOID(counted(database, practical, sitting));
    COPUNCTAL_TRY(report.removed, remove_family(database, sitting ? "sittings" : "practicals", id));
    COPUNCTAL_TRY_VOID(append_to_log(database, LogEvent::removed, inside_->clock(), log_subject(id),
                                     in_words(report.removed)));
    return transaction->keep();
  }();
  // What is not there was removed before, perhaps, with traces left because somebody was reading.
  const bool was_there = removed || removed.error().kind != Error::Kind::not_found;
  if (!removed && was_there) return tl::unexpected(removed.error());
  COPUNCTAL_TRY_VOID(database.wipe());
  if (!removed) return tl::unexpected(removed.error());
  if (inside_->directory.empty()) return report;
  remove_drafts(inside_->directory);
  report.backups = copies_that_hold(inside_->directory, id);
  return report;
}

Result<fs::path> DataKeeper::back_up(const std::optional<fs::path>& out, bool force) {
  expects(!inside_->directory.empty());
  fs::path name;
  if (out) {
    name = *out;
  } else {
    COPUNCTAL_TRY(name, new_backup_name(inside_->directory, "backup", inside_->clock()));
  }
  std::error_code error;
  if (fs::equivalent(name, database_in(inside_->directory), error) && !error)
    return fail(Error::Kind::bad_input, name.string() + ": this is the database itself", "backup",
                name.string(), "choose another name");
  COPUNCTAL_TRY_VOID(write_backup(*inside_->database, name, force));
  COPUNCTAL_TRY_VOID(inside_->note(LogEvent::backup, "", ""));
  return name;
}

Result<LogRead> DataKeeper::log() {
  COPUNCTAL_TRY(const auto view, Transaction::reading(*inside_->database));
  return read_log(*inside_->database);
}

namespace {

Result<ImportReport> import_into(Database& database, std::string_view archive,
                                 const std::string& name, const std::string& now_utc) {
  COPUNCTAL_TRY(const auto transaction, Transaction::writing(database));
  COPUNCTAL_TRY(Imported imported, add_archive(database, archive, name));
  ImportReport report{std::move(imported.practical), std::move(imported.added)};
  if (report.added.empty()) return report;
  COPUNCTAL_TRY_VOID(append_to_log(database, LogEvent::imported, now_utc,
                                   log_subject(report.practical), in_words(report.added)));
  COPUNCTAL_TRY_VOID(transaction->keep());
  return report;
}

}  // namespace

namespace {

Result<std::vector<std::string>> remove_expired_with(DataKeeper keeper, const std::string& today) {
  std::vector<std::string> names;
  COPUNCTAL_TRY(const auto practicals, keeper.practicals());
  for (const PracticalRecord& one : practicals) {
    if (!one.keep_until || *one.keep_until >= today) continue;
    const auto removed = keeper.remove(one.id, std::nullopt);
    if (removed) names.push_back(one.name);
    // Another server that starts now may have been faster.
    if (!removed && removed.error().kind != Error::Kind::not_found)
      return tl::unexpected(removed.error());
  }
  return names;
}

std::string day_of(const DataKeeper::Clock& clock) {
  constexpr std::size_t of_day = 10;
  return clock().substr(0, of_day);
}

}  // namespace

Result<std::vector<std::string>> remove_expired(const fs::path& directory,
                                                const DataKeeper::Clock& clock) {
  if (!fs::exists(directory / "copunctal.db")) return std::vector<std::string>();
  COPUNCTAL_TRY(DataKeeper keeper, DataKeeper::alone(directory, clock));
  return remove_expired_with(std::move(keeper), day_of(clock));
}

Result<std::vector<std::string>> remove_expired_in_database(const std::string& address,
                                                            const DataKeeper::Clock& clock) {
  COPUNCTAL_TRY(DataKeeper keeper, DataKeeper::connected(address, clock));
  return remove_expired_with(std::move(keeper), day_of(clock));
}

Result<ImportReport> import_practical(const fs::path& directory, std::string_view archive,
                                      const std::string& name, const DataKeeper::Clock& clock) {
  std::error_code error;
  const bool was_there = fs::exists(directory, error);
  const bool had_data = fs::exists(database_in(directory), error);
  const auto bring_in = [&]() -> Result<ImportReport> {
    COPUNCTAL_TRY(DataDirectory held, DataDirectory::open(directory));
    COPUNCTAL_TRY(const auto file, held.private_file("copunctal.db"));
    auto imported = [&]() -> Result<ImportReport> {
      COPUNCTAL_TRY(const auto database, Database::open(file));
      COPUNCTAL_TRY_VOID(bring_up_to_date(*database, directory, clock()));
      return import_into(*database, archive, name, clock());
    }();
    // What was made for it alone goes again, while the directory is still ours.
    if (!imported && !had_data) {
      remove_database(file);
      fs::remove(directory / "copunctal.lock", error);
    }
    if (imported) COPUNCTAL_TRY_VOID(held.flush());
    return imported;
  };
  auto imported = bring_in();
  if (!imported && !was_there) fs::remove(directory, error);  // only if empty
  return imported;
}

Result<ImportReport> import_into_database(const std::string& address, std::string_view archive,
                                          const std::string& name, const DataKeeper::Clock& clock) {
  COPUNCTAL_TRY(const auto database, Database::connect(address));
  COPUNCTAL_TRY_VOID(migrate(*database, clock(), database->name()));
  return import_into(*database, archive, name, clock());
}

namespace {

// The backup as a file of our own, which may be opened and written without touching the backup.
Result<void> copy_file_to(const fs::path& draft, const fs::path& backup) {
  const auto unreadable = [&](const std::string& what) {
    return fail(Error::Kind::bad_input, backup.string() + ": " + what, "backup", backup.string(),
                "name a file that `copunctal practical backup` wrote");
  };
  std::error_code error;
  if (!fs::exists(backup, error)) return unreadable("there is no such file");
  if (!fs::is_regular_file(backup, error)) return unreadable("this is no file");
  for (const char* end : {"-wal", "-journal"})
    if (const fs::path beside = backup.string() + end;
        fs::exists(beside, error) && fs::file_size(beside, error) > 0)
      return unreadable("this database is in use: " + beside.string() + " belongs to it");
  std::ifstream from(backup, std::ios::binary);
  std::array<char, file_beginning.size() + 1> head{};
  if (!from.read(head.data(), head.size()) ||
      std::string_view(head.data(), head.size()) != std::string_view("SQLite format 3\0", 16))
    return unreadable("this is no backup");
  from.close();
  remove_database(draft);
  const int made =
      ::open(draft.c_str(), O_RDWR | O_CREAT | O_EXCL | O_CLOEXEC | O_NOFOLLOW, S_IRUSR | S_IWUSR);
  if (made >= 0) close(made);
  if (made < 0 || !fs::copy_file(backup, draft, fs::copy_options::overwrite_existing, error))
    return fail(Error::Kind::io, draft.string() + ": cannot be written (" + error.message() + ")",
                "data directory", draft.string(), "free some space on the disk");
  fs::permissions(draft, fs::perms::owner_read | fs::perms::owner_write, error);
  return {};
}

/// What is wrong with our copy of a backup is wrong with the backup.
template <class T>
Result<T> in_the_name_of(const fs::path& backup, const fs::path& draft, Result<T> result) {
  if (result) return result;
  Error error = std::move(result).error();
  if (const auto at = error.message.find(draft.string()); at != std::string::npos)
    error.message.replace(at, draft.string().size(), backup.string());
  error.thing = "backup";
  error.place = backup.string();
  error.remedy = "use another backup";
  return tl::unexpected(std::move(error));
}

// Opens what is in place, if it is a database and sound.
std::unique_ptr<Database> sound_database(const fs::path& file) {
  std::error_code error;
  if (!fs::exists(file, error)) return nullptr;
  auto opened = Database::open(file);
  if (!opened || !check_wholly(**opened, file.string())) return nullptr;
  return *std::move(opened);
}

}  // namespace

Result<RestoreReport> restore_backup(const fs::path& directory, const fs::path& backup,
                                     const DataKeeper::Clock& clock) {
  COPUNCTAL_TRY(DataDirectory held, DataDirectory::open(directory));
  remove_drafts(directory);
  const fs::path live = database_in(directory), draft = directory / "copunctal.db.restoring";
  struct Away {
    const fs::path& file;
    ~Away() { remove_database(file); }
  } const away_with_draft{draft};
  COPUNCTAL_TRY_VOID(copy_file_to(draft, backup));

  RestoreReport report;
  const std::string now_utc = clock();
  std::string before = "nothing";
  {
    COPUNCTAL_TRY(const auto restored, in_the_name_of(backup, draft, Database::open(draft)));
    COPUNCTAL_TRY_VOID(in_the_name_of(backup, draft, check_wholly(*restored, backup.string())));
    COPUNCTAL_TRY_VOID(migrate(*restored, now_utc, backup.string()));

    const auto present = sound_database(live);
    if (present != nullptr) {
      COPUNCTAL_TRY(report.before, write_automatic_backup(*present, directory, now_utc));
      COPUNCTAL_TRY(const bool is_logged, has_log(*present));
      if (is_logged) {
        COPUNCTAL_TRY(const LogRead log, read_log(*present));
        before = "head " + log.head_sha256;
      }
    }
    {
      COPUNCTAL_TRY(const auto transaction, Transaction::writing(*restored));
      COPUNCTAL_TRY_VOID(
          append_to_log(*restored, LogEvent::restore, now_utc, "", "in place of " + before));
      COPUNCTAL_TRY_VOID(transaction->keep());
    }
    if (present != nullptr) {
      COPUNCTAL_TRY_VOID(restored->copy_into(*present));
      static_cast<void>(present->empty_log());  // or a later one empties it
      return report;
    }
    COPUNCTAL_TRY(const std::string mode, restored->text("PRAGMA journal_mode=DELETE"));
    if (mode != "delete")
      return fail(Error::Kind::io, draft.string() + ": cannot be made one file", "database",
                  draft.string(), "choose a data directory on a local disk");
  }
  std::error_code error;
  if (fs::exists(live, error)) {
    std::string time = now_utc;
    std::replace(time.begin(), time.end(), ':', '-');
    report.damaged = directory / ("copunctal.db.damaged-" + time);
    fs::create_hard_link(live, report.damaged,
                         error);  // so that a file of that name is always there
    if (error) fs::rename(live, report.damaged, error);
    for (const char* end : {"-wal", "-shm"}) {
      std::error_code ignored;
      fs::rename(live.string() + end, report.damaged.string() + end, ignored);
    }
  }
  fs::rename(draft, live, error);
  if (error)
    return fail(Error::Kind::io, live.string() + ": cannot be written (" + error.message() + ")",
                "database", live.string(), "check the directory and its permissions");
  COPUNCTAL_TRY_VOID(held.flush());
  return report;
}

}  // namespace copunctal
