#include "copunctal/store/database.h"

#include <sqlite3.h>

#include <array>
#include <limits>

#include "copunctal/base/expects.h"

namespace copunctal {
namespace {

constexpr int busy_timeout_ms = 2000;

/// How a pragma is set, and how it then reads.
struct Setting {
  const char *name, *value, *reads;
};

#ifdef COPUNCTAL_DO_NOT_WAIT_FOR_THE_DISK
// The negative control of test/faults: a commit that is not seen onto the disk, as is often advised
// with a write-ahead log. The power cut test must catch it. Never part of the product.
constexpr Setting durability{"synchronous", "NORMAL", "1"};
#else
constexpr Setting durability{"synchronous", "FULL", "2"};
#endif

std::string file_of(sqlite3* database) {
  const char* name = database == nullptr ? nullptr : sqlite3_db_filename(database, "main");
  return name == nullptr ? "database" : name;
}

/// The error a SQLite result code stands for, with what to do about it.
tl::unexpected<Error> sqlite_failure(sqlite3* database, int code, const std::string& file) {
  const std::string said = database == nullptr ? sqlite3_errstr(code) : sqlite3_errmsg(database);
  switch (code & 0xff) {
    case SQLITE_FULL:
      return fail(Error::Kind::io, file + ": the disk is full (" + said + ")", "database", file,
                  "free some space; answers that were not confirmed will be sent again");
    case SQLITE_BUSY:
    case SQLITE_LOCKED:
      return fail(Error::Kind::io, file + ": another program holds the database (" + said + ")",
                  "database", file, "close the other program and try again");
    case SQLITE_READONLY:
    case SQLITE_CANTOPEN:
    case SQLITE_PERM:
      return fail(Error::Kind::io, file + ": cannot be written (" + said + ")", "database", file,
                  "choose a data directory that you may write to");
    case SQLITE_NOTADB:
      return fail(Error::Kind::io, file + ": this is not a database (" + said + ")", "database",
                  file, "move the file away, or choose another data directory");
    case SQLITE_CORRUPT:
      return fail(Error::Kind::io, file + ": the database is damaged (" + said + ")", "database",
                  file, "restore a backup, or move the file away to begin afresh");
    default:
      return fail(Error::Kind::io, file + ": the database failed (" + said + ")", "database", file,
                  "check the disk, then start the program again");
  }
}

}  // namespace

Statement::Statement(Statement&& other) noexcept
    : database_(other.database_), statement_(other.statement_), bound_(other.bound_) {
  other.statement_ = nullptr;
}

Statement::~Statement() {
  if (statement_ == nullptr) return;
  sqlite3_reset(statement_);
  sqlite3_clear_bindings(statement_);
}

Statement& Statement::bind(std::string_view text) {
  const int code = sqlite3_bind_text64(statement_, ++bound_, text.data(), text.size(),
                                       SQLITE_TRANSIENT, SQLITE_UTF8);
  expects(code == SQLITE_OK);
  return *this;
}

Statement& Statement::bind(std::int64_t number) {
  expects(sqlite3_bind_int64(statement_, ++bound_, number) == SQLITE_OK);
  return *this;
}

Statement& Statement::bind(double number) {
  expects(sqlite3_bind_double(statement_, ++bound_, number) == SQLITE_OK);
  return *this;
}

Statement& Statement::bind_null() {
  expects(sqlite3_bind_null(statement_, ++bound_) == SQLITE_OK);
  return *this;
}

Result<bool> Statement::step() {
  expects(bound_ == sqlite3_bind_parameter_count(statement_));
  const int code = sqlite3_step(statement_);
  if (code == SQLITE_ROW) return true;
  if (code == SQLITE_DONE) return false;
  return sqlite_failure(database_, code, file_of(database_));
}

Result<void> Statement::run() {
  COPUNCTAL_TRY(const bool has_row, step());
  expects(!has_row);
  return {};
}

std::string Statement::text(int column) const {
  const unsigned char* bytes = sqlite3_column_text(statement_, column);
  const auto size = static_cast<std::size_t>(sqlite3_column_bytes(statement_, column));
  return bytes == nullptr ? std::string() : std::string(reinterpret_cast<const char*>(bytes), size);
}

std::int64_t Statement::whole(int column) const {
  return sqlite3_column_int64(statement_, column);
}

double Statement::real(int column) const {
  return sqlite3_column_double(statement_, column);
}

bool Statement::is_null(int column) const {
  return sqlite3_column_type(statement_, column) == SQLITE_NULL;
}

Result<std::unique_ptr<Database>> Database::open(const std::filesystem::path& file) {
  std::unique_ptr<Database> database(new Database(file));
  const int flags = SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE | SQLITE_OPEN_NOMUTEX |
                    SQLITE_OPEN_NOFOLLOW | SQLITE_OPEN_EXRESCODE;
  const int code = sqlite3_open_v2(file.c_str(), &database->handle_, flags, nullptr);
  if (code != SQLITE_OK) return sqlite_failure(database->handle_, code, file.string());
  sqlite3_busy_timeout(database->handle_, busy_timeout_ms);
  if (auto safe = database->secure(); !safe) return tl::unexpected(std::move(safe).error());
  return database;
}

Database::~Database() {
  for (auto& [sql, statement] : statements_) sqlite3_finalize(statement);
  sqlite3_close(handle_);
}

Result<void> Database::secure() {
  for (const int option : {SQLITE_DBCONFIG_DEFENSIVE, SQLITE_DBCONFIG_ENABLE_FKEY}) {
    int is_on = 0;
    sqlite3_db_config(handle_, option, 1, &is_on);
    if (is_on != 1)
      return fail(Error::Kind::unsupported, "this SQLite lacks a safety switch that we need",
                  "SQLite", sqlite3_libversion(), "install SQLite 3.40 or newer");
  }
  constexpr auto wanted = std::to_array<Setting>({
      {"trusted_schema", "OFF", "0"},
      {"cell_size_check", "ON", "1"},
      {"foreign_keys", "ON", "1"},
      {"secure_delete", "ON", "1"},
      {"journal_mode", "WAL", "wal"},
      durability,
  });
  for (const auto& [name, value, reads] : wanted)
    if (auto set = set_and_read_back(name, value, reads); !set) return set;
  return {};
}

Result<void> Database::set_and_read_back(const std::string& name, const std::string& value,
                                         const std::string& reads) {
  COPUNCTAL_TRY(Statement setting, prepare("PRAGMA " + name + "=" + value));
  for (bool more = true; more;) {
    COPUNCTAL_TRY(more, setting.step());
  }
  COPUNCTAL_TRY(const std::string got, text("PRAGMA " + name));
  if (got == reads) return {};
  return fail(Error::Kind::io,
              file_.string() + ": the database will not keep " + name + "=" + value +
                  " (it says '" + got + "'), without which a confirmed answer could be lost",
              "database", file_.string(), "choose a data directory on a local disk");
}

Result<void> Database::run(const std::string& script) {
  const int code = sqlite3_exec(handle_, script.c_str(), nullptr, nullptr, nullptr);
  if (code != SQLITE_OK) return sqlite_failure(handle_, code, file_.string());
  return {};
}

Result<Statement> Database::prepare(std::string_view sql) {
  if (const auto known = statements_.find(sql); known != statements_.end())
    return Statement(handle_, known->second);
  expects(sql.size() < static_cast<std::size_t>(std::numeric_limits<int>::max()));
  sqlite3_stmt* statement = nullptr;
  const int code = sqlite3_prepare_v3(handle_, sql.data(), static_cast<int>(sql.size()),
                                      SQLITE_PREPARE_PERSISTENT, &statement, nullptr);
  if (code != SQLITE_OK) return sqlite_failure(handle_, code, file_.string());
  statements_.emplace(sql, statement);
  return Statement(handle_, statement);
}

Result<std::int64_t> Database::number(std::string_view sql) {
  COPUNCTAL_TRY(Statement question, prepare(sql));
  COPUNCTAL_TRY(const bool has_row, question.step());
  expects(has_row);
  return question.whole(0);
}

Result<std::string> Database::text(std::string_view sql) {
  COPUNCTAL_TRY(Statement question, prepare(sql));
  COPUNCTAL_TRY(const bool has_row, question.step());
  expects(has_row);
  return question.text(0);
}

Result<void> Database::copy_into(Database& other) {
  sqlite3_backup* copy = sqlite3_backup_init(other.handle_, "main", handle_, "main");
  if (copy == nullptr)
    return sqlite_failure(other.handle_, sqlite3_errcode(other.handle_), other.file_.string());
  constexpr int all_pages = -1, wait_ms = 10, most_waits = 500;
  int code = SQLITE_BUSY;
  for (int i = 0; i < most_waits && (code == SQLITE_BUSY || code == SQLITE_LOCKED); ++i) {
    if (i > 0) sqlite3_sleep(wait_ms);
    code = sqlite3_backup_step(copy, all_pages) & 0xff;
  }
  const int finished = sqlite3_backup_finish(copy);
  if (code == SQLITE_DONE && finished == SQLITE_OK) return {};
  return sqlite_failure(other.handle_, finished == SQLITE_OK ? code : finished,
                        other.file_.string());
}

bool Database::in_transaction() const {
  return sqlite3_get_autocommit(handle_) == 0;
}

std::int64_t Database::changed() const {
  return sqlite3_changes64(handle_);
}

}  // namespace copunctal
