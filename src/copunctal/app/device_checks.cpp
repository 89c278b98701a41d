#include "copunctal/app/device_checks.h"

#include <utility>

#include "copunctal/app/run_sitting_checks.h"

namespace copunctal {

DeviceChecks::DeviceChecks(std::function<std::string()> utc, RandomBytes random)
    : utc_(std::move(utc)), random_(std::move(random)) {}

Result<CheckedDisplay> DeviceChecks::keep(int device, const ScreenCheck& check) {
  COPUNCTAL_TRY(DisplayRecord record, new_record(check, utc_(), new_id(random_)));
  CheckedDisplay kept = judged(record, record.made_utc);
  const std::lock_guard lock(mutex_);
  newest_.insert_or_assign(device, std::move(record));
  return kept;
}

std::optional<CheckedDisplay> DeviceChecks::current(int device) const {
  const std::lock_guard lock(mutex_);
  const auto found = newest_.find(device);
  if (found == newest_.end()) return std::nullopt;
  return judged(found->second, utc_());
}

Result<CheckedDisplay> DeviceChecks::end(int device, std::string_view id, std::string_view reason) {
  if (reason != "zoom" && reason != "moved" && reason != "mode")
    return wrong_field("reason", "must be 'zoom', 'moved' or 'mode'");
  const std::string now = utc_();
  const std::lock_guard lock(mutex_);
  const auto found = newest_.find(device);
  if (found == newest_.end() || found->second.id != id) return no_such("display record");
  DisplayRecord& record = found->second;
  if (judged(record, now).valid) {
    record.ended = reason;
    record.ended_utc = now;
  }
  return judged(record, now);
}

}  // namespace copunctal
