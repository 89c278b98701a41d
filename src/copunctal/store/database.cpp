#include "copunctal/store/database.h"

#include <sqlite3.h>

#include <array>
#include <limits>
#include <map>

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

tl::unexpected<Error> cannot_carry(std::string_view table, const std::string& column,
                                   const std::string& type) {
  const std::string what = std::string(table) + "." + column + " of type " + type;
  return fail(Error::Kind::unsupported, "the database's schema cannot be carried: " + what,
              "schema", what, "use the program that made this database");
}

std::string file_of(sqlite3* database) {
  const char* name = database == nullptr ? nullptr : sqlite3_db_filename(database, "main");
  return name == nullptr ? "database" : name;
}

DatabaseFailure failure_of(int extended_code) {
  switch (extended_code) {
    case SQLITE_CONSTRAINT_FOREIGNKEY:
      return DatabaseFailure::reference;
    default:
      return (extended_code & 0xff) == SQLITE_CONSTRAINT ? DatabaseFailure::rule
                                                         : DatabaseFailure::other;
  }
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

class SqliteStatement : public PreparedStatement {
 public:
  SqliteStatement(sqlite3* database, sqlite3_stmt* statement, DatabaseFailure& failure)
      : database_(database), statement_(statement), failure_(failure) {}
  SqliteStatement(const SqliteStatement&) = delete;
  SqliteStatement& operator=(const SqliteStatement&) = delete;
  ~SqliteStatement() override { sqlite3_finalize(statement_); }

  int parameters() const override { return sqlite3_bind_parameter_count(statement_); }
  void bind(int at, std::string_view text) override {
    const int code = sqlite3_bind_text64(statement_, at, text.data(), text.size(), SQLITE_TRANSIENT,
                                         SQLITE_UTF8);
    expects(code == SQLITE_OK);
  }
  void bind(int at, std::int64_t number) override {
    expects(sqlite3_bind_int64(statement_, at, number) == SQLITE_OK);
  }
  void bind(int at, double number) override {
    expects(sqlite3_bind_double(statement_, at, number) == SQLITE_OK);
  }
  void bind_null(int at) override { expects(sqlite3_bind_null(statement_, at) == SQLITE_OK); }

  Result<bool> step() override {
    const int code = sqlite3_step(statement_);
    if (code == SQLITE_ROW) return true;
    if (code == SQLITE_DONE) return false;
    failure_ = failure_of(code);
    return sqlite_failure(database_, code, file_of(database_));
  }
  Result<void> run_later() override {
    if (auto done = step(); !done) return tl::unexpected(std::move(done).error());
    return {};
  }

  std::string text(int column) const override {
    const unsigned char* bytes = sqlite3_column_text(statement_, column);
    const auto size = static_cast<std::size_t>(sqlite3_column_bytes(statement_, column));
    return bytes == nullptr ? std::string()
                            : std::string(reinterpret_cast<const char*>(bytes), size);
  }
  std::int64_t whole(int column) const override { return sqlite3_column_int64(statement_, column); }
  double real(int column) const override { return sqlite3_column_double(statement_, column); }
  bool is_null(int column) const override {
    return sqlite3_column_type(statement_, column) == SQLITE_NULL;
  }
  void reset() override {
    sqlite3_reset(statement_);
    sqlite3_clear_bindings(statement_);
  }

 private:
  sqlite3* database_;
  sqlite3_stmt* statement_;
  DatabaseFailure& failure_;
};

class SqliteDatabase : public Database {
 public:
  explicit SqliteDatabase(std::filesystem::path file) : file_(std::move(file)) {}
  SqliteDatabase(const SqliteDatabase&) = delete;
  SqliteDatabase& operator=(const SqliteDatabase&) = delete;
  ~SqliteDatabase() override {
    statements_.clear();
    sqlite3_close(handle_);
  }

  Result<void> open_file();

  Result<void> run(const std::string& script) override { return run_as_it_is(script); }
  Result<void> run_as_it_is(const std::string& script) override;
  Result<Statement> prepare(std::string_view sql) override;
  Result<void> begin_reading() override { return run("BEGIN"); }
  Result<void> begin_writing() override { return run("BEGIN IMMEDIATE"); }
  bool in_transaction() const override { return sqlite3_get_autocommit(handle_) == 0; }
  std::int64_t changed() const override { return sqlite3_changes64(handle_); }
  std::string name() const override { return file_.string(); }
  bool is_postgres() const override { return false; }

  Result<SchemaMark> schema_mark() override;
  Result<void> make_schema() override { return {}; }
  Result<void> mark_schema(std::int64_t version) override {
    return run("PRAGMA application_id=" + std::to_string(application_id) +
               ";PRAGMA user_version=" + std::to_string(version));
  }
  Result<std::vector<std::string>> tables() override;
  Result<std::vector<TableColumn>> columns(std::string_view table) override;
  Result<std::vector<ForeignKey>> foreign_keys(std::string_view table) override;

  bool empty_log() override;
  Result<void> wipe() override;
  Result<void> copy_into(Database& other) override;

 private:
  tl::unexpected<Error> failed(int code);
  Result<void> secure();
  Result<void> set_and_read_back(const std::string& name, const std::string& value,
                                 const std::string& reads);

  std::filesystem::path file_;
  sqlite3* handle_ = nullptr;
  std::map<std::string, std::unique_ptr<SqliteStatement>, std::less<>> statements_;
};

tl::unexpected<Error> SqliteDatabase::failed(int code) {
  failure_ = failure_of(code);
  return sqlite_failure(handle_, code, file_.string());
}

Result<void> SqliteDatabase::open_file() {
  const int flags = SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE | SQLITE_OPEN_NOMUTEX |
                    SQLITE_OPEN_NOFOLLOW | SQLITE_OPEN_EXRESCODE;
  const int code = sqlite3_open_v2(file_.c_str(), &handle_, flags, nullptr);
  if (code != SQLITE_OK) return failed(code);
  sqlite3_busy_timeout(handle_, busy_timeout_ms);
  return secure();
}

Result<void> SqliteDatabase::secure() {
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

Result<void> SqliteDatabase::set_and_read_back(const std::string& name, const std::string& value,
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

Result<void> SqliteDatabase::run_as_it_is(const std::string& script) {
  const int code = sqlite3_exec(handle_, script.c_str(), nullptr, nullptr, nullptr);
  return code == SQLITE_OK ? Result<void>() : failed(code);
}

Result<Statement> SqliteDatabase::prepare(std::string_view sql) {
  if (const auto known = statements_.find(sql); known != statements_.end())
    return Statement(*known->second);
  expects(sql.size() < static_cast<std::size_t>(std::numeric_limits<int>::max()));
  sqlite3_stmt* statement = nullptr;
  const int code = sqlite3_prepare_v3(handle_, sql.data(), static_cast<int>(sql.size()),
                                      SQLITE_PREPARE_PERSISTENT, &statement, nullptr);
  if (code != SQLITE_OK) return failed(code);
  const auto kept =
      statements_.emplace(sql, std::make_unique<SqliteStatement>(handle_, statement, failure_));
  return Statement(*kept.first->second);
}

Result<SchemaMark> SqliteDatabase::schema_mark() {
  SchemaMark mark;
  COPUNCTAL_TRY(mark.application, number("PRAGMA application_id"));
  COPUNCTAL_TRY(mark.version, number("PRAGMA user_version"));
  COPUNCTAL_TRY(const auto things, number("SELECT count(*) FROM sqlite_schema"));
  mark.is_empty = things == 0;
  return mark;
}

Result<std::vector<std::string>> SqliteDatabase::tables() {
  COPUNCTAL_TRY(Statement rows, prepare("SELECT name FROM sqlite_schema WHERE type = 'table' AND"
                                        " name NOT LIKE 'sqlite\\_%' ESCAPE '\\' ORDER BY name"));
  std::vector<std::string> names;
  for (;;) {
    COPUNCTAL_TRY(const bool has_row, rows.step());
    if (!has_row) return names;
    names.push_back(rows.text(0));
  }
}

Result<std::vector<TableColumn>> SqliteDatabase::columns(std::string_view table) {
  COPUNCTAL_TRY(Statement rows,
                prepare("SELECT name, type, \"notnull\", pk FROM pragma_table_xinfo(?1)"
                        " WHERE hidden = 0 ORDER BY cid"));
  rows.bind(table);
  std::vector<TableColumn> columns;
  for (;;) {
    COPUNCTAL_TRY(const bool has_row, rows.step());
    if (!has_row) return columns;
    static const std::map<std::string, ColumnType> types = {{"INT", ColumnType::whole},
                                                            {"INTEGER", ColumnType::whole},
                                                            {"REAL", ColumnType::real},
                                                            {"TEXT", ColumnType::text}};
    const auto known = types.find(rows.text(1));
    if (known == types.end()) return cannot_carry(table, rows.text(0), rows.text(1));
    const int place = static_cast<int>(rows.whole(3));
    columns.push_back({rows.text(0), known->second, rows.whole(2) != 0 || place > 0, place});
  }
}

Result<std::vector<ForeignKey>> SqliteDatabase::foreign_keys(std::string_view table) {
  COPUNCTAL_TRY(Statement rows, prepare("SELECT id, \"table\", \"from\", coalesce(\"to\", '') FROM"
                                        " pragma_foreign_key_list(?1) ORDER BY id, seq"));
  rows.bind(table);
  std::map<std::int64_t, ForeignKey> by_id;
  for (;;) {
    COPUNCTAL_TRY(const bool has_row, rows.step());
    if (!has_row) break;
    ForeignKey& key = by_id[rows.whole(0)];
    key.to = rows.text(1);
    key.from_columns.push_back(rows.text(2));
    if (!rows.text(3).empty()) key.to_columns.push_back(rows.text(3));
  }
  std::vector<ForeignKey> keys;
  keys.reserve(by_id.size());
  for (auto& [id, key] : by_id) keys.push_back(std::move(key));
  return keys;
}

bool SqliteDatabase::empty_log() {
  const auto is_busy = number("PRAGMA wal_checkpoint(TRUNCATE)");
  return is_busy && *is_busy == 0;
}

// VACUUM writes the file anew, from its live rows; its own scratch is memory, never a file.
Result<void> SqliteDatabase::wipe() {
  COPUNCTAL_TRY_VOID(run("PRAGMA temp_store=MEMORY; VACUUM;"));
  COPUNCTAL_TRY(const auto is_busy, number("PRAGMA wal_checkpoint(TRUNCATE)"));
  if (is_busy == 0) return {};
  return fail(Error::Kind::io,
              "the rows are removed, but another program that reads the database kept their "
              "traces from being wiped",
              "database", "", "end that program, then give the same command again");
}

Result<void> SqliteDatabase::copy_into(Database& into) {
  auto& other = dynamic_cast<SqliteDatabase&>(into);
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

}  // namespace

Statement::Statement(Statement&& other) noexcept
    : prepared_(other.prepared_), bound_(other.bound_) {
  other.prepared_ = nullptr;
}

Statement::~Statement() {
  if (prepared_ != nullptr) prepared_->reset();
}

Statement& Statement::bind(std::string_view text) {
  prepared_->bind(++bound_, text);
  return *this;
}

Statement& Statement::bind(std::int64_t number) {
  prepared_->bind(++bound_, number);
  return *this;
}

Statement& Statement::bind(double number) {
  prepared_->bind(++bound_, number);
  return *this;
}

Statement& Statement::bind_null() {
  prepared_->bind_null(++bound_);
  return *this;
}

Result<bool> Statement::step() {
  expects(bound_ == prepared_->parameters());
  return prepared_->step();
}

Result<void> Statement::run() {
  COPUNCTAL_TRY(const bool has_row, step());
  expects(!has_row);
  return {};
}

Result<void> Statement::run_later() {
  expects(bound_ == prepared_->parameters());
  return prepared_->run_later();
}

Result<void> Statement::ask_ahead() {
  expects(bound_ == prepared_->parameters());
  return prepared_->ask_ahead();
}

Result<std::unique_ptr<Database>> Database::open(const std::filesystem::path& file) {
  auto database = std::make_unique<SqliteDatabase>(file);
  if (auto opened = database->open_file(); !opened)
    return tl::unexpected(std::move(opened).error());
  return database;
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

Result<void> Database::copy_into(Database&) {
  expects(false);
  return {};
}

}  // namespace copunctal
