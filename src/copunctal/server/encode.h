// The JSON that goes out, as docs/api.md has it.
#pragma once

#include <map>
#include <optional>
#include <string>
#include <vector>

#include "copunctal/app/display_check.h"
#include "copunctal/app/look_through.h"
#include "copunctal/app/picture_desk.h"
#include "copunctal/app/plate_workshop.h"
#include "copunctal/app/run_practical.h"
#include "copunctal/app/run_sitting.h"

namespace copunctal {

std::string json_of(const PracticalSummary& practical);
std::string json_of(const std::vector<PracticalSummary>& practicals);
/// {"practicals": [...]}: what a participant may know of them.
std::string open_practicals_json(const std::vector<PracticalSummary>& practicals);
/// With its card and how far its loans are drawn.
std::string json_of(const PracticalInFull& practical);
/// {"sittings": [...]}
std::string json_of(const std::vector<WatchedSitting>& sittings);
std::string json_of(const SittingState& state);
std::string json_of(const AnswerReceipt& receipt);
/// Every number in it must be finite (expects).
std::string json_of(const SittingOutcome& outcome);
std::string json_of(const CheckedDisplay& checked);
/// {"current": ...}
std::string json_of(const std::optional<CheckedDisplay>& current);

/// {"sets": [...], "making": ..., "purposes": [...]}
std::string json_of(const std::vector<SetSummary>& sets, const std::optional<SetMaking>& making);
std::string json_of(const SetMaking& making);
/// {"plates": [...]}
std::string json_of(const std::vector<ShelfPlate>& plates);

std::string json_of(const TakenPicture& picture);
std::string json_of(const ViewPlan& plan);
std::string json_of(const std::vector<ApartFor>& all);

std::string json_of(const EyeView& view);
std::string json_of(const std::vector<Display>& displays);

/// How many are at which stage, of nobody.
std::string stages_json(const std::vector<WatchedSitting>& watched);

/// Displays with plates, and devices by the display they were checked as; "" is for unchecked ones.
std::string class_displays_json(const std::vector<std::string>& with_plates,
                                const std::map<std::string, std::int64_t>& devices,
                                const std::optional<SetMaking>& making);

}  // namespace copunctal
