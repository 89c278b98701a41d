// What the store keeps, as plain values, and the operations on it inside a transaction.
//
// Text columns with a fixed vocabulary are text here too (tell: "tell", "dont_tell", "later"); the
// database checks them once more.
#pragma once

#include <cstdint>
#include <optional>
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
};

/// One thing to be shown in a sitting.
struct ItemRecord {
  std::int64_t item = 0;
  std::string round;       ///< "warm-up", "first", "which-kind" or "blue-yellow".
  std::int64_t plate = 0;  ///< Index into the practical's set.
  std::string plate_id;    ///< The random name under which this sitting's page asks for it.
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
};

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
};

/// Why an answer is kept in the audit only.
enum class AuditReason { conflict, late };

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
  Result<bool> has_pseudonym(std::string_view practical_id, std::string_view pseudonym) const;
  /// Answers that count, by item.
  Result<std::vector<AnswerRecord>> answers_of(std::string_view sitting_id) const;
  Result<std::optional<AnswerRecord>> answer(std::string_view id) const;
  /// The audit of one sitting: answers that came but do not count.
  Result<std::vector<std::pair<AuditReason, AnswerRecord>>> refused_answers_of(
      std::string_view sitting_id) const;
  Result<std::optional<DisplayRecord>> display_record(std::string_view id) const;
  /// The one made last, whether it still holds or not.
  Result<std::optional<DisplayRecord>> newest_display_record() const;

 protected:
  Database* database_;
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
