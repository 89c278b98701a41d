#include "copunctal/app/run_sitting_rounds.h"

#include <algorithm>
#include <array>

#include "copunctal/base/expects.h"
#include "copunctal/base/random.h"

namespace copunctal {
namespace {

using namespace std::string_view_literals;

constexpr std::array rounds = {"warm-up"sv, "first"sv, "which-kind"sv, "blue-yellow"sv, "again"sv};
enum : std::uint32_t { first_round_order = 1, which_kind_order, blue_yellow_order, again_order };

std::vector<std::int64_t> plates_of_kind(const PlateSet& set, PlateKind kind) {
  std::vector<std::int64_t> plates;
  for (std::size_t i = 0; i < set.plates.size(); ++i)
    if (set.plates[i].kind == kind) plates.push_back(static_cast<std::int64_t>(i));
  return plates;
}

std::vector<std::int64_t> shuffled(std::vector<std::int64_t> plates, std::uint64_t seed,
                                   std::uint32_t label) {
  RandomStream(seed, label).shuffle(plates);
  return plates;
}

/// Openers after the first, spread evenly: one stands in the middle, two at the thirds.
void spread(std::vector<std::int64_t>& plates, const std::vector<std::int64_t>& openers) {
  const std::size_t gaps = openers.size();
  const std::size_t length = plates.size();
  for (std::size_t i = 1; i < openers.size(); ++i)
    plates.insert(plates.begin() + static_cast<std::ptrdiff_t>(i * length / gaps + (i - 1)),
                  openers[i]);
}

const AnswerRecord* answer_to(const std::vector<AnswerRecord>& answers, std::int64_t item) {
  const auto found =
      std::find_if(answers.begin(), answers.end(), [&](const auto& a) { return a.item == item; });
  return found == answers.end() ? nullptr : &*found;
}

const Plate& plate_of(const PlateSet& set, std::int64_t plate) {
  expects(plate >= 0 && static_cast<std::size_t>(plate) < set.plates.size());
  return set.plates[static_cast<std::size_t>(plate)];
}

bool says_something(const AnswerRecord& answer) {
  return answer.end != "interrupted" && !answer.is_void;
}

/// A vanishing plate not read as drawn. An interrupted answer is void and says nothing.
bool is_miss(const PlateSet& set, const ItemRecord& item, const AnswerRecord& answer) {
  return plate_of(set, item.plate).kind == PlateKind::vanishing && says_something(answer) &&
         (answer.is_miss_by_policy || answer.symbols != drawn_on(set, item.plate));
}

bool has_miss_in_first_round(const PlateSet& set, const std::vector<ItemRecord>& items,
                             const std::vector<AnswerRecord>& answers) {
  return std::any_of(items.begin(), items.end(), [&](const ItemRecord& item) {
    const AnswerRecord* answer = answer_to(answers, item.item);
    return item.round == "first" && answer != nullptr && is_miss(set, item, *answer);
  });
}

}  // namespace

Result<void> check_sittable(const PlateSet& set) {
  if (!set.loan.empty())
    return fail(Error::Kind::bad_input,
                "the set is drawn on loan of " + set.loan +
                    ": answers to it say nothing about the eyes of whoever sits",
                "set", set.loan, "use a set made without --loan");
  for (const Plate& plate : set.plates)
    if (plate.kind == PlateKind::transformation || plate.kind == PlateKind::hidden ||
        plate.kind == PlateKind::ladder)
      return fail(Error::Kind::bad_input,
                  "the plate '" + plate.name + "' is of kind " + std::string(name_of(plate.kind)) +
                      ", which sittings do not use",
                  "set", plate.name, "use a set made for a practical");
  if (plates_of_kind(set, PlateKind::opener).empty())
    return fail(Error::Kind::bad_input,
                "the set has no opener, without which no answer can be interpreted", "set",
                set.purpose, "use a set made for a practical");
  return {};
}

std::vector<ItemRecord> lay_out_items(const PlateSet& set, std::uint64_t order_seed,
                                      const RandomBytes& random) {
  const auto openers = plates_of_kind(set, PlateKind::opener);
  auto first = shuffled(plates_of_kind(set, PlateKind::vanishing), order_seed, first_round_order);
  spread(first, openers);
  const std::array plates = {
      std::vector{openers.front()},
      std::move(first),
      shuffled(plates_of_kind(set, PlateKind::fork), order_seed, which_kind_order),
      shuffled(plates_of_kind(set, PlateKind::tritan), order_seed, blue_yellow_order),
  };

  std::vector<ItemRecord> items;
  for (std::size_t round = 0; round < plates.size(); ++round)
    for (const std::int64_t plate : plates[round])
      items.push_back({static_cast<std::int64_t>(items.size()), std::string(rounds[round]), plate,
                       new_id(random), std::nullopt});
  return items;
}

std::vector<ItemRecord> lay_out_again(const PlateSet& set, const std::vector<ItemRecord>& items,
                                      const std::vector<AnswerRecord>& answers,
                                      std::uint64_t order_seed, const RandomBytes& random) {
  std::vector<std::int64_t> missed, read;
  for (const ItemRecord& item : items) {
    if (item.round == "again") return {};
    const AnswerRecord* answer = answer_to(answers, item.item);
    if (item.round != "first" || answer == nullptr || !says_something(*answer) ||
        plate_of(set, item.plate).kind != PlateKind::vanishing)
      continue;
    (is_miss(set, item, *answer) ? missed : read).push_back(item.plate);
  }
  // Some in any case, so that their coming tells nobody anything.
  constexpr std::size_t least_read = 2;
  read = shuffled(std::move(read), order_seed, again_order);
  read.resize(std::min(read.size(), std::max(missed.size(), least_read)));
  missed.insert(missed.end(), read.begin(), read.end());
  std::vector<ItemRecord> again;
  for (const std::int64_t plate : shuffled(std::move(missed), order_seed, again_order))
    again.push_back({static_cast<std::int64_t>(items.size() + again.size()), "again", plate,
                     new_id(random), std::nullopt});
  return again;
}

bool Progress::has_reached(std::string_view name) const {
  return std::find(reached.begin(), reached.end(), name) != reached.end();
}

Progress progress_of(const PlateSet& set, const std::vector<ItemRecord>& items,
                     const std::vector<AnswerRecord>& answers) {
  Progress progress;
  for (const std::string_view round : rounds) {
    const auto is_in_round = [&](const ItemRecord& item) { return item.round == round; };
    const auto is_open = [&](const ItemRecord& item) {
      return is_in_round(item) && answer_to(answers, item.item) == nullptr;
    };
    if (std::none_of(items.begin(), items.end(), is_in_round)) continue;
    ++progress.of;
    if (progress.round) continue;
    if (round == "which-kind" && !has_miss_in_first_round(set, items, answers)) continue;

    progress.reached.push_back(round);
    if (std::any_of(items.begin(), items.end(), is_open)) progress.round = round;
  }
  progress.place = static_cast<int>(progress.reached.size()) + (progress.round ? 0 : 1);
  return progress;
}

int figures_in(const PlateSet& set, const std::vector<ItemRecord>& items, std::string_view round) {
  std::size_t most = 1;
  for (const ItemRecord& item : items)
    if (item.round == round) most = std::max(most, plate_of(set, item.plate).figures.size());
  return static_cast<int>(most);
}

std::vector<std::string> drawn_on(const PlateSet& set, std::int64_t plate) {
  const std::vector<std::string>& row = answer_row(set, plate_of(set, plate));
  const auto place_in_row = [&](const std::string& symbol) {
    return std::find(row.begin(), row.end(), symbol) - row.begin();
  };
  std::vector<std::string> drawn;
  for (const Figure& figure : plate_of(set, plate).figures) drawn.push_back(figure.symbol);
  std::sort(drawn.begin(), drawn.end(), [&](const std::string& a, const std::string& b) {
    return place_in_row(a) < place_in_row(b);
  });
  return drawn;
}

}  // namespace copunctal
