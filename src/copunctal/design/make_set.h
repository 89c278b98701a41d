// Designs a whole set for a display.
#pragma once

#include <cstdint>
#include <functional>
#include <stop_token>
#include <string>
#include <string_view>
#include <vector>

#include "copunctal/base/result.h"
#include "copunctal/design/plate_set.h"
#include "copunctal/display/display.h"

namespace copunctal {

/// Called when work begins, with done 0, and as plates are finished: how many of how many.
using Progress = std::function<void(std::size_t done, std::size_t of)>;

/// How many plates a practical's set may have, and has where nothing else is said.
inline constexpr std::size_t fewest_plates = 8, usual_plates = 18, most_plates = 30;
/// What a plate takes of a sitting, in seconds: three of them shown (common practice, no source),
/// five to answer (assumed).
inline constexpr double seconds_a_plate = 8;
/// As many plates as a time allows, within the bounds.
std::size_t plates_in(double minutes);

struct MakeOptions {
  Progress progress = {};
  unsigned threads = 0;
  SymbolFamily family = SymbolFamily::digits;
  /// Digits to use, chosen by hand; empty: by seed.
  std::vector<std::string> digits = {};
  int cells = usual_cells;            ///< fewest_cells to most_cells.
  std::size_t plates = usual_plates;  ///< Of a practical: fewest_plates to most_plates.
  /// An observer to draw the set on loan of (view/loan.h); empty for none.
  std::string loan = {};
  std::stop_token stop = {};
};

/// What sets are made for: "practical", "ladder", "exhibits".
const std::vector<std::string>& set_purposes();

/// Whether a set can be asked for like this. Errors: as make_set().
Result<void> check_wish(std::string_view purpose, const MakeOptions& options);

/// Makes a set for a purpose.
///   practical: of 18 plates an opener, ten vanishing plates (six aimed at dichromats, two at 5 nm,
///     two at 10 nm) with a second opener in the middle, four fork plates and two tritan plates; of
///     other numbers in about these shares, with one opener below twelve.
///   ladder: seven fork plates of graded balance, for the question which figure is clearer.
///   exhibits: two transformations and two hidden plates, to be looked at, never sat.
/// Designed on a sample of observers drawn with the seed; the same (seed, display, version) gives
/// the same set on a machine type, for any number of threads. A set of paths has rings where two
/// figures stand in one field. Every plate is judged on fresh observers before it is given out.
/// On loan, the codes are those on which normals answer as the lent observer would: each plate's
/// mean answers may differ by .05 at most over fresh observers, or the set is refused with the
/// number. Errors: usage for an unknown purpose or observer, or a number out of bounds; unsupported
/// with the plate's name and the number that is missed where the display cannot show a design;
/// stopped.
Result<PlateSet> make_set(std::string_view purpose, const Display& display, std::uint64_t seed,
                          const MakeOptions& options = {});

}  // namespace copunctal
