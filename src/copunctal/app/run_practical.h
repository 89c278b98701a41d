// A practical from its preparation to what the class sees afterwards.
//
// preparing -> open -> closed, never back. Opening freezes what is predicted; only a closed
// practical says what was read, and then of the class, of nobody.
#pragma once

#include <cstdint>
#include <future>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "copunctal/app/class_card.h"
#include "copunctal/app/loan_shelf.h"
#include "copunctal/app/run_sitting.h"
#include "copunctal/store/records.h"

namespace copunctal {

/// Whether loans of a practical can be drawn by now.
struct LoanStatus {
  std::string observer;
  bool is_ready = false;
  std::vector<std::string> left_out;  ///< Plates without room, once ready.
  std::string refusal;                ///< Why it cannot be lent; empty when it can.
};

struct PracticalInFull {
  PracticalSummary summary;
  std::string card;  ///< JSON; empty before opening.
  bool card_is_as_sealed = false;
  std::vector<LoanStatus> loans;
};

/// How far somebody is, without what would say how well: after the first round only that there is
/// more.
struct WatchedSitting {
  std::string pseudonym;
  std::string stage;          ///< "begun", "first round", "later rounds" or "ended".
  std::int64_t answered = 0;  ///< In warm-up and first round.
  std::int64_t of = 0;
  std::string last_heard_utc;  ///< Of the last answer, or of the beginning.
};

/// May be used from any number of threads. Errors common to all: not_found for an unknown id, io
/// when the store fails, conflict when the practical's set is not the one loaded.
class PracticalDesk {
 public:
  /// What must outlive the desk; `tables` are waited for where needed.
  struct Rests {
    Store& store;
    const PlateSet& set;
    const DeskClocks& clocks;
    std::shared_future<Result<std::shared_ptr<const ReadingTables>>> tables;
    LoanShelf& loans;
  };
  explicit PracticalDesk(Rests rests) : rests_(std::move(rests)) {}

  Result<PracticalInFull> practical(std::string_view id) const;
  /// Freezes the prediction card. Errors: conflict unless it is being prepared, or while loans are
  /// being drawn; unsupported for a loan that cannot be; bad_input as predicted_class().
  Result<PracticalInFull> open(std::string_view id, const ClassExpected& expected);
  /// Ends its sittings too. Error: conflict unless it is open.
  Result<PracticalInFull> close(std::string_view id);
  Result<std::vector<WatchedSitting>> watch(std::string_view id) const;
  /// Of those who agreed to it. Error: conflict until it is closed.
  Result<ClassDebrief> debrief_of(std::string_view id) const;

 private:
  Rests rests_;
};

/// As docs/api.md has it.
std::string class_debrief_json(const ClassDebrief& debrief, const PracticalInFull& practical);

}  // namespace copunctal
