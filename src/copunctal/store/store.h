// The store: practicals, sittings and answers on stable storage.
//
// Writing goes through one thread that commits many changes at once; a future is ready only when
// the commit has returned, so "saved" means saved. Reading has connections of its own.
#pragma once

#include <cstdint>
#include <filesystem>
#include <functional>
#include <future>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "copunctal/base/result.h"
#include "copunctal/store/records.h"

namespace copunctal {

/// May be used from any number of threads.
class Store {
 public:
  /// Opens DIR/copunctal.db, making or updating it where needed, and holds the directory until
  /// closed. Errors: bad_input for another program's database; io when the file is no database or
  /// is damaged, the directory is held by another server or cannot be written, or the schema is
  /// newer than we are.
  static Result<std::unique_ptr<Store>> open(const std::filesystem::path& directory,
                                             std::string_view now_utc);
  /// Connects to a PostgreSQL database, which several servers may share, and makes or updates its
  /// schema where needed. Errors: as Database::connect(); bad_input for a schema of another
  /// program's; io for one newer than we are.
  static Result<std::unique_ptr<Store>> connect(const std::string& address,
                                                std::string_view now_utc);
  Store(const Store&) = delete;
  Store& operator=(const Store&) = delete;
  ~Store();

  /// What was put right on opening, in sentences for the person who started the program.
  const std::vector<std::string>& notes() const;

  /// How often changes have waited for a database that is far; 0 with a file.
  std::int64_t round_trips() const;

  /// Makes a change, all of it or nothing. The future is ready when the change is on stable
  /// storage. An Error from `work` undoes the change; a failure of disk or database is io. `work`
  /// may be called more than once, the last time for good. `to_read`: what it is going to read.
  template <class T>
  std::future<Result<T>> change(std::function<Result<T>(Changes&)> work,
                                const ToRead& to_read = {}) {
    auto promise = std::make_shared<std::promise<Result<T>>>();
    auto answer = std::make_shared<std::optional<T>>();
    submit(
        [work = std::move(work), answer](Changes& changes) -> Result<void> {
          auto result = work(changes);
          if (!result) return tl::unexpected(std::move(result).error());
          answer->emplace(*std::move(result));
          return {};
        },
        [promise, answer](Result<void> result, std::exception_ptr thrown) {
          if (thrown != nullptr)
            promise->set_exception(thrown);
          else if (result)
            promise->set_value(std::move(**answer));
          else
            promise->set_value(tl::unexpected(std::move(result).error()));
        },
        to_read);
    return promise->get_future();
  }

  /// Reads within one consistent view; sees every change whose future is ready.
  template <class T>
  Result<T> read(const std::function<Result<T>(const Records&)>& work) const {
    std::optional<Result<T>> answer;
    auto done = read_within([&](const Records& records) { answer = work(records); });
    if (!done) return tl::unexpected(std::move(done).error());
    return *std::move(answer);
  }

 private:
  struct Inside;
  explicit Store(std::unique_ptr<Inside> inside);
  void submit(std::function<Result<void>(Changes&)> change,
              std::function<void(Result<void>, std::exception_ptr)> done, ToRead to_read);
  Result<void> read_within(const std::function<void(const Records&)>& work) const;

  std::unique_ptr<Inside> inside_;
};

}  // namespace copunctal
