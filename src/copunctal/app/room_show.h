// Plates shown to a room: on the projector one at a time, answers on phones or on paper.
//
// A show is no sitting. Answers from phones are counted in memory, the last one of each device, and
// are gone when the show ends; nothing is stored and nobody is told anything.
#pragma once

#include <cstdint>
#include <functional>
#include <map>
#include <memory>
#include <mutex>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "copunctal/app/class_card.h"
#include "copunctal/app/plate_workshop.h"
#include "copunctal/base/result.h"
#include "copunctal/design/plate_set.h"
#include "copunctal/store/identifiers.h"

namespace copunctal {

/// Said to presenter, room and phones.
inline constexpr std::string_view show_words =
    "Answers in a show are counted in memory and gone when it ends; it is no sitting, and nothing "
    "is stored";

/// What the projector has: nothing before a plate, the plate, the plate with what was read said.
enum class ShowPhase { blank, plate, revealed };
std::string_view name_of(ShowPhase phase);  ///< "blank", "plate", "revealed".

/// How often each answer was given. Nothing stands where a number could point to somebody: cells
/// under five, and others until those left out come to five or to none.
struct ShowTally {
  std::size_t answered = 0;
  bool is_told = false;  ///< Only once it was revealed, when answers are over.
  std::vector<std::pair<std::string, std::optional<std::size_t>>> cells;
  ReadShare as_drawn;
};
/// `cells` with their small ones hidden (smallest_cell of class_card.h).
std::vector<std::optional<std::size_t>> without_small_cells(const std::vector<std::size_t>& cells);

struct ShowState {
  std::string id, set;
  std::size_t step = 0, steps = 0;  ///< Three a plate; the last one is the end, blank.
  std::size_t place = 0, of = 0;    ///< The plate; its number on the answer sheet is place + 1.
  ShowPhase phase = ShowPhase::blank;
  bool is_over = false;
  std::optional<std::int64_t> on_for_ms;  ///< Since the plate appeared.
  Plate plate;
  std::string display, colour_space;
  ShowTally tally;
};

/// What a phone may know.
struct PhoneShow {
  std::string id;
  std::size_t place = 0, of = 0;
  bool is_open = false;  ///< Answers are taken: the plate stands and was not revealed before.
  std::vector<std::string> symbols;
  SymbolFamily family = SymbolFamily::digits;
  int figures = 1;
  std::optional<std::vector<std::string>> mine;  ///< What this device answered to it.
};

/// One show at a time. From any number of threads; `workshop` must outlive it.
class ShowDesk {
 public:
  ShowDesk(const PlateWorkshop& workshop, RandomBytes random,
           std::function<std::int64_t()> steady_ns);

  /// Begins with the set's plates in the set's order, as the answer sheet has them. A show before
  /// it ends. Error: not_found for a set that is not there.
  Result<ShowState> begin(std::string_view set);
  /// Errors: not_found for another show.
  Result<ShowState> state(std::string_view id) const;
  /// Goes to a step; bad_input beyond the last. A plate that was revealed takes no more answers.
  Result<ShowState> go_to(std::string_view id, std::size_t step);
  Result<void> end(std::string_view id);
  /// The show's plate number `place` as drawn, 200 to 1600 pixels a side. Error: bad_input.
  Result<ShelfPicture> picture(std::string_view id, std::size_t place, int size_px) const;

  std::optional<PhoneShow> for_phone(int device) const;
  /// Counts a device's answer in place of its last one. Errors: not_found without a show, conflict
  /// when another plate stands or answers are over, bad_input for symbols that are not of its row.
  Result<PhoneShow> answer(int device, std::size_t place, const std::vector<std::string>& symbols);

 private:
  struct Show;
  Result<const Show*> found(std::string_view id) const;  // under the lock
  ShowState state_of(const Show& show) const;            // under the lock
  PhoneShow phone_of(const Show& show, int device) const;

  const PlateWorkshop& workshop_;
  const RandomBytes random_;
  const std::function<std::int64_t()> steady_ns_;
  mutable std::mutex mutex_;
  std::shared_ptr<Show> show_;
};

}  // namespace copunctal
