// PostgreSQL behind the interface of database.h.
#include <poll.h>

#include <algorithm>
#include <array>
#include <atomic>
#include <charconv>
#include <chrono>
#include <cstring>
#include <map>
#include <utility>

#include "copunctal/base/expects.h"
#include "copunctal/base/text.h"
#include "copunctal/store/database.h"
#include "copunctal/store/postgres_library.h"
#include "copunctal/store/postgres_sql.h"

namespace copunctal {
namespace {

using Clock = std::chrono::steady_clock;

constexpr int oldest_server = 150000;
/// While a server is away, others than the first who asks are told so at once.
constexpr std::chrono::milliseconds between_tries{250};
/// The key of the lock that whoever writes holds until the commit; any number, the same for all.
constexpr std::string_view write_lock = "1131441268";

/// A setting of the server, and the values that keep what was confirmed. `change`: how the server
/// gets it.
struct Setting {
  const char *name, *good, *also_good, *change;
};
constexpr auto wanted_settings = std::to_array<Setting>({
    {"synchronous_commit", "on", "remote_apply", "ALTER SYSTEM SET synchronous_commit = on"},
    {"fsync", "on", "on", "ALTER SYSTEM SET fsync = on"},
    {"full_page_writes", "on", "on", "ALTER SYSTEM SET full_page_writes = on"},
    {"server_encoding", "UTF8", "UTF8", ""},
});

#ifdef COPUNCTAL_DO_NOT_WAIT_FOR_THE_DISK
// The negative control of test/faults: commits that are reported before they are on the disk. The
// test that ends PostgreSQL must catch it. Never part of the product.
constexpr const char* durability = "SET synchronous_commit = off; ";
constexpr bool takes_any_setting = true;
#else
// As found and checked; said once more, so that a change of the server's default while we are
// connected changes nothing here.
constexpr const char* durability = "SET synchronous_commit = on; ";
constexpr bool takes_any_setting = false;
#endif

/// How long we wait for who writes before us, for a statement, and the server for us.
constexpr const char* session =
    "SET lock_timeout = '5s'; SET statement_timeout = '20s';"
    " SET idle_in_transaction_session_timeout = '20s'; SET extra_float_digits = 1;"
    " SET standard_conforming_strings = on; SET search_path = copunctal, pg_catalog";

struct ClearResult {
  const PostgresLibrary* library;
  void operator()(PGresult* result) const { library->clear(result); }
};
using OwnedResult = std::unique_ptr<PGresult, ClearResult>;

/// What the server said, for our eyes: a code of five characters (its manual, appendix A) and
/// words.
struct Complaint {
  std::string code, words;
};

DatabaseFailure failure_of(std::string_view code) {
  if (code == "23503") return DatabaseFailure::reference;
  if (code.starts_with("23") || code.starts_with("22")) return DatabaseFailure::rule;
  if (code == "40001" || code == "40P01") return DatabaseFailure::at_odds;
  if (code == "55P03" || code == "57014") return DatabaseFailure::too_long;
  return DatabaseFailure::other;
}

class PostgresDatabase;
class PostgresStatement;

/// What is sent with the next thing that somebody has to wait for.
struct Waiting {
  std::string sql;  ///< Or, where it was prepared:
  std::string name;
  std::vector<std::optional<std::string>> values = {};
  PostgresStatement* asker = nullptr;  ///< Who gets its rows, or nobody.
};

class PostgresStatement : public PreparedStatement {
 public:
  PostgresStatement(PostgresDatabase& database, std::string sql, PostgresSql translated,
                    std::string name)
      : database_(database),
        sql_(std::move(sql)),
        translated_(std::move(translated)),
        name_(std::move(name)) {
    for (const int ours : translated_.parameters)
      values_.resize(std::max(values_.size(), static_cast<std::size_t>(ours)));
  }

  int parameters() const override { return static_cast<int>(values_.size()); }
  void bind(int at, std::string_view text) override {
    // What is sent ends at a NUL, so that one within would cut the rest off.
    has_nul_ = has_nul_ || text.find('\0') != std::string_view::npos;
    value(at) = std::string(text);
  }
  void bind(int at, std::int64_t number) override { value(at) = std::to_string(number); }
  void bind(int at, double number) override {
    std::array<char, 40> digits{};
    const auto end = std::to_chars(digits.data(), digits.data() + digits.size(), number);
    value(at) = std::string(digits.data(), end.ptr);
  }
  void bind_null(int at) override { value(at) = std::nullopt; }

