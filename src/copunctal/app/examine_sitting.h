// One person at a screen with an examiner, or two who take turns: what is void and comes again, the
// other eye, the sheet of what was entered, and its signing off.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "copunctal/app/run_sitting.h"
#include "copunctal/base/result.h"

namespace copunctal {

/// A point of good technique, and whether it belongs to sittings with one eye covered only.
struct TechniquePoint {
  std::string_view name, words;
  bool is_for_one_eye = false;
};
const std::vector<TechniquePoint>& technique_points();

struct SignOff {
  std::vector<std::string> done;  ///< Names of points.
  std::string examiner, supervisor, remark;
};

/// What was entered in a sitting.
struct SittingSheet {
  std::string sitting, practical, practical_name, pseudonym, eye, state;
  bool shows_drawn = false;  ///< Only once it has ended, and only where the person wants to know.
  struct Row {
    std::int64_t item = 0;
    std::string round, plate, end;
    std::vector<std::string> entered;
    std::optional<std::vector<std::string>> first_symbols;
    bool hesitated = false;
    std::optional<double> seconds;  ///< From the plate to the entry.
    std::string void_reason;        ///< Empty where the reading stands.
    std::optional<std::int64_t> repeats;
    std::vector<std::string> drawn;  ///< Empty unless shown.
  };
  std::vector<Row> rows;
  std::vector<TechniquePoint> points;
  std::optional<SignOff> sign_off;
  std::string signed_utc;
  std::vector<std::pair<std::string, std::string>> other_eyes;  ///< Sittings of the same person.
};

/// May be used from any number of threads. Errors common to all: as SittingDesk, and unsupported
/// for a sitting that nobody examines.
class ExaminerDesk {
 public:
  /// What must outlive the desk.
  struct Rests {
    Store& store;
    const PlateSet& set;
    const DeskClocks& clocks;
    const RandomBytes& random;
  };
  explicit ExaminerDesk(Rests rests) : rests_(rests) {}

  /// A reading that says nothing; its plate comes again at the end of the round. What was read is
  /// kept. Errors: bad_input for an item without an answer or a reason there is not; conflict when
  /// it is void, a later round has begun, the sitting has ended or twenty were void before.
  Result<SittingState> declare_void(std::string_view sitting, std::int64_t item,
                                    const std::string& reason);
  /// Begins a sitting with the eye that was covered, by the same consent. Errors: conflict while
  /// the first one runs, when both eyes sat or the practical is not open.
  Result<SittingState> other_eye(std::string_view sitting);
  Result<SittingSheet> sheet(std::string_view sitting) const;
  /// Once, when the sitting has ended. Errors: bad_input, conflict.
  Result<SittingSheet> sign_off(std::string_view sitting, const SignOff& sign_off);

 private:
  Rests rests_;
};

/// Who sits and who examines, turn by turn; people are numbered from 1.
struct Rota {
  struct Place {
    int station = 0, sits = 0, examines = 0;
  };
  std::vector<std::vector<Place>> turns;
};
/// In pairs that swap roles, three where one is left over. Error: bad_input for fewer than 2 or
/// more than 400 people, or without a station.
Result<Rota> rota_for(std::int64_t people, std::int64_t stations);

}  // namespace copunctal
