// What the locked-up decoder says to whoever asked: a head, then rows, all of them checked by the
// reader, who trusts nothing of it.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>

namespace copunctal {

struct WireHead {
  static constexpr std::array<char, 8> mark = {'C', 'P', 'R', 'O', 'W', 'S', '0', '2'};
  std::array<char, 8> magic{};
  std::uint32_t proof = 0;    ///< Proof::bits().
  std::uint32_t refused = 0;  ///< 1: `text` bytes of a reason follow, and nothing else.
  std::uint32_t format = 0, width = 0, height = 0, bits = 0, has_alpha = 0, orientation = 0,
                pages = 0;
  std::uint32_t text = 0;    ///< Bytes of a note, or of the reason.
  std::uint32_t shared = 0;  ///< 1: rows come by the shared slots, not after their number.
};
/// Rows come in memory both can see, wire_slots slots of so many bytes, filled in turn; the reader
/// gives slots back by a byte each, so many at once that neither wakes the other for every one.
/// Pictures with longer rows send them after their number.
inline constexpr std::size_t wire_slots = 4, wire_slots_at_once = 2,
                             wire_slot_bytes = std::size_t{1} << 18;
static_assert(wire_slots_at_once < wire_slots);
/// The decoder's descriptors besides the picture (0) and its answer (1).
inline constexpr int wire_profile = 3, wire_memory = 4, wire_returns = 5;
/// Before every batch of rows: how many, or `damaged` and then a length and a reason.
inline constexpr std::uint32_t wire_damaged = 0xffffffff;
inline constexpr std::uint32_t most_wire_text = 1000;

}  // namespace copunctal