  Result<bool> step() override;
  Result<void> ask_ahead() override;
  Result<void> run_later() override;
  std::string text(int column) const override;
  std::int64_t whole(int column) const override;
  double real(int column) const override;
  bool is_null(int column) const override;
  void reset() override;

  const PostgresSql& translated() const { return translated_; }
  const std::string& name() const { return name_; }
  /// What came of it, now that it was sent; nothing where it failed.
  void take(OwnedResult rows) {
    is_asked_ = false;
    rows_ = std::move(rows);
    row_ = -1;
  }

 private:
  std::optional<std::string>& value(int at) {
    expects(at >= 1 && at <= parameters());
    return values_[static_cast<std::size_t>(at - 1)];
  }
  Result<Waiting> ready_for(PostgresStatement* asker) const;

  PostgresDatabase& database_;
  std::string sql_;
  PostgresSql translated_;
  std::string name_;
  std::vector<std::optional<std::string>> values_;
  bool has_nul_ = false;
  bool is_asked_ = false;  ///< It waits to be sent.
  OwnedResult rows_{nullptr, {nullptr}};
  int row_ = -1;
};

class PostgresDatabase : public Database {
 public:
  PostgresDatabase(const PostgresLibrary& library, std::string address)
      : library_(library), address_(std::move(address)) {}
  PostgresDatabase(const PostgresDatabase&) = delete;
  PostgresDatabase& operator=(const PostgresDatabase&) = delete;
  ~PostgresDatabase() override { close(); }

  Result<void> open();

  Result<void> run(const std::string& script) override;
  Result<void> run_as_it_is(const std::string& sql) override;
  Result<Statement> prepare(std::string_view sql) override;
  Result<void> begin_reading() override;
  Result<void> begin_writing() override;
  Result<void> begin_writing_together() override;
  bool in_transaction() const override {
    return is_connected() &&
           (has_begun_ || library_.transaction_status(connection_) != PQTRANS_IDLE);
  }
  bool is_sound() const override {
    return in_transaction() && library_.transaction_status(connection_) != PQTRANS_INERROR;
  }
  std::int64_t writes() const override { return writes_; }
  std::int64_t round_trips() const override { return round_trips_; }
  std::int64_t changed() const override { return changed_; }
  std::string name() const override { return name_; }
  bool is_postgres() const override { return true; }

  Result<void> check_rights() override;
  Result<SchemaMark> schema_mark() override;
  Result<void> make_schema() override;
  Result<void> mark_schema(std::int64_t version) override;
  Result<std::vector<std::string>> tables() override;
  Result<std::vector<TableColumn>> columns(std::string_view table) override;
  Result<std::vector<ForeignKey>> foreign_keys(std::string_view table) override;

  bool empty_log() override { return true; }  // PostgreSQL's log is its own
  Result<void> wipe() override;

  void add_waiting(Waiting waiting) { waiting_.push_back(std::move(waiting)); }
  /// Who asked does not want to know any more.
  void leave(const PostgresStatement* asker) {
    for (Waiting& one : waiting_)
      if (one.asker == asker) one.asker = nullptr;
  }
  /// Sends all that waits, and waits for all that it comes to. The first failure is told; what
  /// stands behind it was not done.
  Result<void> send_waiting();
  bool puts_off_writes() const { return puts_off_writes_; }
  void count_write() { ++writes_; }
  const PostgresLibrary& library() const { return library_; }

 private:
  void close();
  bool is_connected() const {
    return connection_ != nullptr && !is_lost_ && library_.status(connection_) == CONNECTION_OK;
  }
  bool send(const Waiting& waiting);
  Result<void> take(const Waiting& of, OwnedResult result);
  Result<void> receive(const std::vector<Waiting>& sent);
  Result<void> commit();
  Result<void> roll_back();
  void notice_loss();
  Result<void> check_settings();
  Result<void> check_setting(const Setting& setting);
  Result<void> connected();
  Result<Statement> prepare_as_it_is(std::string_view sql, PostgresSql translated);
  /// A statement of PostgreSQL's own, such as asks for its catalogue.
  Result<Statement> ask(std::string_view sql) {
    return prepare_as_it_is(sql, {std::string(sql), {}});
  }
  tl::unexpected<Error> failed(const PGresult* result);
  tl::unexpected<Error> failed(const Complaint& complaint);
  std::string without_password(std::string words) const;

