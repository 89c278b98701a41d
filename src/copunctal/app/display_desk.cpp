#include "copunctal/app/display_desk.h"

#include <utility>

#include "copunctal/app/run_sitting_checks.h"
#include "copunctal/store/store.h"

namespace copunctal {

DisplayDesk::DisplayDesk(Store& store, std::function<std::string()> utc, RandomBytes random)
    : store_(store), utc_(std::move(utc)), random_(std::move(random)) {}

Result<CheckedDisplay> DisplayDesk::keep(const ScreenCheck& check) {
  COPUNCTAL_TRY(const DisplayRecord record, new_record(check, utc_(), new_id(random_)));
  return store_
      .change<CheckedDisplay>([record](Changes& changes) -> Result<CheckedDisplay> {
        COPUNCTAL_TRY(const auto before, changes.newest_display_record());
        if (before && !before->ended) {
          const bool is_over = !judged(*before, record.made_utc).valid;
          COPUNCTAL_TRY_VOID(changes.end_display_record(
              before->id, is_over ? "expired" : "replaced", record.made_utc));
        }
        COPUNCTAL_TRY_VOID(changes.add(record));
        return judged(record, record.made_utc);
      })
      .get();
}

Result<std::optional<CheckedDisplay>> DisplayDesk::current() const {
  COPUNCTAL_TRY(auto newest, store_.read<std::optional<DisplayRecord>>([](const Records& records) {
    return records.newest_display_record();
  }));
  if (!newest) return std::nullopt;
  return judged(*std::move(newest), utc_());
}

Result<CheckedDisplay> DisplayDesk::end(std::string_view id, std::string_view reason) {
  if (reason != "zoom" && reason != "moved" && reason != "mode")
    return wrong_field("reason", "must be 'zoom', 'moved' or 'mode'");
  return store_
      .change<CheckedDisplay>([id = std::string(id), reason = std::string(reason),
                               now = utc_()](Changes& changes) -> Result<CheckedDisplay> {
        COPUNCTAL_TRY(auto record, changes.display_record(id));
        if (!record) return no_such("display record");
        if (CheckedDisplay as_it_is = judged(*record, now); !as_it_is.valid) return as_it_is;
        COPUNCTAL_TRY_VOID(changes.end_display_record(id, reason, now));
        record->ended = reason;
        record->ended_utc = now;
        return judged(*std::move(record), now);
      })
      .get();
}

}  // namespace copunctal
