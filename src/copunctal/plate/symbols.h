// What a figure may be: families of symbols, each with its geometry.
//
// A set asks for symbols of one family, so that somebody who does not read digits can be asked
// where a ring's gap is, or at which gate a path comes out. Whatever the family, a figure is made
// of whole pebbles by majority (plate/mosaic.h).
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "copunctal/base/result.h"
#include "copunctal/plate/glyph.h"
#include "copunctal/plate/plate.h"

namespace copunctal {

enum class SymbolFamily { digits, rings, paths };
std::string_view name_of(SymbolFamily family);  ///< "digits", "rings", "paths".
/// Error: usage for any other word.
Result<SymbolFamily> family_from(std::string_view name);
/// The family a symbol belongs to; nothing for a text that is no symbol.
std::optional<SymbolFamily> family_of(std::string_view symbol);

/// Where a place puts its symbol: centre and height, in units of the field's side, origin upper
/// left. Paths cross the whole field, or a whole quarter of it.
struct SymbolBox {
  Point centre;
  double height = 0;
};
SymbolBox box_of(SymbolFamily family, Place place);

/// What a symbol covers when it is drawn at a place. `path_shape` is used by paths alone; expects a
/// symbol of some family.
class SymbolArea {
 public:
  SymbolArea(std::string_view symbol, Place place, std::size_t path_shape = 0);
  bool covers(Point p) const;  ///< A point in field units.

 private:
  SymbolFamily family_ = SymbolFamily::digits;
  SymbolBox box_;
  const Glyph* glyph_ = nullptr;
  Point gap_;
  const std::vector<Point>* way_ = nullptr;
};

/// Correlation of two symbols drawn large, over the points of the field (raster of 200 x 200): 1
/// the same, 0 unrelated.
double template_correlation(std::string_view a, std::string_view b, std::size_t path_shape = 0);

/// The stroke of a symbol in cells of the field (the side of a square with a cell's mean area).
double stroke_in_cells(SymbolFamily family, Place place, int cells = 1000);

/// What a ring or a path needs for its course to be seen: pebbles on both of its edges are uneven.
/// Digits are known by more than one stroke and need less.
inline constexpr double least_stroke_in_cells = 3, least_digit_stroke_in_cells = 2;
/// Whether a symbol is large enough to be drawn at a place. Error: unsupported, with the numbers
/// and the fewest cells that will do.
Result<void> check_size(std::string_view symbol, Place place, int cells = 1000);

/// A family and, of digits, perhaps the answer row itself: "rings", "digits:1,2,4,7".
struct SymbolChoice {
  SymbolFamily family = SymbolFamily::digits;
  std::vector<std::string> digits;  ///< Ascending; empty: by seed.
};
/// Errors: as family_from() and chosen_digits().
Result<SymbolChoice> symbols_from(std::string_view text);

/// Of two digits in one answer row: as alike as this and they are taken for each other.
inline constexpr double alike = 0.5;
/// An answer row of digits chosen by hand, ascending. Errors: usage for what is no digit, comes
/// twice or is alone; unsupported, with the numbers and the nearest row that works, for digits too
/// alike.
Result<std::vector<std::string>> chosen_digits(std::vector<std::string> digits);

/// The answer row of a set, ascending. Digits: a subset of `count` whose pairwise correlations are
/// all below .5, drawn by seed among all such subsets; fewer when there is no such subset. Rings:
/// the four upright gaps or the four turned ones, by seed. Paths: the four gates.
std::vector<std::string> choose_symbols(SymbolFamily family, std::uint64_t seed,
                                        std::size_t count = 4);

}  // namespace copunctal
