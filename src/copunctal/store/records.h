// What the store keeps, as plain values, and the operations on it inside a transaction.
//
// Text columns with a fixed vocabulary are text here too (tell: "tell", "dont_tell", "later"); the
// database checks them once more.
#pragma once

#include <array>
#include <cstdint>
#include <map>
#include <optional>
#include <set>
#include <string>
#include <string_view>
#include <vector>

#include "copunctal/base/result.h"
#include "copunctal/store/audit_log.h"
#include "copunctal/store/display_record.h"

namespace copunctal {

class Database;

struct PracticalRecord {
  std::string id, name, created_utc, display, set_hash;
  std::int64_t plates = 0, exposure_ms = 0, grace_ms = 0;
  std::int64_t sittings = 0;            ///< Counted on reading; ignored on writing.
  std::string state = "open";           ///< "preparing", "open" or "closed".
  std::vector<std::string> loans = {};  ///< Observers lent in it.
  std::optional<std::string> card = {}, card_sha256 = {}, opened_utc = {}, closed_utc = {};
  std::string course = {}, group = {};         ///< Empty: of no course, of no group.
  std::string lateness = "ignore";             ///< "ignore", "note" or "miss".
  bool again = false;                          ///< Some plates come again at the end.
  std::optional<std::string> keep_until = {};  ///< "2030-01-31": removed after that day.
};

/// One thing to be shown in a sitting.
struct ItemRecord {
  std::int64_t item = 0;
  std::string round;       ///< "warm-up", "first", "which-kind", "blue-yellow" or "again".
  std::int64_t plate = 0;  ///< Index into the practical's set.
  std::string plate_id;    ///< The random name under which this sitting's page asks for it.
  std::optional<std::int64_t> repeats = {};  ///< The item whose reading was void.
};

struct SittingRecord {
  std::string id, practical_id;
  std::string tell;                         ///< "tell", "dont_tell" or "later".
  std::optional<std::string> sex_at_birth;  ///< "female", "male" or not given.
  std::uint64_t order_seed = 0;             ///< Of the order in which the plates are shown.
  std::string state;                        ///< "running" or "ended".
  std::string consented_utc, created_utc;
  std::optional<std::string> ended_utc;
  std::vector<ItemRecord> items;  ///< Every item, in the order of showing.
  std::string pseudonym = {};     ///< Two words, once in a practical; empty in old sittings.
  /// Whose eyes were lent: "own", "protan:0" ...; or none.
  std::optional<std::string> loan = {};
  std::int64_t consent_text = 1;                 ///< Which text was agreed to.
  bool for_class = false, for_research = false;  ///< What answers may be used for beside.
  std::string way = "self";                      ///< Who enters readings: "self" or "examined".
  std::string eye = "both";                      ///< "both", "right" or "left".
  std::optional<std::string> person = {};  ///< The same in both sittings of eyes that sit apart.
  std::optional<std::string> collect_sha256 = {};  ///< Of the code to collect the outcome with.
  /// Of the same plates for another display; nothing: the practical's own.
  std::optional<std::string> set_hash = {}, display = {};
};

/// A drawn line: x and y, 0 to 1 of the picture, and ms since the plate appeared.
using DrawnStroke = std::vector<std::array<double, 3>>;

struct AnswerRecord {
  std::string id, sitting_id;
  std::int64_t item = 0;
  std::vector<std::string> symbols;
  std::string end;                    ///< "answered", "late", "expired" or "interrupted".
  double onset_ms = 0;                ///< The browser's clock.
  std::optional<double> response_ms;  ///< The browser's clock; nothing unless answered or late.
  double shown_ms = 0;
  std::int64_t frames = 0;
  bool hidden = false;
  std::string page_load;
  std::string body_sha256;   ///< Identity of what was sent: same id, same hash, same answer.
  std::string received_utc;  ///< The server's clocks.
  std::int64_t received_steady_ns = 0;
  std::int64_t dropped = 0;  ///< Frames the screen skipped while the plate stood.
  bool hesitated = false;    ///< As an examiner noted.
  /// What was said before it was corrected; nothing unless it was.
  std::optional<std::vector<std::string>> first_symbols = {};
  std::vector<DrawnStroke> strokes = {};
  bool is_void = false;            ///< Declared so by an examiner; ignored on writing.
  bool is_miss_by_policy = false;  ///< Of the practical; neither read nor written.
};

struct SignOffRecord {
  std::string sitting_id;
  std::vector<std::string> done;  ///< Of the checklist.
  std::string examiner, supervisor, remark, signed_utc;
};

/// What somebody made of an answer sheet without a name.
struct SheetRating {
  std::string rater, sitting_id;
  std::int64_t rating = 0;  ///< From 1, surely normal, to 5, surely not.
  std::string kind;         ///< "normal", "protan", "deutan" or "tritan".
};

/// Why an answer is kept in the audit only.
enum class AuditReason { conflict, late };

/// What a change is going to read; of many changes it is read at once. What is not named here is
/// read when it is asked for.
struct ToRead {
  std::string sitting = {};  ///< With its items, its practical and its answers.
  std::string answer = {};   ///< By its id.
  std::string practical = {};
};

/// Reading, within one consistent view of the store.
class Records {
 public:
  explicit Records(Database& database) : database_(&database) {}

