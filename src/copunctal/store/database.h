// One SQLite connection and its statements, owned and closed by scope.
//
// Internal to store/: no other folder includes this header or sees SQL.
#pragma once

#include <cstdint>
#include <filesystem>
#include <map>
#include <memory>
#include <optional>
#include <string>
#include <string_view>

#include "copunctal/base/result.h"

struct sqlite3;
struct sqlite3_stmt;

namespace copunctal {

/// A prepared statement on loan from its Database, reset and unbound when it leaves scope.
class Statement {
 public:
  explicit Statement(sqlite3* database, sqlite3_stmt* statement)
      : database_(database), statement_(statement) {}
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

  std::string text(int column) const;
  std::int64_t whole(int column) const;
  double real(int column) const;
  bool is_null(int column) const;

 private:
  sqlite3* database_;
  sqlite3_stmt* statement_;
  int bound_ = 0;
};

/// A connection with the safety settings on: foreign keys, DEFENSIVE, untrusted schema, checked
/// cell sizes, WAL and synchronous=FULL, each read back after it was set.
class Database {
 public:
  /// Error: io when the file is no database, is damaged or will not keep the settings, or when the
  /// system refuses.
  static Result<std::unique_ptr<Database>> open(const std::filesystem::path& file);
  Database(const Database&) = delete;
  Database& operator=(const Database&) = delete;
  ~Database();

  /// Runs a script of statements without parameters and without rows.
  Result<void> run(const std::string& script);
  /// Borrows a statement; prepared at its first use and kept.
  Result<Statement> prepare(std::string_view sql);
  /// The single number that `sql` answers with.
  Result<std::int64_t> number(std::string_view sql);
  /// The single text that `sql` answers with.
  Result<std::string> text(std::string_view sql);

  /// Makes the other database a copy of this one as it stands, page by page, while others go on
  /// reading and writing this one. Error: io.
  Result<void> copy_into(Database& other);

  bool in_transaction() const;
  /// Rows changed by the last statement.
  std::int64_t changed() const;

 private:
  explicit Database(std::filesystem::path file) : file_(std::move(file)) {}
  Result<void> secure();
  Result<void> set_and_read_back(const std::string& name, const std::string& value,
                                 const std::string& reads);

  std::filesystem::path file_;
  sqlite3* handle_ = nullptr;
  std::map<std::string, sqlite3_stmt*, std::less<>> statements_;
};

}  // namespace copunctal