  const PostgresLibrary& library_;
  const std::string address_;
  PGconn* connection_ = nullptr;
  bool is_lost_ = false;  ///< Noticed before libpq's own status says so.
  std::string name_ = "the PostgreSQL database";
  std::map<std::string, std::unique_ptr<PostgresStatement>, std::less<>> statements_;
  std::vector<Waiting> waiting_;
  bool has_begun_ = false;  ///< BEGIN was sent, or waits to be.
  bool puts_off_writes_ = false;
  std::string last_command_;  ///< What the server says it did last.
  std::int64_t changed_ = 0, prepared_ = 0, writes_ = 0;
  std::atomic<std::int64_t> round_trips_ = 0;  ///< Read by others too.
  std::optional<Clock::time_point> failed_at_;
  std::optional<Error> last_trouble_;
};

// ---- statements -------------------------------------------------------------------------------

Result<Waiting> PostgresStatement::ready_for(PostgresStatement* asker) const {
  if (has_nul_)
    return fail(Error::Kind::bad_input, "a text holds the character NUL, which cannot be kept",
                "text", "", "send the text without it");
  Waiting ready{{}, name_, {}, asker};
  ready.values.reserve(translated_.parameters.size());
  for (const int ours : translated_.parameters)
    ready.values.push_back(values_[static_cast<std::size_t>(ours - 1)]);
  return ready;
}

Result<void> PostgresStatement::ask_ahead() {
  COPUNCTAL_TRY(Waiting ready, ready_for(this));
  database_.add_waiting(std::move(ready));
  is_asked_ = true;
  return {};
}

Result<void> PostgresStatement::run_later() {
  database_.count_write();
  if (!database_.puts_off_writes()) {
    COPUNCTAL_TRY_VOID(ask_ahead());
    return database_.send_waiting();
  }
  COPUNCTAL_TRY(Waiting ready, ready_for(nullptr));
  database_.add_waiting(std::move(ready));
  return {};
}

Result<bool> PostgresStatement::step() {
  if (rows_ == nullptr) {
    if (!is_asked_) COPUNCTAL_TRY_VOID(ask_ahead());
    COPUNCTAL_TRY_VOID(database_.send_waiting());
    expects(rows_ != nullptr);
  }
  return ++row_ < database_.library().ntuples(rows_.get());
}

void PostgresStatement::reset() {
  if (is_asked_) database_.leave(this);
  is_asked_ = false;
  rows_.reset();
  row_ = -1;
  has_nul_ = false;
  for (auto& value : values_) value.reset();
}

bool PostgresStatement::is_null(int column) const {
  return database_.library().getisnull(rows_.get(), row_, column) == 1;
}

std::string PostgresStatement::text(int column) const {
  const PostgresLibrary& library = database_.library();
  return {library.getvalue(rows_.get(), row_, column),
          static_cast<std::size_t>(library.getlength(rows_.get(), row_, column))};
}

template <class Number>
Number number_in(const std::string& text) {
  Number number{};
  std::from_chars(text.data(), text.data() + text.size(), number);
  return number;
}

std::int64_t PostgresStatement::whole(int column) const {
  const std::string said = text(column);
  if (said == "t") return 1;  // of a comparison; false reads as 0
  return number_in<std::int64_t>(said);
}

double PostgresStatement::real(int column) const {
  return number_in<double>(text(column));
}

// ---- errors -----------------------------------------------------------------------------------

// libpq's words do not hold it; the server's could, where it was given in a wrong place.
std::string PostgresDatabase::without_password(std::string words) const {
  const char* password = connection_ == nullptr ? nullptr : library_.pass(connection_);
  const std::string secret = password == nullptr ? "" : password;
  for (std::size_t at = 0; !secret.empty() && (at = words.find(secret, at)) != std::string::npos;)
    words.replace(at, secret.size(), "***"), at += 3;
  for (char& c : words)
    if (c == '\n' || c == '\t') c = ' ';
  while (!words.empty() && words.back() == ' ') words.pop_back();
  return words;
}

tl::unexpected<Error> PostgresDatabase::failed(const PGresult* result) {
  const char* code = library_.result_error_field(result, PG_DIAG_SQLSTATE);
  const char* words = library_.result_error_field(result, PG_DIAG_MESSAGE_PRIMARY);
  is_lost_ = is_lost_ || code == nullptr;  // libpq's own words: nobody is there to say it
  return failed(Complaint{code == nullptr ? "" : code,
                          words == nullptr ? library_.error_message(connection_) : words});
}

tl::unexpected<Error> PostgresDatabase::failed(const Complaint& complaint) {
  failure_ = failure_of(complaint.code);
  const auto io = [&](const std::string& what, const std::string& remedy) {
    return fail(Error::Kind::io,
                name_ + ": " + what + " (" + without_password(complaint.words) + ")", "database",
                name_, remedy);
  };
  const std::string& code = complaint.code;
  if (!is_connected() || code.starts_with("08") || code.starts_with("57P"))
    return io("the connection was lost", "see that PostgreSQL runs, and try again in a moment");
  if (code == "53100")
    return io("the server's disk is full",
              "free some space; answers that were not confirmed will be sent again");
  if (code.starts_with("53") || code.starts_with("54"))
    return io("the server is out of room", "give PostgreSQL more, and try again in a moment");
  if (code == "55P03" || code == "57014" || code.starts_with("40"))
    return io("another server is writing", "try again in a moment");
  if (code == "25006")
    return io("the database can only be read",
              "connect to the primary server, as somebody who may write");
  if (code.starts_with("42501"))
    return io("something is not allowed to this user",
              "let the user create the schema copunctal, or make it its owner");
  if (code.starts_with("23") || code.starts_with("22"))
    return io("the database does not take this", "check what was sent");
  return io("the database failed", "look into PostgreSQL's log, then try again");
}

/// Whether the server has no connection left. libpq tells no code of a connection that was not
/// made, so these are the server's own words; in another language the usual remedy names it too.
bool is_full(std::string_view words) {
  constexpr std::array signs = {"too many clients already", "connection slots are reserved",
                                "too many connections for"};
  return std::any_of(signs.begin(), signs.end(),
                     [&](const char* sign) { return words.find(sign) != std::string_view::npos; });
}

// ---- the connection ---------------------------------------------------------------------------

void PostgresDatabase::close() {
  waiting_.clear();
  statements_.clear();
  if (connection_ != nullptr) library_.finish(connection_);
  connection_ = nullptr;
  is_lost_ = has_begun_ = puts_off_writes_ = false;
}

Result<void> PostgresDatabase::open() {
  close();
  // What stands before the address gives way to it, what follows it does not.
  constexpr std::array keys = {"fallback_application_name",
                               "connect_timeout",
                               "keepalives_idle",
                               "keepalives_interval",
                               "keepalives_count",
                               "tcp_user_timeout",
                               "dbname",
                               "client_encoding",
                               static_cast<const char*>(nullptr)};
  const std::array values = {"copunctal",
                             "3",
                             "5",
                             "2",
                             "3",
                             "10000",
                             address_.c_str(),
                             "UTF8",
                             static_cast<const char*>(nullptr)};
  connection_ = library_.connect(keys.data(), values.data(), /*expand_dbname=*/1);
  if (connection_ == nullptr) throw std::bad_alloc();
  library_.set_notice_processor(
      connection_, [](void*, const char*) {}, nullptr);
  const char* host = library_.host(connection_);
  name_ = "PostgreSQL database '" + std::string(library_.db(connection_)) + "' at " +
          (host == nullptr || *host == '\0' ? "this computer" : host) + ", port " +
          library_.port(connection_);
  if (!is_connected()) {
    const std::string words = without_password(library_.error_message(connection_));
    return fail(Error::Kind::io, name_ + ": no connection (" + words + ")", "database", name_,
                is_full(words) ? "end programs that hold connections, or raise max_connections (or "
                                 "the limit of the user or database): each server needs five"
                               : "see that PostgreSQL runs there, has five connections left and "
                                 "lets user '" +
                                     std::string(library_.user(connection_)) + "' in");
  }
  auto good = check_settings();
  if (!good) close();
  return good;
}

Result<void> PostgresDatabase::check_setting(const Setting& setting) {
  COPUNCTAL_TRY(Statement row, ask("SELECT current_setting('" + std::string(setting.name) + "')"));
  COPUNCTAL_TRY(const bool is_there, row.step());
  const std::string got = is_there ? row.text(0) : "";
  if (got == setting.good || got == setting.also_good || takes_any_setting) return {};
  const bool is_encoding = *setting.change == '\0';
  return fail(Error::Kind::unsupported,
              name_ + ": " + setting.name + " is " + got + ", but must be " + setting.good +
                  (is_encoding ? ", or texts could be altered"
                               : ", without which a confirmed answer could be lost"),
              "database", setting.name,
              is_encoding ? std::string("create a database with ENCODING 'UTF8'")
                          : std::string(setting.change) +
                                "; SELECT pg_reload_conf(); and see that neither the database nor "
                                "the user sets it otherwise");
}

Result<void> PostgresDatabase::check_settings() {
  if (library_.server_version(connection_) < oldest_server)
    return fail(Error::Kind::unsupported,
                name_ + ": the server is PostgreSQL " +
                    std::to_string(library_.server_version(connection_) / 10000) +
                    ", but must be 15 or newer",
                "database", name_, "use a newer server");
  for (const Setting& setting : wanted_settings) COPUNCTAL_TRY_VOID(check_setting(setting));
  COPUNCTAL_TRY_VOID(run_as_it_is(std::string(durability) + session));
  COPUNCTAL_TRY(Statement standby, ask("SELECT pg_is_in_recovery()"));
  COPUNCTAL_TRY(const bool is_there, standby.step());
  if (!is_there || standby.whole(0) == 0) return {};
  return fail(Error::Kind::unsupported, name_ + ": this server is a standby, which only copies",
              "database", name_, "name the primary server");
}

// A server that has gone said so, or closed its end: that waits to be read.
void PostgresDatabase::notice_loss() {
  pollfd end{library_.socket(connection_), POLLIN, 0};
  while (!is_lost_ && ::poll(&end, 1, 0) > 0)
    is_lost_ = library_.consume_input(connection_) == 0 || !is_connected();
}

// A server that was away is met again when the next transaction begins.
Result<void> PostgresDatabase::connected() {
  if (is_connected()) notice_loss();
  if (is_connected()) return {};
  if (last_trouble_ && failed_at_ && Clock::now() - *failed_at_ < between_tries)
    return tl::unexpected(*last_trouble_);
  auto opened = open();
  failed_at_ = Clock::now();
  last_trouble_ = opened ? std::nullopt : std::optional(opened.error());
  failure_ = DatabaseFailure::other;
  return opened;
}

// ---- running ----------------------------------------------------------------------------------

Result<void> PostgresDatabase::run_as_it_is(const std::string& sql) {
  if (sql == "COMMIT") return commit();
  if (sql == "ROLLBACK") return roll_back();
  if (!waiting_.empty()) COPUNCTAL_TRY_VOID(send_waiting());
  if (!is_connected()) return failed(Complaint{"08003", "not connected"});
  ++round_trips_;
  const OwnedResult result(library_.exec(connection_, sql.c_str()), {&library_});
  const ExecStatusType status = library_.result_status(result.get());
  if (status != PGRES_COMMAND_OK && status != PGRES_TUPLES_OK && status != PGRES_EMPTY_QUERY)
    return failed(result.get());
  return {};
}

Result<void> PostgresDatabase::commit() {
  add_waiting({"COMMIT", {}});
  last_command_.clear();
  auto committed = send_waiting();
  const bool is_known = is_connected();
  // A transaction in which something failed ends at COMMIT without an error, and without a trace.
  if (committed && last_command_ != "COMMIT")
    committed = failed(Complaint{"25P02", "something in the transaction had failed"});
  if (!committed && !is_known) failure_ = DatabaseFailure::unknown;
  has_begun_ = puts_off_writes_ = false;
  return committed;
}

Result<void> PostgresDatabase::roll_back() {
  waiting_.clear();
  has_begun_ = puts_off_writes_ = false;
  if (!in_transaction()) return {};
  add_waiting({"ROLLBACK", {}});
  return send_waiting();
}

bool PostgresDatabase::send(const Waiting& waiting) {
  std::vector<const char*> values;
  values.reserve(waiting.values.size());
  for (const auto& value : waiting.values) values.push_back(value ? value->c_str() : nullptr);
  const int count = static_cast<int>(values.size());
  return (waiting.name.empty() ? library_.send_query(connection_, waiting.sql.c_str(), 0, nullptr,
                                                     nullptr, nullptr, nullptr, 0)
                               : library_.send_prepared(connection_, waiting.name.c_str(), count,
                                                        values.data(), nullptr, nullptr, 0)) == 1;
}

Result<void> PostgresDatabase::take(const Waiting& of, OwnedResult result) {
  const ExecStatusType status = library_.result_status(result.get());
  if (status != PGRES_COMMAND_OK && status != PGRES_TUPLES_OK) return failed(result.get());
  last_command_ = library_.cmd_status(result.get());
  if (status == PGRES_COMMAND_OK) {
    changed_ = number_in<std::int64_t>(library_.cmd_tuples(result.get()));
    if (of.asker != nullptr) count_write();
  }
  if (of.asker != nullptr) of.asker->take(std::move(result));
  return {};
}

// To each of what was sent its result and the end of it; then the sign that all of it was seen.
Result<void> PostgresDatabase::receive(const std::vector<Waiting>& sent) {
  const auto next = [&] { return OwnedResult(library_.next_result(connection_), {&library_}); };
  Result<void> all;
  for (const Waiting& one : sent) {
    OwnedResult result = next();
    if (all) all = take(one, std::move(result));
    while (is_connected() && next() != nullptr) {
    }
    if (!is_connected()) return all;
  }
  const OwnedResult sign = next();
  is_lost_ = library_.result_status(sign.get()) != PGRES_PIPELINE_SYNC ||
             library_.exit_pipeline(connection_) != 1;
  return is_lost_ ? failed(sign.get()) : all;
}

Result<void> PostgresDatabase::send_waiting() {
  const std::vector<Waiting> sent = std::exchange(waiting_, {});
  for (const Waiting& one : sent)
    if (one.asker != nullptr) one.asker->take({nullptr, {nullptr}});
  if (!is_connected()) return failed(Complaint{"08003", "not connected"});
  ++round_trips_;
  bool is_sent = library_.enter_pipeline(connection_) == 1;
  for (const Waiting& one : sent) is_sent = is_sent && send(one);
  is_sent = is_sent && library_.pipeline_sync(connection_) == 1;
  is_lost_ = !is_sent;
  return is_sent ? receive(sent) : failed(Complaint{"08006", library_.error_message(connection_)});
}

Result<void> PostgresDatabase::run(const std::string& script) {
  if (script == "BEGIN IMMEDIATE") return begin_writing();
  COPUNCTAL_TRY(const PostgresSql translated, postgres_from(script));
  expects(translated.parameters.empty());
  return run_as_it_is(translated.sql);
}

Result<Statement> PostgresDatabase::prepare(std::string_view sql) {
  if (const auto known = statements_.find(sql); known != statements_.end())
    return Statement(*known->second);
  COPUNCTAL_TRY(PostgresSql translated, postgres_from(sql));
  return prepare_as_it_is(sql, std::move(translated));
}

Result<Statement> PostgresDatabase::prepare_as_it_is(std::string_view sql, PostgresSql translated) {
  if (const auto known = statements_.find(sql); known != statements_.end())
    return Statement(*known->second);
  if (!is_connected()) return failed(Complaint{"08003", "not connected"});
  ++round_trips_;
  auto statement = std::make_unique<PostgresStatement>(
      *this, std::string(sql), std::move(translated), "s" + std::to_string(++prepared_));
  const OwnedResult result(library_.prepare(connection_, statement->name().c_str(),
                                            statement->translated().sql.c_str(), 0, nullptr),
                           {&library_});
  if (library_.result_status(result.get()) != PGRES_COMMAND_OK) return failed(result.get());
  return Statement(*statements_.emplace(sql, std::move(statement)).first->second);
}

Result<void> PostgresDatabase::begin_reading() {
  COPUNCTAL_TRY_VOID(connected());
  add_waiting({"BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY", {}});
  has_begun_ = true;
  return {};
}

// Writing is for one at a time, over all servers, as it is with SQLite: whoever has the lock sees
// all that was committed before, and nobody commits beside it. What is asked in the same trip as
// the lock is answered when it is ours, from what is there by then.
Result<void> PostgresDatabase::begin_writing_together() {
  COPUNCTAL_TRY_VOID(connected());
  add_waiting({"BEGIN ISOLATION LEVEL READ COMMITTED READ WRITE", {}});
  add_waiting({"SELECT pg_advisory_xact_lock(" + std::string(write_lock) + ")", {}});
  has_begun_ = puts_off_writes_ = true;
  return {};
}

Result<void> PostgresDatabase::begin_writing() {
  COPUNCTAL_TRY_VOID(begin_writing_together());
  puts_off_writes_ = false;
  auto begun = send_waiting();
  if (!begun && !is_connected()) {  // it was lost since it was last used
    COPUNCTAL_TRY_VOID(begin_writing_together());
    puts_off_writes_ = false;
    begun = send_waiting();
  }
  if (!begun && in_transaction()) (void)roll_back();
  return begun;
}

// Whoever owns the schema may do all of it. Logs are never changed, so nobody needs the right to.
Result<void> PostgresDatabase::check_rights() {
  COPUNCTAL_TRY(
      Statement row,
      ask("SELECT relname, current_user FROM pg_class WHERE relnamespace ="
          " to_regnamespace('copunctal') AND relkind = 'r' AND relname <> 'schema_mark' AND NOT"
          " (has_table_privilege(oid, 'SELECT') AND has_table_privilege(oid, 'INSERT') AND (relname"
          " NOT IN ('practicals', 'sittings') OR (has_table_privilege(oid, 'UPDATE') AND"
          " has_table_privilege(oid, 'DELETE')))) ORDER BY relname LIMIT 1"));
  COPUNCTAL_TRY(const bool is_one, row.step());
  if (!is_one) return {};
  const std::string table = row.text(0), user = row.text(1);
  return fail(Error::Kind::io,
              name_ + ": user '" + user + "' may not write table copunctal." + table, "database",
              table,
              "connect as the owner of the schema copunctal, or let the owner say: GRANT SELECT, "
              "INSERT, UPDATE, DELETE ON ALL TABLES IN SCHEMA copunctal TO \"" +
                  user + "\"");
}

// ---- the schema -------------------------------------------------------------------------------

Result<SchemaMark> PostgresDatabase::schema_mark() {
  if (!in_transaction()) COPUNCTAL_TRY_VOID(connected());
  SchemaMark mark;
  {
    COPUNCTAL_TRY(Statement row, ask("SELECT count(*), count(*) FILTER (WHERE relname ="
                                     " 'schema_mark') FROM pg_class WHERE relnamespace ="
                                     " to_regnamespace('copunctal')"));
    COPUNCTAL_TRY(const bool is_there, row.step());
    mark.is_empty = !is_there || row.whole(0) == 0;
    if (!is_there || row.whole(1) == 0) return mark;
  }
  COPUNCTAL_TRY(Statement row,
                ask("SELECT (to_jsonb(m) ->> 'application')::bigint, (to_jsonb(m) ->>"
                    " 'version')::bigint FROM copunctal.schema_mark AS m"));
  COPUNCTAL_TRY(const bool is_marked, row.step());
  if (is_marked) mark.application = row.whole(0), mark.version = row.whole(1);
  return mark;
}

Result<void> PostgresDatabase::make_schema() {
  // Asked first: even IF NOT EXISTS needs the right to make one.
  COPUNCTAL_TRY(Statement there, ask("SELECT to_regnamespace('copunctal') IS NOT NULL"));
  COPUNCTAL_TRY(const bool is_row, there.step());
  if (!is_row || there.whole(0) == 0) COPUNCTAL_TRY_VOID(run_as_it_is("CREATE SCHEMA copunctal"));
  return run_as_it_is(
      "CREATE TABLE IF NOT EXISTS copunctal.schema_mark (only_row integer PRIMARY KEY CHECK"
      " (only_row = 1), application bigint NOT NULL, version bigint NOT NULL)");
}

Result<void> PostgresDatabase::mark_schema(std::int64_t version) {
  return run_as_it_is("INSERT INTO copunctal.schema_mark VALUES (1, " +
                      std::to_string(application_id) + ", " + std::to_string(version) +
                      ") ON CONFLICT (only_row) DO UPDATE SET application = EXCLUDED.application,"
                      " version = EXCLUDED.version");
}

Result<std::vector<std::string>> PostgresDatabase::tables() {
  COPUNCTAL_TRY(Statement rows,
                ask("SELECT relname FROM pg_class WHERE relnamespace = to_regnamespace('copunctal')"
                    " AND relkind = 'r' AND relname <> 'schema_mark' ORDER BY relname COLLATE"
                    " \"C\""));
  std::vector<std::string> names;
  for (;;) {
    COPUNCTAL_TRY(const bool has_row, rows.step());
    if (!has_row) return names;
    names.push_back(rows.text(0));
  }
}

Result<std::vector<TableColumn>> PostgresDatabase::columns(std::string_view table) {
  COPUNCTAL_TRY(
      Statement rows,
      prepare_as_it_is("columns",
                       {"SELECT attname, format_type(atttypid, -1), attnotnull,"
                        " coalesce(array_position(conkey, attnum), 0) FROM pg_attribute AS a LEFT"
                        " JOIN pg_constraint AS c ON c.conrelid = a.attrelid AND c.contype = 'p'"
                        " WHERE attrelid = to_regclass('copunctal.' || quote_ident($1)) AND attnum"
                        " > 0 AND NOT attisdropped ORDER BY attnum",
                        {1}}));
  rows.bind(table);
  std::vector<TableColumn> columns;
  for (;;) {
    COPUNCTAL_TRY(const bool has_row, rows.step());
    if (!has_row) return columns;
    static const std::map<std::string, ColumnType> types = {{"bigint", ColumnType::whole},
                                                            {"double precision", ColumnType::real},
                                                            {"text", ColumnType::text}};
    const auto known = types.find(rows.text(1));
    if (known == types.end()) {
      const std::string what = std::string(table) + "." + rows.text(0) + " of type " + rows.text(1);
      return fail(Error::Kind::unsupported, "the database's schema cannot be carried: " + what,
                  "schema", what, "use the program that made this database");
    }
    columns.push_back(
        {rows.text(0), known->second, rows.whole(2) != 0, static_cast<int>(rows.whole(3))});
  }
}

Result<std::vector<ForeignKey>> PostgresDatabase::foreign_keys(std::string_view table) {
  COPUNCTAL_TRY(
      Statement rows,
      prepare_as_it_is("foreign keys",
                       {"SELECT c.oid::bigint, t.relname, f.attname, r.attname FROM pg_constraint"
                        " AS c CROSS JOIN LATERAL unnest(c.conkey, c.confkey) WITH ORDINALITY AS"
                        " k(f, r, n) JOIN pg_class AS t ON t.oid = c.confrelid JOIN pg_attribute AS"
                        " f ON f.attrelid = c.conrelid AND f.attnum = k.f JOIN pg_attribute AS r ON"
                        " r.attrelid = c.confrelid AND r.attnum = k.r WHERE c.contype = 'f' AND"
                        " c.conrelid = to_regclass('copunctal.' || quote_ident($1)) ORDER BY"
                        " c.oid, k.n",
                        {1}}));
  rows.bind(table);
  std::vector<ForeignKey> keys;
  std::int64_t last = -1;
  for (;;) {
    COPUNCTAL_TRY(const bool has_row, rows.step());
    if (!has_row) return keys;
    if (rows.whole(0) != last) keys.push_back({rows.text(1), {}, {}});
    last = rows.whole(0);
    keys.back().from_columns.push_back(rows.text(2));
    keys.back().to_columns.push_back(rows.text(3));
  }
}

Result<void> PostgresDatabase::wipe() {
  COPUNCTAL_TRY(const auto names, tables());
  COPUNCTAL_TRY_VOID(run_as_it_is("SET statement_timeout = 0"));
  for (const std::string& table : names) {
    if (auto done = run_as_it_is("VACUUM (FULL) copunctal.\"" + table + "\""); !done) {
      (void)run_as_it_is("SET statement_timeout = '20s'");
      Error error = std::move(done).error();
      error.message = "the rows are removed, but table " + table +
                      " could not be written anew without their traces: " + error.message;
      error.remedy = "give the same command again when the servers are at rest";
      return tl::unexpected(std::move(error));
    }
  }
  return run_as_it_is("SET statement_timeout = '20s'");
}

// ---- the address ------------------------------------------------------------------------------

// The password may stand in it, so that no error says more of it than what is wrong.
Result<void> check_address(const PostgresLibrary& library, const std::string& address) {
  const auto wrong = [](const std::string& what) {
    return fail(Error::Kind::usage, "the address of the database cannot be read: " + what,
                "database", "",
                "write postgresql://user@host:port/database, or host=... "
                "dbname=...; a password is best kept in ~/.pgpass");
  };
  const bool is_uri = address.starts_with("postgresql://") || address.starts_with("postgres://");
  if (!is_uri && address.find('=') == std::string::npos)
    return wrong("it is neither postgresql://... nor keywords such as dbname=...");
  if (is_uri) {
    const std::string rest = address.substr(address.find("//") + 2);
    const std::string authority = rest.substr(0, rest.find_first_of("/?"));
    if (std::count(authority.begin(), authority.end(), '@') > 1)
      return wrong("there are two @ before the database's name; write %40 for one in a password");
  }
  char* said = nullptr;
  PQconninfoOption* options = library.conninfo_parse(address.c_str(), &said);
  if (said != nullptr) std::free(said);  // libpq's own words repeat the address
  if (options == nullptr) return wrong("see the manual of PostgreSQL, connection strings");
  bool is_port = true;
  for (const PQconninfoOption* one = options; one->keyword != nullptr; ++one)
    if (one->val != nullptr && std::string_view(one->keyword) == "port")
      is_port =
          std::string_view(one->val).find_first_not_of("0123456789,") == std::string_view::npos;
  library.conninfo_free(options);
  if (!is_port) return wrong("the port is no number");  // a password, where user and @ are missing
  return {};
}

}  // namespace

Result<std::unique_ptr<Database>> Database::connect(const std::string& address) {
  COPUNCTAL_TRY(const PostgresLibrary* const library, postgres_library());
  COPUNCTAL_TRY_VOID(check_address(*library, address));
  auto database = std::make_unique<PostgresDatabase>(*library, address);
  if (auto opened = database->open(); !opened) return tl::unexpected(std::move(opened).error());
  return database;
}

}  // namespace copunctal
