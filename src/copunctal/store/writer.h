// The one thread that writes: many changes, one commit, and no promise kept before it.
//
// Internal to store/. Changes queue up while a commit waits for the disk; the next commit takes
// all of them, each under a savepoint of its own, so that a change that fails takes no other with
// it. Whoever waits is told only when COMMIT has returned.
#pragma once

#include <condition_variable>
#include <cstdint>
#include <deque>
#include <functional>
#include <memory>
#include <mutex>
#include <thread>

#include "copunctal/base/result.h"
#include "copunctal/store/records.h"

namespace copunctal {

class Database;
class Changes;

/// A change to be made within a transaction, and whom to tell when it is on stable storage.
struct Command {
  std::function<Result<void>(Changes&)> change;
  /// Called once, on the writer's thread: with nothing after the commit, with an Error, or with
  /// the exception that the change threw.
  std::function<void(Result<void>, std::exception_ptr)> done;
  ToRead to_read = {};
};

class Writer {
 public:
  explicit Writer(std::unique_ptr<Database> database);
  Writer(const Writer&) = delete;
  Writer& operator=(const Writer&) = delete;
  /// Commits what is queued, empties the write-ahead log, and ends the thread.
  ~Writer();

  /// Queues a command. With too many waiting it is refused at once (io).
  void submit(Command command);

  std::int64_t round_trips() const;  ///< Of the connection.

 private:
  void run();
  void commit(std::deque<Command>& group);
  void forget_removed();

  std::unique_ptr<Database> database_;
  std::mutex mutex_;
  std::condition_variable arrived_;
  std::deque<Command> queue_;
  bool is_stopping_ = false;
  bool has_removed_ = false;  ///< The log still holds pages of something removed.
  std::thread thread_;
};

}  // namespace copunctal
