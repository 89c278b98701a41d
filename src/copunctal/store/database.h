// One connection to a database and its statements, owned and closed by scope: SQLite in a file, or
// PostgreSQL by its own client library.
//
// Internal to store/: no other folder includes this header or sees SQL. The SQL is written once, as
// SQLite takes it; postgres_sql.h says which part of that may be used, and translates it.
#pragma once

#include <cstdint>
#include <filesystem>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "copunctal/base/result.h"

namespace copunctal {

/// What a database does for a Statement; it keeps the statement for the next time.
class PreparedStatement {
 public:
  PreparedStatement() = default;
  PreparedStatement(const PreparedStatement&) = delete;
  PreparedStatement& operator=(const PreparedStatement&) = delete;
  virtual ~PreparedStatement() = default;

  virtual int parameters() const = 0;
  /// Parameters are numbered from 1, columns from 0.
  virtual void bind(int at, std::string_view text) = 0;
  virtual void bind(int at, std::int64_t number) = 0;
  virtual void bind(int at, double number) = 0;
  virtual void bind_null(int at) = 0;
  virtual Result<bool> step() = 0;
  virtual Result<void> ask_ahead() { return {}; }
  virtual Result<void> run_later() = 0;
  virtual std::string text(int column) const = 0;
  virtual std::int64_t whole(int column) const = 0;
  virtual double real(int column) const = 0;
  virtual bool is_null(int column) const = 0;
  virtual void reset() = 0;
};

/// A prepared statement on loan from its Database, reset and unbound when it leaves scope.
class Statement {
 public:
  explicit Statement(PreparedStatement& prepared) : prepared_(&prepared) {}
  Statement(const Statement&) = delete;
  Statement& operator=(const Statement&) = delete;
  Statement(Statement&& other) noexcept;
  Statement& operator=(Statement&&) = delete;
  ~Statement();

  /// Binds the next parameter, from the first on.
  Statement& bind(std::string_view text);
  Statement& bind(std::int64_t number);
  Statement& bind(double number);
  Statement& bind_null();
  template <class T>
  Statement& bind(const std::optional<T>& value) {
    return value ? bind(*value) : bind_null();
  }

  /// Moves to the next row: true; false after the last one.
  Result<bool> step();
  /// Runs a statement that has no rows to offer.
  Result<void> run();
  /// The same, where nobody needs to know at once what it changed: after begin_writing_together()
  /// it may wait for what is sent next, and fail with that.
  Result<void> run_later();
  /// Asks for the rows beforehand: all that is asked so, by several statements, comes with what is
  /// sent next.
  Result<void> ask_ahead();

  std::string text(int column) const { return prepared_->text(column); }
  std::int64_t whole(int column) const { return prepared_->whole(column); }
  double real(int column) const { return prepared_->real(column); }
  bool is_null(int column) const { return prepared_->is_null(column); }

 private:
  PreparedStatement* prepared_;
  int bound_ = 0;
};

enum class ColumnType { whole, real, text };

struct TableColumn {
  std::string name;
  ColumnType type = ColumnType::text;
  bool is_required = false;
  int key = 0;  ///< Place in the primary key, from 1; 0: no part of it.
};

struct ForeignKey {
  std::string to;
  std::vector<std::string> from_columns, to_columns;  ///< No `to_columns`: the primary key.
};

/// Whose database it is, and how far its schema is.
struct SchemaMark {
  std::int64_t application = 0;  ///< application_id, or 0 where nobody has marked it.
  std::int64_t version = 0;      ///< Number of steps taken.
  bool is_empty = true;          ///< Nothing is in it yet.
};

/// What a failed call failed of, where a caller has to tell.
enum class DatabaseFailure {
  none,
  reference,  ///< A row refers to one that is not there, or is referred to.
  rule,       ///< Another rule of the schema, or a value of the wrong type.
  at_odds,    ///< With what another connection did meanwhile; nothing was kept: try again.
  unknown,    ///< The connection was lost while it committed: it may have been kept, or not.
  too_long,   ///< Somebody else writes, or the server took too long.
  other,
};

/// A connection with the settings on that durability and safety rest on, each read back.
class Database {
 public:
  /// SQLite. Error: io when the file is no database, is damaged or will not keep the settings, or
  /// when the system refuses.
  static Result<std::unique_ptr<Database>> open(const std::filesystem::path& file);
  /// PostgreSQL, by a URI (postgresql://...) or keywords (host=... dbname=...). A connection that
  /// is lost is made anew when the next transaction begins. Errors: usage for an address that
  /// cannot be read; unsupported for a server whose settings could lose what was confirmed; io when
  /// there is no connection. No error holds the password.
  static Result<std::unique_ptr<Database>> connect(const std::string& address);
  Database(const Database&) = delete;
  Database& operator=(const Database&) = delete;
  virtual ~Database() = default;

