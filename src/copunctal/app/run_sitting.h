// Running a practical: people sit, see plates, answer, and afterwards hear what they asked to hear.
//
// The desk knows no HTTP and keeps nothing to itself: every step is in the store before it is
// confirmed, so that a restart, a repeated request or a second page changes nothing. docs/api.md
// is the same contract with the transport around it.
#pragma once

#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "copunctal/app/debrief.h"
#include "copunctal/app/drawn_path.h"
#include "copunctal/app/shown_set.h"
#include "copunctal/base/result.h"
#include "copunctal/design/plate_set.h"
#include "copunctal/store/identifiers.h"
#include "copunctal/store/records.h"

namespace copunctal {

class CourseDesk;
class DisplayDesk;
class ExaminerDesk;
class PracticalDesk;
class Store;

/// The clocks of the desk; passed in, so that a test can hold them still.
struct DeskClocks {
  std::function<std::string()> utc;         ///< "2030-01-02T03:04:05.678Z".
  std::function<std::int64_t()> steady_ns;  ///< Never goes back.
};
DeskClocks system_clocks();

/// Whether the person wants to hear what their answers say.
enum class Tell { tell, dont_tell, later };
std::string_view name_of(Tell tell);  ///< "tell", "dont_tell", "later".

struct NewPractical {
  std::optional<std::string> name;  ///< At most 64 characters; two words by chance if absent.
  std::optional<std::int64_t> exposure_ms;  ///< 1000 to 20000; 3000 if absent.
  bool prepare = false;                     ///< To be opened later, with a prediction card.
  std::vector<std::string> loans = {};      ///< Observers that may be lent.
  std::string course = {}, group = {};      ///< At most 64 characters each.
  /// What becomes of late, hesitating and corrected answers: "ignore", "note" or "miss".
  std::string lateness = "ignore";
  bool again = false;  ///< Missed plates, and as many read ones, come again at the end.
  std::optional<std::string> keep_until = {};  ///< "2030-01-31": removed after that day.
};

struct PracticalSummary {
  std::string id, name, created_utc, display, set_hash;
  std::int64_t plates = 0, exposure_ms = 0, grace_ms = 0, sittings = 0;
  std::string state = "open";  ///< "preparing", "open" or "closed".
  std::vector<std::string> loans;
  std::string card_sha256, opened_utc, closed_utc;  ///< Empty where there is none yet.
  std::string course, group, lateness, keep_until;  ///< Empty where there is none.
  bool again = false;
};
PracticalSummary summary_of(const PracticalRecord& record);

/// Which text people agree to; a new one whenever its meaning changes (web/src/pages/consent.tsx,
/// web/src/parts/consent-form.tsx).
inline constexpr std::int64_t consent_text = 3;

struct NewSitting {
  bool consent = false;
  Tell tell = Tell::later;
  std::optional<SexAtBirth> sex_at_birth = {};
  bool on_loan = false;  ///< Willing to be lent an observer, or own eyes, by lot.
  /// What answers may be used for beside the own outcome: the class's debrief, research.
  bool for_class = false, for_research = false;
  bool off_record = false;   ///< Nothing is stored: kept in memory while the program runs.
  bool examined = false;     ///< Somebody else enters what the person says.
  std::string eye = "both";  ///< "both", or the eye that is not covered: "right" or "left".
  std::string display = {};  ///< As the device was checked; empty for one that was not.
};

/// A round as its page may know it: random plate names, nothing that says which plate is which.
struct RoundState {
  struct Item {
    std::int64_t item = 0;
    std::string plate;
    bool answered = false;
    bool is_repeat = false;  ///< Of one whose reading was void.
  };
  std::string name;       ///< "warm-up", "first", "which-kind", "blue-yellow" or "again".
  int place = 1, of = 1;  ///< Rounds done so far + 1; rounds there can be at most.
  int figures = 1;        ///< How many symbols may be answered.
  std::vector<Item> items;
};

struct SittingState {
  std::string sitting, practical, practical_name;
  std::string pseudonym = {};  ///< Two words, for the room; empty in old sittings.
  bool on_loan = false;  ///< By lot; with whose eyes is not said before the practical is closed.
  bool off_record = false;
  bool examined = false;  ///< An examiner enters the readings.
  std::string eye = "both";
  bool ended = false;
  Tell tell = Tell::later;
  std::string made_for = {};  ///< The display its plates were made for.
  int size_px = 0;
  std::int64_t exposure_ms = 0, grace_ms = 0;
  SymbolFamily family = SymbolFamily::digits;  ///< Of `symbols`.
  std::vector<std::string> symbols;  ///< The answer row of the round; once ended, the set's.
  std::int64_t answered = 0;
  std::optional<RoundState> round;  ///< The one with the next unanswered item; nothing once ended.
};

/// An answer as the page sent it; times are the browser's.
struct SentAnswer {
  std::int64_t item = 0;
  std::vector<std::string> symbols;
  std::string end;  ///< "answered", "late", "expired" or "interrupted".
  double onset_ms = 0;
  std::optional<double> response_ms;
  double shown_ms = 0;
  std::int64_t frames = 0;
  bool hidden = false;
  std::string page_load;
  std::int64_t dropped = 0;                                    ///< Frames the screen skipped.
  bool hesitated = false;                                      ///< Noted by an examiner.
  std::optional<std::vector<std::string>> first_symbols = {};  ///< What was said before.
  std::vector<DrawnStroke> strokes = {};                       ///< Of a path's plate.
};

/// The answer's identity: SHA-256 of its canonical JSON (sorted keys, no spaces).
std::string body_hash(const SentAnswer& answer);

struct AnswerReceipt {
  bool is_duplicate = false;  ///< Stored before, by an earlier try of the same request.
  SittingState state;
};

struct SittingOutcome {
  bool told = false, can_choose = false;
  bool waits = false;     ///< With a lot drawn: nothing is told before the practical is closed.
  std::string lent = {};  ///< Whose eyes were lent; empty for none.
  std::string intended_use, whom_to_see;

