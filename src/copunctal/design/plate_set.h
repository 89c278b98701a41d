// A set: an ordered, reproducible collection of plates for a stated display.
//
// On disk a set is a directory: set.json (recipes and final codes, with a hash over all of it) and
// plates/NAME.png. An edited set.json is refused.
#pragma once

#include <cstdint>
#include <filesystem>
#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "copunctal/base/result.h"
#include "copunctal/colour/tone_curve.h"
#include "copunctal/display/display.h"
#include "copunctal/plate/field.h"
#include "copunctal/plate/plate.h"
#include "copunctal/plate/symbols.h"

namespace copunctal {

struct PlateSet {
  std::string purpose = "practical";
  std::string display = "srgb/oled";  ///< Full name of the display the set was designed for.
  /// That display itself where its name does not say all of it: one that was read from a file.
  std::optional<Display> own_display;
  std::uint64_t seed = 0;
  std::string loan;  ///< The observer the plates are drawn on loan of; empty for none.
  SymbolFamily family = SymbolFamily::digits;
  std::vector<std::string> symbols;  ///< The answer row, in ascending order: {"1", "2", "4", "7"}.
  /// The answer row of fork plates where it is another one: two paths cannot stand side by side, so
  /// a set of paths has rings there. Empty otherwise; as many as `symbols`.
  std::vector<std::string> fork_symbols;
  int cells = usual_cells;  ///< Of every plate's field.
  int size_px = 640;        ///< Side of every plate's picture.
  std::vector<Plate> plates;
  std::string hash;  ///< SHA-256 of the set, as in set.json; identifies it.
};

/// The display the set was designed for: its own, or the one of that name. Error: bad_input for a
/// name this program does not know.
Result<Display> display_of_set(const PlateSet& set);
/// What the set's codes become on it; on an unknown display, as on the sRGB curve.
CodeLight light_of(const PlateSet& set);

/// The answer row of a plate of the set.
const std::vector<std::string>& answer_row(const PlateSet& set, const Plate& plate);
/// The family of that row's symbols.
SymbolFamily answer_family(const PlateSet& set, const Plate& plate);

/// Reads DIR/set.json. Errors: bad_input naming the file when it is missing, malformed, made by
/// another version, edited (hash mismatch), or asks for symbols that cannot be drawn.
Result<PlateSet> load_set(const std::filesystem::path& directory);

/// Whether save_set() could make this directory now; leaves nothing behind. Errors: bad_input when
/// it exists and is not empty, io when it cannot be made.
Result<void> check_target(const std::filesystem::path& directory);

/// Makes a directory whole or not at all: `fill` writes into a sibling, which is then renamed; its
/// errors come back with the directory's own name. Errors: as check_target().
Result<void> write_directory(
    const std::filesystem::path& directory,
    const std::function<Result<void>(const std::filesystem::path& draft)>& fill);

/// Writes DIR/set.json and DIR/plates/*.png by write_directory(). Errors: as check_target().
Result<void> save_set(const PlateSet& set, const std::filesystem::path& directory);

/// SHA-256 over the set without its hash.
std::string set_hash(const PlateSet& set);

/// set.json's text, canonical: the same set gives the same bytes.
std::string set_json(const PlateSet& set);

}  // namespace copunctal
