#include "copunctal/store/writer.h"

#include <chrono>
#include <exception>
#include <optional>
#include <utility>
#include <vector>

#include "copunctal/store/database.h"
#include "copunctal/store/record_rows.h"
#include "copunctal/store/records.h"

namespace copunctal {
namespace {

constexpr std::size_t most_in_a_group = 256;
static_assert(most_in_a_group <= most_ids);  // what a group reads, it reads at once
constexpr std::size_t most_waiting = 4096;

#ifdef COPUNCTAL_ACK_BEFORE_COMMIT
// The negative control of test/faults: a store that answers "saved" first and commits a little
// later, as one that batches lazily would. The kill test must catch it. Never part of the product.
constexpr bool acknowledges_first = true;
constexpr std::chrono::milliseconds lazy_delay{5};
#else
constexpr bool acknowledges_first = false;
constexpr std::chrono::milliseconds lazy_delay{0};
#endif

/// How one command of a group went.
struct Verdict {
  Result<void> result;
  std::exception_ptr thrown = nullptr;

  bool keeps() const { return result.has_value() && thrown == nullptr; }
};

Verdict verdict_of(const Command& command, Changes& changes) {
  Verdict verdict;
  try {
    verdict.result = command.change(changes);
  } catch (...) {
    verdict.thrown = std::current_exception();
  }
  return verdict;
}

/// Runs one change under a savepoint: all of it, or nothing of it.
Verdict try_change(Database& database, Changes& changes, const Command& command) {
  if (auto begun = database.run("SAVEPOINT one_change"); !begun) return {std::move(begun)};
  database.forget_failure();
  Verdict verdict = verdict_of(command, changes);
  const bool keep = verdict.keeps();
  if (database.in_transaction()) {  // a full disk can end the transaction by itself
    auto ended =
        database.run(keep ? "RELEASE one_change" : "ROLLBACK TO one_change; RELEASE one_change");
    if (!ended && keep) {
      verdict.result = std::move(ended);
      // PostgreSQL: something in it had failed, and the change said nothing of it.
      if (database.in_transaction())
        (void)database.run("ROLLBACK TO one_change; RELEASE one_change");
    }
  }
  return verdict;
}

void tell_all(std::deque<Command>& group, std::vector<Verdict>& verdicts) {
  for (std::size_t i = 0; i < group.size(); ++i)
    group[i].done(std::move(verdicts[i].result), verdicts[i].thrown);
}

/// Nothing of the group was kept: a change that had its own reason to fail says that one.
void tell_all_failed(std::deque<Command>& group, std::vector<Verdict>& verdicts,
                     const Error& reason) {
  verdicts.resize(group.size());
  for (Verdict& verdict : verdicts)
    if (verdict.keeps()) verdict.result = tl::unexpected(reason);
  tell_all(group, verdicts);
}

Result<void> commit_group(Database& database, std::deque<Command>& group,
                          std::vector<Verdict>& verdicts) {
  if (acknowledges_first) {
    tell_all(group, verdicts);
    std::this_thread::sleep_for(lazy_delay);
  }
  auto committed = database.run("COMMIT");
  if (!committed && database.in_transaction()) (void)database.run("ROLLBACK");
  return committed;
}

/// Makes all changes of a group and commits them; with an Error nothing was kept.
Result<void> try_group(Database& database, Changes& changes, std::deque<Command>& group,
                       std::vector<Verdict>& verdicts) {
  if (auto begun = database.begin_writing(); !begun) return begun;
  for (const Command& command : group) {
    verdicts.push_back(try_change(database, changes, command));
    const Result<void>& result = verdicts.back().result;
    const bool is_at_odds = !result && database.failure() == DatabaseFailure::at_odds;
    if (database.in_transaction() && !is_at_odds) continue;
    if (database.in_transaction()) (void)database.run("ROLLBACK");
    return result ? fail(Error::Kind::io, "the database gave the transaction up")
                  : tl::unexpected(result.error());
  }
  return commit_group(database, group, verdicts);
}

/// The same for a database that is far: what the changes read is read at once, and what they write
/// goes out with the COMMIT. Nothing holds them apart, so that a change which fails after it has
/// written ends the attempt: with an Error nothing was kept, and try_group() finds out which it
/// was.
Result<void> try_together(Database& database, Changes& changes, std::deque<Command>& group,
                          std::vector<Verdict>& verdicts) {
  std::vector<ToRead> to_read;
  to_read.reserve(group.size());
  for (const Command& command : group) to_read.push_back(command.to_read);
  const auto given_up = [&](const Result<void>& why) {
    if (database.in_transaction()) (void)database.run("ROLLBACK");
    return why ? fail(Error::Kind::io, "the changes cannot be made together") : why;
  };

  database.forget_failure();
  COPUNCTAL_TRY_VOID(database.begin_writing_together());
  if (auto read = changes.foresee(to_read); !read) return given_up(read);
  for (const Command& command : group) {
    const std::int64_t written = database.writes();
    verdicts.push_back(verdict_of(command, changes));
    const Verdict& verdict = verdicts.back();
    if (!database.is_sound() || (!verdict.keeps() && database.writes() > written))
      return given_up(verdict.result);
  }
  return commit_group(database, group, verdicts);
}

}  // namespace

Writer::Writer(std::unique_ptr<Database> database)
    : database_(std::move(database)), thread_([this] { run(); }) {}

Writer::~Writer() {
  {
    const std::lock_guard lock(mutex_);
    is_stopping_ = true;
  }
  arrived_.notify_one();
  thread_.join();
}

void Writer::submit(Command command) {
  {
    const std::lock_guard lock(mutex_);
    if (!is_stopping_ && queue_.size() < most_waiting) {
      queue_.push_back(std::move(command));
      arrived_.notify_one();
      return;
    }
  }
  command.done(fail(Error::Kind::io, "the store is too busy to take this now", "store", "",
                    "try again in a moment"),
               nullptr);
}

std::int64_t Writer::round_trips() const {
  return database_->round_trips();
}

void Writer::run() {
  for (;;) {
    std::deque<Command> group;
    {
      std::unique_lock lock(mutex_);
      arrived_.wait(lock, [this] { return is_stopping_ || !queue_.empty(); });
      if (queue_.empty()) break;
      while (!queue_.empty() && group.size() < most_in_a_group) {
        group.push_back(std::move(queue_.front()));
        queue_.pop_front();
      }
    }
    commit(group);
    if (has_removed_) forget_removed();
  }
  (void)database_->empty_log();
}

// What is at odds with another server's change is tried again as a whole: nothing of it was kept.
// So is what failed together, each change now by itself, unless it may have been kept after all, or
// has waited long enough.
void Writer::commit(std::deque<Command>& group) {
  constexpr int most_tries = 5;
  bool goes_together = database_->is_postgres();
  for (int i = 1;; ++i) {
    std::vector<Verdict> verdicts;
    Changes changes(*database_);
    const auto committed = goes_together ? try_together(*database_, changes, group, verdicts)
                                         : try_group(*database_, changes, group, verdicts);
    has_removed_ = has_removed_ || (committed && changes.has_removed());
    const bool was_told = acknowledges_first && verdicts.size() == group.size();
    if (was_told) return;
    if (committed) return tell_all(group, verdicts);
    const DatabaseFailure failure = database_->failure();
    if (failure == DatabaseFailure::at_odds && i < most_tries) continue;
    const bool can_go_alone = goes_together && failure != DatabaseFailure::at_odds &&
                              failure != DatabaseFailure::unknown &&
                              failure != DatabaseFailure::too_long;
    if (!can_go_alone) return tell_all_failed(group, verdicts, committed.error());
    goes_together = false;
  }
}

// A commit leaves the removed rows' pages in the write-ahead log until it is emptied. A reader in
// the way only delays that to the next commit.
void Writer::forget_removed() {
  if (database_->empty_log()) has_removed_ = false;
}

}  // namespace copunctal