  struct Shown {
    std::int64_t item = 0;
    std::string round, end;
    bool is_void = false, hesitated = false, is_repeat = false;
    /// Why its time is not to be relied on: "hidden" or "dropped frames"; empty where it is.
    std::string flaw = {};
    std::optional<std::vector<std::string>> first_symbols = {};
    std::optional<DrawnScore> drawn = {};  ///< Of what was drawn over a path's plate.
  };
  std::optional<Debrief> debrief;  ///< Only when told.
  std::vector<Shown> shown;        ///< Beside debrief->plates, one for one.

  /// A plate that came again: its two readings. Only the first one is weighed.
  struct Again {
    std::int64_t item = 0;
    std::string name;
    std::vector<std::string> drawn, before, now;
    bool agree = false;  ///< Both as drawn, or neither.
  };
  std::vector<Again> again;
};

/// A plate of the outcome, with the error of the view where one is known.
struct OutcomePicture {
  PictureBytes bytes;
  std::optional<AuditResult> error;
};

/// May be used from any number of threads. Errors common to all: not_found for an unknown id, io
/// when the store fails, conflict when the practical's set is not the one loaded.
class SittingDesk {
 public:
  /// Starts building the reading tables in the background. `also`: the same plates for other
  /// displays, shown on devices that were checked as such. `store` must outlive the desk, and so
  /// must `screens`, where the checks of this computer's screen are kept: by default in `store`,
  /// which other computers may share. Error: bad_input for a set that no sitting can be made of, or
  /// whose plates are others.
  static Result<std::unique_ptr<SittingDesk>> open(
      Store& store, PlateSet set, DeskClocks clocks, RandomBytes random,
      TablesBuilder build_tables = build_reading_tables, std::vector<PlateSet> also = {},
      Store* screens = nullptr);
  SittingDesk(const SittingDesk&) = delete;
  SittingDesk& operator=(const SittingDesk&) = delete;
  ~SittingDesk();

  Result<std::vector<PracticalSummary>> practicals() const;
  Result<PracticalSummary> create_practical(const NewPractical& wish);

  /// Off the record nothing of it is stored and nobody watching sees it; the last thousand such are
  /// remembered. Errors: bad_input without consent, or on loan where nothing is lent or off the
  /// record; conflict unless the practical is open.
  Result<SittingState> begin_sitting(std::string_view practical, const NewSitting& wish);
  Result<SittingState> state_of(std::string_view sitting) const;
  /// Error: not_found for a plate whose round has not been reached.
  Result<PictureBytes> plate_picture(std::string_view sitting, std::string_view plate) const;
  /// How a page must read the codes of the sitting's pictures: display/keep_display.h.
  Result<std::string> colour_space(std::string_view sitting) const;
  /// The same plates for one more display, from now on shown where a sitting begins on a device
  /// checked as it. Errors: bad_input when the plates are others; conflict when there are some for
  /// that display.
  Result<void> add_plates(PlateSet set);
  /// Displays there are plates for, the practical's own first.
  std::vector<std::string> displays_with_plates() const;
  /// Returns once the answer is on stable storage. The same answer again is a duplicate. Errors:
  /// bad_input for one that cannot be meant; conflict when it contradicts what is stored; gone when
  /// the sitting has ended. Conflicting and late answers are kept in the audit.
  Result<AnswerReceipt> put_answer(std::string_view sitting, std::string_view answer_id,
                                   const SentAnswer& answer);
  /// For who chose `later`. Errors: bad_input for `later` again; conflict when already chosen.
  Result<SittingState> choose(std::string_view sitting, Tell tell);
  /// Ends a sitting before the plates that come again, or within them. Error: conflict elsewhere.
  Result<SittingState> end_before_again(std::string_view sitting);
  /// Removes the sitting and all its answers.
  Result<void> remove_sitting(std::string_view sitting);

  /// Error: conflict while the sitting is running.
  Result<SittingOutcome> outcome(std::string_view sitting) const;
  /// An answered plate as drawn ("original") or as an observer gets it. Errors: unsupported unless
  /// the person is told; usage for an observer that cannot be parsed.
  Result<OutcomePicture> outcome_picture(std::string_view sitting, std::int64_t item,
                                         const std::string& observer) const;

  /// The checks of this computer's screen, by the same clock.
  DisplayDesk& displays();
  /// Practicals from preparation to debrief.
  PracticalDesk& classes();
  /// Sittings with an examiner.
  ExaminerDesk& examiners();
  /// Courses, lists of who took part, codes to collect, sheets to judge.
  CourseDesk& courses();

 private:
  struct Inside;
  explicit SittingDesk(std::unique_ptr<Inside> inside);
  std::unique_ptr<Inside> inside_;
};

}  // namespace copunctal