  /// Runs a script of statements without parameters and without rows.
  virtual Result<void> run(const std::string& script) = 0;
  /// The same, never translated.
  virtual Result<void> run_as_it_is(const std::string& script) = 0;
  /// Borrows a statement; prepared at its first use and kept.
  virtual Result<Statement> prepare(std::string_view sql) = 0;
  /// The single number that `sql` answers with.
  Result<std::int64_t> number(std::string_view sql);
  /// The single text that `sql` answers with.
  Result<std::string> text(std::string_view sql);

  /// Begins to read within one consistent view; ended by run("COMMIT").
  virtual Result<void> begin_reading() = 0;
  /// Begins to write while nobody else does, in this program or another; ended by run("COMMIT") or
  /// run("ROLLBACK").
  virtual Result<void> begin_writing() = 0;
  /// The same for many changes, whose statements go out together where the database is far: this
  /// call sends nothing yet. A failure may be told by a later statement, or by the COMMIT, and ends
  /// all of it.
  virtual Result<void> begin_writing_together() { return begin_writing(); }
  virtual bool in_transaction() const = 0;
  /// In a transaction in which nothing has failed so far.
  virtual bool is_sound() const { return in_transaction(); }
  /// Statements given so far that are no questions.
  virtual std::int64_t writes() const { return 0; }
  /// How often somebody waited for an answer from afar.
  virtual std::int64_t round_trips() const { return 0; }
  /// Rows changed by the last statement.
  virtual std::int64_t changed() const = 0;
  /// Of the last call that returned an Error.
  DatabaseFailure failure() const { return failure_; }
  void forget_failure() { failure_ = DatabaseFailure::none; }
  /// For a person: the file, or the database and its server.
  virtual std::string name() const = 0;
  virtual bool is_postgres() const = 0;

  /// Error: io where we may read what is in our schema, but not write it.
  virtual Result<void> check_rights() { return {}; }
  virtual Result<SchemaMark> schema_mark() = 0;
  /// Makes the place in which tables are made, within a transaction.
  virtual Result<void> make_schema() = 0;
  /// Marks the schema as ours and of that version, within a transaction.
  virtual Result<void> mark_schema(std::int64_t version) = 0;
  /// Our tables, by name.
  virtual Result<std::vector<std::string>> tables() = 0;
  /// Error: unsupported for a type that ColumnType does not have.
  virtual Result<std::vector<TableColumn>> columns(std::string_view table) = 0;
  virtual Result<std::vector<ForeignKey>> foreign_keys(std::string_view table) = 0;

  /// Takes what a commit removed out of the log beside the tables; false: somebody is in the way.
  virtual bool empty_log() = 0;
  /// Writes the tables anew without what was removed. Error: io when somebody is in the way.
  virtual Result<void> wipe() = 0;

  /// SQLite only: makes the other database a copy of this one as it stands, page by page, while
  /// others go on reading and writing this one. Error: io.
  virtual Result<void> copy_into(Database& other);

 protected:
  Database() = default;
  DatabaseFailure failure_ = DatabaseFailure::none;
};

/// "Cplt" as a number: marks a database as ours.
inline constexpr int application_id = 0x43706c74;

}  // namespace copunctal
