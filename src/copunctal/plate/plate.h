// A plate: a ground of pebbles and one or two figures made of pebbles, as recipe and seed.
//
// A plate is small: what it shows follows bit for bit from its seed (geometry, noise order) and
// its codes (the 8-bit colours actually sent to the display). See plate/field.h for the geometry
// and plate/draw.h for the picture.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "copunctal/colour/encoding.h"

namespace copunctal {

/// Design kinds, in the trade's terms; ours: opener = demonstration, fork = classification, ladder
/// = fork plates of graded balance.
enum class PlateKind { opener, vanishing, transformation, hidden, fork, ladder, tritan };

/// What the computation of who reads a kind rests on. `visibility`: whether a figure stands above
/// an observer's noise, which is computed. `salience`: which of several visible things somebody
/// reports, or whether noise in one mechanism hides another; only people can calibrate that.
enum class Basis { visibility, salience };
Basis basis_of(PlateKind kind);
/// "visibility", "salience".
std::string_view name_of(Basis basis);
/// The same as a sentence for whoever is shown a plate of that kind.
std::string_view basis_in_words(PlateKind kind);

/// Whom a vanishing or fork plate is aimed at: who must not read it. `none` for opener and tritan.
enum class Aim { none, dichromat, five_nm, ten_nm };

/// "opener", "vanishing", ...: the word used in files and on pages.
std::string_view name_of(PlateKind kind);
/// "dichromat", "5nm", "10nm", or "" for none.
std::string_view name_of(Aim aim);

/// Where a figure stands. `whole`: in the middle, large. The four others: a fork plate's quarters,
/// by diagonal.
enum class Place { whole, upper_left, lower_right, upper_right, lower_left };
std::string_view name_of(Place place);

/// One figure of a plate.
struct Figure {
  std::string symbol;  ///< What is drawn: "4", "up", "gate 2" (plate/symbols.h).
  Place place = Place::whole;
};

/// A plate as it is kept.
struct Plate {
  std::string name;  ///< Two words, unique in its set: "calm river".
  PlateKind kind = PlateKind::opener;
  Aim aim = Aim::none;
  std::uint64_t seed = 0;  ///< Of geometry and noise order.
  int cells = 1000;        ///< Pebbles its field is packed of (plate/field.h).
  /// One; or two: of fork plates and rungs of a ladder the first (clearer to protans) and the
  /// second (to deutans), of transformations what normals and what dichromats are to read, both in
  /// the middle.
  std::vector<Figure> figures;
  Code gap{};  ///< Colour between the cells and around the field.
  /// Colours by part, then by level of the noise. Part 0 is the ground, part 1 the first figure, 2
  /// the second, 3 where both lie on each other (transformations only).
  std::vector<std::vector<Code>> codes;
};

/// Number of parts of a plate of these figures: 2, 3, or 4 where two figures share a place.
std::size_t parts_of(const std::vector<Figure>& figures);
/// The places where a plate's symbols stand, each once: a reader looks for one symbol in each.
std::vector<Place> places_of(const std::vector<Figure>& figures);
/// Index into places_of() of a figure's place.
std::size_t place_index(const std::vector<Figure>& figures, std::size_t figure);

}  // namespace copunctal
