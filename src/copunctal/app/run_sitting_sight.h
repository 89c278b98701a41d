// A sitting with all that is stored about it, and what becomes of an answer to it; part of
// run_sitting.h's insides.
#pragma once

#include <optional>
#include <string_view>
#include <vector>

#include "copunctal/app/run_sitting.h"
#include "copunctal/base/result.h"
#include "copunctal/design/plate_set.h"
#include "copunctal/store/identifiers.h"
#include "copunctal/store/records.h"

namespace copunctal {

/// Common practice, no source: so long for a plate, and for a path that is traced.
inline constexpr std::int64_t usual_exposure_ms = 3000, path_exposure_ms = 10'000;

struct Sight {
  SittingRecord sitting;
  PracticalRecord practical;
  std::vector<AnswerRecord> answers;
  bool off_record = false;
};

/// A practical, provided that its set is the one loaded. Errors: not_found, conflict.
Result<PracticalRecord> record_of(const Records& records, const PlateSet& set, std::string_view id);

/// The sitting with its practical and answers, provided that its set is the one loaded. Errors:
/// not_found, conflict.
Result<Sight> look_up(const Records& records, const PlateSet& set, std::string_view id);

/// As its page may know it.
SittingState state_in(const PlateSet& set, const Sight& sight);

Tell tell_in(const SittingRecord& sitting);
std::optional<SexAtBirth> sex_in(const SittingRecord& sitting);
/// Nothing where there is no such item.
const ItemRecord* item_in(const SittingRecord& sitting, std::int64_t item);

/// What putting an answer came to; a refusal is stored too, so it is no failure of the change.
struct Settled {
  std::optional<Error> refusal;
  AnswerReceipt receipt;
};

/// What becomes of an answer; the first one counts. `sight` gets an answer that does and the items
/// it leads to, and ends with its last. `known`: the answer that has this id already. `audit`: why
/// it is to be kept there only.
Result<Settled> judged(const PlateSet& set, Sight& sight, const AnswerRecord& answer,
                       const std::optional<AnswerRecord>& known, const RandomBytes& random,
                       std::optional<AuditReason>& audit);

/// Stores the answer, or refuses it and keeps it in the audit.
Result<Settled> settle(Changes& changes, const PlateSet& set, const AnswerRecord& answer,
                       const RandomBytes& random);

}  // namespace copunctal
