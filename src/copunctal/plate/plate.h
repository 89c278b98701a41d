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

/// Design kinds, in the trade's terms; DESIGN words: opener = demonstration, fork = classification.
enum class PlateKind { opener, vanishing, transformation, hidden, fork, tritan };

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
  std::vector<Figure>
      figures;  ///< One, or two for fork plates: first (read by protans), second (by deutans).
  Code gap{};   ///< Colour between the cells and around the field.
  /// codes[0]: the ground's colours, one per luminance-noise level; codes[1 + f]: figure f's.
  std::vector<std::vector<Code>> codes;
};

}  // namespace copunctal