  Result<std::vector<PracticalRecord>> practicals() const;  ///< Oldest first.
  Result<std::optional<PracticalRecord>> practical(std::string_view id) const;
  Result<std::optional<SittingRecord>> sitting(std::string_view id) const;
  /// All of a practical, oldest first.
  Result<std::vector<SittingRecord>> sittings_of(std::string_view practical_id) const;
  /// How many sittings of a practical have each loan.
  Result<std::vector<std::pair<std::string, std::int64_t>>> loans_of(
      std::string_view practical_id) const;
  /// Those of the names that somebody has in a practical.
  Result<std::set<std::string>> pseudonyms_among(std::string_view practical_id,
                                                 const std::array<std::string, 16>& names) const;
  /// Reads ahead, at most 256 of each kind. Within a transaction in which nobody else writes.
  Result<void> foresee(const std::vector<ToRead>& changes);

  /// Answers that count, by item.
  Result<std::vector<AnswerRecord>> answers_of(std::string_view sitting_id) const;
  Result<std::optional<AnswerRecord>> answer(std::string_view id) const;
  /// The audit of one sitting: answers that came but do not count.
  Result<std::vector<std::pair<AuditReason, AnswerRecord>>> refused_answers_of(
      std::string_view sitting_id) const;
  /// The running or ended sitting with this code.
  Result<std::optional<std::string>> sitting_to_collect(std::string_view collect_sha256) const;
  /// All sittings of a person.
  Result<std::vector<SittingRecord>> sittings_of_person(std::string_view person) const;
  /// Void items of a sitting with their reasons, by item.
  Result<std::vector<std::pair<std::int64_t, std::string>>> voids_of(
      std::string_view sitting_id) const;
  Result<std::optional<SignOffRecord>> sign_off_of(std::string_view sitting_id) const;
  /// Who took part, in the order of the alphabet.
  Result<std::vector<std::string>> participations_of(std::string_view practical_id) const;
  Result<std::vector<SheetRating>> sheet_ratings_of(std::string_view practical_id) const;
  Result<std::optional<DisplayRecord>> display_record(std::string_view id) const;
  /// The one made last, whether it still holds or not.
  Result<std::optional<DisplayRecord>> newest_display_record() const;

 protected:
  /// By id; nothing for what is not there. Whoever changes something takes it out.
  struct Foresight {
    std::map<std::string, std::optional<SittingRecord>, std::less<>> sittings;
    std::map<std::string, std::optional<PracticalRecord>, std::less<>> practicals;
    std::map<std::string, std::optional<AnswerRecord>, std::less<>> answers;
    std::map<std::string, std::vector<AnswerRecord>, std::less<>> answers_of;
  };

  Database* database_;
  Foresight foresight_;
};

/// Writing, within one transaction.
class Changes : public Records {
 public:
  using Records::Records;

  Result<void> add(const PracticalRecord& practical);
  Result<void> add(const SittingRecord& sitting);
  Result<void> add(const AnswerRecord& answer);
  /// Keeps an answer in the audit; the same one once.
  Result<void> refuse(const AnswerRecord& answer, AuditReason reason);
  /// Further items of a sitting.
  Result<void> add(std::string_view sitting_id, const std::vector<ItemRecord>& items);
  Result<void> declare_void(std::string_view sitting_id, std::int64_t item, std::string_view reason,
                            std::string_view voided_utc);
  Result<void> add(const SignOffRecord& sign_off);
  /// The same entry once.
  Result<void> add_participation(std::string_view practical_id, std::string_view entry);
  /// The last one of a rater counts.
  Result<void> put(const SheetRating& rating);
  Result<void> set_collect_code(std::string_view sitting_id, std::string_view collect_sha256);
  /// Until which day it is kept; nothing: without end.
  Result<void> keep_practical_until(std::string_view id, std::optional<std::string_view> day);
  Result<void> end_sitting(std::string_view sitting_id, std::string_view ended_utc);
  /// With its card, which is never changed again.
  Result<void> open_practical(std::string_view id, std::string_view card,
                              std::string_view card_sha256, std::string_view opened_utc);
  /// With all its sittings that are still running.
  Result<void> close_practical(std::string_view id, std::string_view closed_utc);
  Result<void> choose(std::string_view sitting_id, std::string_view tell);
  /// Removes the sitting with its items, answers and audit. False when there is none.
  Result<bool> remove_sitting(std::string_view sitting_id);
  /// Error: io while another record has not ended; only one may hold.
  Result<void> add(const DisplayRecord& record);
  /// Error: io for a record that has ended: it is never changed again.
  Result<void> end_display_record(std::string_view id, std::string_view reason,
                                  std::string_view ended_utc);

  /// Appends to the log of what was done to the data.
  Result<void> note(LogEvent event, std::string_view now_utc, std::string_view subject = {},
                    std::string_view details = {});

  /// Whether something was removed, so that its traces must leave the log file too.
  bool has_removed() const { return has_removed_; }

 private:
  bool has_removed_ = false;
};

}  // namespace copunctal
