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

/// A name of 1..64 characters without control characters; exposure 1000..20000 ms.
Result<void> check_practical(std::string_view name, std::int64_t exposure_ms);

/// Everything about an answer that can be judged without its sitting: the end and what goes with
/// it, finite times within range, the page's id.
Result<void> check_answer(const SentAnswer& answer);

/// Symbols from the row, ascending, each once, at most `figures`.
Result<void> check_symbols(const std::vector<std::string>& symbols,
                           const std::vector<std::string>& row, int figures);

/// A practical's name by chance: "quiet harbour".
std::string two_words(std::uint64_t seed);

/// A sitting's readings, beside its answers.
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
