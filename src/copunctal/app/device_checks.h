// Checks of the screens of a class's devices, each its own: in memory, for as long as the class is
// let in. The check of this computer's screen is kept elsewhere (display_desk.h) and stays
// untouched.
#pragma once

#include <functional>
#include <map>
#include <mutex>
#include <optional>
#include <string>
#include <string_view>

#include "copunctal/app/display_check.h"
#include "copunctal/base/result.h"
#include "copunctal/store/identifiers.h"

namespace copunctal {

/// The same as a DisplayDesk for every device, by its number. From any number of threads.
class DeviceChecks {
 public:
  DeviceChecks(std::function<std::string()> utc, RandomBytes random);

  /// Error: bad_input for a check that cannot be meant.
  Result<CheckedDisplay> keep(int device, const ScreenCheck& check);
  /// The device's own, made last.
  std::optional<CheckedDisplay> current(int device) const;
  /// Errors: bad_input for another reason than "zoom", "moved" or "mode"; not_found for an id that
  /// is not the device's own.
  Result<CheckedDisplay> end(int device, std::string_view id, std::string_view reason);

 private:
  const std::function<std::string()> utc_;
  const RandomBytes random_;
  mutable std::mutex mutex_;
  std::map<int, DisplayRecord> newest_;
};

}  // namespace copunctal
