// The plates of a sitting's set on loan, made when they are first wanted and kept.
#pragma once

#include <future>
#include <map>
#include <memory>
#include <mutex>
#include <optional>
#include <string>
#include <vector>

#include "copunctal/base/result.h"
#include "copunctal/design/plate_set.h"

namespace copunctal {

/// A set's codes on loan of one observer. Plates whose loan the display cannot show, or on which
/// answers would come out otherwise (design/lend.h), have none.
struct LentPlates {
  std::string observer;
  std::vector<std::optional<std::vector<std::vector<Code>>>> codes;
  std::vector<std::string> left_out;  ///< Names of the plates without.
};

/// May be used from any number of threads. `set` must outlive it.
class LoanShelf {
 public:
  explicit LoanShelf(const PlateSet& set) : set_(set) {}
  LoanShelf(const LoanShelf&) = delete;
  LoanShelf& operator=(const LoanShelf&) = delete;
  /// Waits for what is being made.
  ~LoanShelf() = default;

  /// Begins to make the plates, some seconds of one core, unless it was begun before.
  void want(const std::string& observer);
  /// Whether plates that were wanted are there, or cannot be made.
  bool is_ready(const std::string& observer) const;
  /// The plates, once they are there. Errors: usage, unsupported for an observer that cannot be
  /// lent; unsupported where an opener, or half of the vanishing plates, would have to be left out.
  Result<std::shared_ptr<const LentPlates>> plates(const std::string& observer);

 private:
  using Made = Result<std::shared_ptr<const LentPlates>>;

  const PlateSet& set_;
  mutable std::mutex lock_;
  std::map<std::string, std::shared_future<Made>> made_;
};

}  // namespace copunctal
