// What may be asked of the desk, and how it says no; part of run_sitting.h's insides.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "copunctal/app/run_sitting.h"
#include "copunctal/base/result.h"
#include "copunctal/store/records.h"

namespace copunctal {

/// A name of 1..64 characters without control characters; exposure 1000..20000 ms; course and group
/// of at most 64; a policy that exists; a day of the calendar.
Result<void> check_practical(const PracticalRecord& practical);

/// An eye that exists, both unless somebody is examined; nobody is examined off the record or on
/// loan.
Result<void> check_way(const NewSitting& wish);

/// Everything about an answer that can be judged without its sitting: the end and what goes with
/// it, finite times within range, the page's id.
Result<void> check_answer(const SentAnswer& answer);

/// Symbols from the row, ascending, each once, at most `figures`.
Result<void> check_symbols(const std::vector<std::string>& symbols,
                           const std::vector<std::string>& row, int figures);

/// Why an answer's time is not to be relied on: "hidden", "dropped frames", or nothing.
std::string flaw_of(const AnswerRecord& answer);

/// A practical's name by chance: "quiet harbour".
std::string two_words(std::uint64_t seed);

/// What becomes of an answer by the practical's policy: whether it counts as a miss.
void take_by_policy(AnswerRecord& answer, const PracticalRecord& practical);

/// A sitting's readings, beside the answers that are weighed: those of plates that come again are
/// left out.
std::vector<PlateReading> readings_in(const SittingRecord& sitting,
                                      const std::vector<AnswerRecord>& answers);

// The desk's refusals.
tl::unexpected<Error> no_such(const std::string& thing);
tl::unexpected<Error> wrong_field(const std::string& field, const std::string& why);
tl::unexpected<Error> other_set(const PracticalRecord& practical);
tl::unexpected<Error> still_running();
tl::unexpected<Error> unknown_display(const Error& cause);
tl::unexpected<Error> unknown_observer(Error cause);

}  // namespace copunctal
