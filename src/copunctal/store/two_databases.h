// For tests: the same test on SQLite and on PostgreSQL.
//
//   struct Thing : OnBothDatabases { StorePlace place{GetParam()}; };
//   TEST_P(Thing, does_it) { const auto store = place.store(); ... }
//   INSTANTIATE_TEST_SUITE_P(, Thing, both_databases, name_of_database);
#pragma once

#include <gtest/gtest.h>

#include <memory>
#include <ostream>
#include <stdexcept>
#include <string>

#include "copunctal/store/database.h"
#include "copunctal/store/migrations.h"
#include "copunctal/store/postgres_server.h"
#include "copunctal/store/scratch_directory.h"
#include "copunctal/store/store.h"

namespace copunctal {

enum class DatabaseKind { sqlite, postgres };

inline void PrintTo(DatabaseKind kind, std::ostream* out) {
  *out << (kind == DatabaseKind::sqlite ? "sqlite" : "postgres");
}
inline std::string name_of_database(const testing::TestParamInfo<DatabaseKind>& info) {
  return info.param == DatabaseKind::sqlite ? "sqlite" : "postgres";
}
inline const auto both_databases = testing::Values(DatabaseKind::sqlite, DatabaseKind::postgres);

/// One server for all tests of a program, started at its first use; in memory where there is a file
/// system of that kind, because none of them cuts its power.
class ServerOfTests : public testing::Environment {
 public:
  static PostgresServer& server() {
    if (server_ == nullptr) {
      const std::filesystem::path memory = "/dev/shm";
      server_ = std::filesystem::is_directory(memory) ? std::make_unique<PostgresServer>("", memory)
                                                      : std::make_unique<PostgresServer>();
      testing::AddGlobalTestEnvironment(new ServerOfTests);
    }
    return *server_;
  }
  void TearDown() override { server_.reset(); }

 private:
  static inline std::unique_ptr<PostgresServer> server_;
};

class OnBothDatabases : public testing::TestWithParam<DatabaseKind> {
 protected:
  void SetUp() override {
    if (GetParam() != DatabaseKind::postgres) return;
    if (const auto why = PostgresServer::missing()) GTEST_SKIP() << *why;
  }
};

/// A place for a store, empty at first; a PostgreSQL database is made at its first use.
class StorePlace {
 public:
  static constexpr std::string_view now = "2030-01-02T03:04:05.678Z";

  explicit StorePlace(DatabaseKind kind) : kind_(kind) {}

  std::unique_ptr<Store> store() {
    return there(kind_ == DatabaseKind::sqlite ? Store::open(scratch_.path(), now)
                                               : Store::connect(address(), now));
  }
  /// A connection, whatever is there.
  std::unique_ptr<Database> database() {
    return there(kind_ == DatabaseKind::sqlite ? Database::open(scratch_.path() / "copunctal.db")
                                               : Database::connect(address()));
  }
  /// A connection to a database with our schema.
  std::unique_ptr<Database> migrated() {
    auto connection = database();
    if (auto done = migrate(*connection, now, "test"); !done)
      throw std::runtime_error(done.error().message);
    return connection;
  }
  const std::string& address() {
    if (address_.empty()) address_ = ServerOfTests::server().new_database();
    return address_;
  }
  const std::filesystem::path& directory() const { return scratch_.path(); }

 private:
  template <class T>
  static T there(Result<T> result) {
    if (!result) throw std::runtime_error(result.error().message);
    return *std::move(result);
  }

  DatabaseKind kind_;
  ScratchDirectory scratch_;
  std::string address_;
};

}  // namespace copunctal
