// The rounds of a sitting: what is shown in which order, and where a sitting stands.
//
// Pure functions of the set, the stored order and the stored answers; part of run_sitting.h's
// insides.
#pragma once

#include <cstdint>
#include <optional>
#include <string_view>
#include <vector>

#include "copunctal/base/result.h"
#include "copunctal/design/plate_set.h"
#include "copunctal/store/identifiers.h"
#include "copunctal/store/records.h"

namespace copunctal {

/// Whether sittings can be made of this set: it has an opener, and nothing but openers, vanishing,
/// fork and tritan plates. Error: bad_input.
Result<void> check_sittable(const PlateSet& set);

/// Every item of a new sitting in the order of showing: the first opener; the vanishing plates in
/// random order with the other openers spread between them (a second one in the middle); the fork
/// plates and the tritan plates, each in random order. The order follows from the seed, the plates'
/// ids from `random`.
std::vector<ItemRecord> lay_out_items(const PlateSet& set, std::uint64_t order_seed,
                                      const RandomBytes& random);

/// The further items of plates that come again, once all rounds are done: the vanishing plates of
/// the first round that were missed, and as many that were read, at least two, in an order of their
/// own. Nothing where it has been laid out before.
std::vector<ItemRecord> lay_out_again(const PlateSet& set, const std::vector<ItemRecord>& items,
                                      const std::vector<AnswerRecord>& answers,
                                      std::uint64_t order_seed, const RandomBytes& random);

/// Where a sitting stands.
struct Progress {
  std::optional<std::string_view> round;  ///< The round with the next unanswered item, or none.
  int place = 1;                          ///< Rounds done + 1.
  int of = 0;                             ///< Rounds there can be at most.
  std::vector<std::string_view> reached;  ///< Rounds done, and the present one.

  bool has_reached(std::string_view name) const;
};

/// The which-kind round is left out when the first round had no miss.
Progress progress_of(const PlateSet& set, const std::vector<ItemRecord>& items,
                     const std::vector<AnswerRecord>& answers);

/// How many symbols may be answered in a round: the most figures of any of its plates.
int figures_in(const PlateSet& set, const std::vector<ItemRecord>& items, std::string_view round);

/// The symbols drawn on a plate, in the order of its answer row.
std::vector<std::string> drawn_on(const PlateSet& set, std::int64_t plate);

}  // namespace copunctal
