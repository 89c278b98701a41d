// Keeping the checks of this computer's screen: one holds until it is ended, replaced or too old.
#pragma once

#include <functional>
#include <optional>
#include <string>
#include <string_view>

#include "copunctal/app/display_check.h"
#include "copunctal/base/result.h"
#include "copunctal/store/identifiers.h"

namespace copunctal {

class Store;

/// May be used from any number of threads. Error common to all: io when the store fails.
class DisplayDesk {
 public:
  /// `store` must outlive the desk; `utc` is the clock, "2030-01-02T03:04:05.678Z".
  DisplayDesk(Store& store, std::function<std::string()> utc, RandomBytes random);

  /// Keeps a check, which then is the one that holds; returns once it is on stable storage. Error:
  /// bad_input for one that cannot be meant.
  Result<CheckedDisplay> keep(const ScreenCheck& check);
  /// The check made last, whether it still holds or not; nothing before the first.
  Result<std::optional<CheckedDisplay>> current() const;
  /// Ends a check by "zoom", "moved" or "mode"; one that has ended stays as it is. Errors:
  /// bad_input for another reason, not_found for an unknown id.
  Result<CheckedDisplay> end(std::string_view id, std::string_view reason);

 private:
  Store& store_;
  std::function<std::string()> utc_;
  RandomBytes random_;
};

}  // namespace copunctal
