#include "copunctal/design/verdict.h"

#include <algorithm>

#include "copunctal/base/text.h"

namespace copunctal {
namespace {

constexpr std::size_t jurors = 100;

}  // namespace

std::vector<Demand> demands_of(const Plate& plate) {
  constexpr bool at_least = true, at_most = false;
  switch (plate.kind) {
    case PlateKind::opener:
      return {{"normal", 0, at_least, 0.9},
              {"protan:0", 0, at_least, 0.9},
              {"deutan:0", 0, at_least, 0.9},
              {"tritan", 0, at_least, 0.9}};
    case PlateKind::vanishing:
      switch (plate.aim) {
        case Aim::five_nm:
          return {{"normal", 0, at_least, 0.75},
                  {"protan:5", 0, at_most, 0.4},
                  {"deutan:5", 0, at_most, 0.4}};
        case Aim::ten_nm:
          return {{"normal", 0, at_least, 0.6},
                  {"protan:10", 0, at_most, 0.55},
                  {"deutan:10", 0, at_most, 0.55}};
        default:
          return {{"normal", 0, at_least, 0.85},
                  {"protan:0", 0, at_most, 0.15},
                  {"deutan:0", 0, at_most, 0.15}};
      }
    case PlateKind::fork:
      return {{"normal", 0, at_least, 0.85},  {"normal", 1, at_least, 0.85},
              {"protan:0", 0, at_least, 0.8}, {"protan:0", 1, at_most, 0.2},
              {"deutan:0", 1, at_least, 0.8}, {"deutan:0", 0, at_most, 0.2}};
    case PlateKind::ladder:
      return {{"normal", 0, at_least, 0.8}, {"normal", 1, at_least, 0.8}};
    case PlateKind::tritan:
      return {{"normal", 0, at_least, 0.85},
              {"protan:0", 0, at_least, 0.85},
              {"deutan:0", 0, at_least, 0.85},
              {"tritan", 0, at_most, 0.15}};
    case PlateKind::transformation:
      return {{"normal", 0, at_least, 0.7},
              {"normal", 1, at_most, 0.3},
              {"protan:0", 1, at_least, 0.7},
              {"deutan:0", 1, at_least, 0.7}};
    case PlateKind::hidden:
      return {{"normal", 0, at_most, 0.3},
              {"protan:0", 0, at_least, 0.7},
              {"deutan:0", 0, at_least, 0.7}};
  }
  return {};
}

Jury::Jury(const Display& display, unsigned threads) : display_(display.name) {
  for (const char* name : {"normal", "protan:0", "protan:5", "protan:10", "deutan:0", "deutan:5",
                           "deutan:10", "tritan"})
    eyes_[name] = fresh_eyes(*observer_from(name), display, jurors, threads);
}

std::optional<Jury::Miss> Jury::worst_miss(const Plate& plate, const PlateReader& reader) const {
  const std::vector<std::size_t> drawn = reader.drawn_on(plate);
  std::optional<Miss> worst;
  double by = 0;
  for (const Demand& demand : demands_of(plate)) {
    const PredictedReading reading =
        predicted_reading(reader, drawn, eyes_.at(demand.observer), 128);
    const double reached = demand.figure == 0 ? reading.intended : reading.second;
    const double missed = demand.at_least ? demand.bound - reached : reached - demand.bound;
    if (missed <= by) continue;
    by = missed;
    worst = {demand, reached};
  }
  return worst;
}

Result<void> Jury::judge(const Plate& plate, const PlateReader& reader) const {
  const auto miss = worst_miss(plate, reader);
  if (!miss) return {};
  const Demand& demand = miss->demand;
  return fail(
      Error::Kind::unsupported,
      "on display " + display_ + " no plate of kind " + std::string(name_of(plate.kind)) +
          (plate.aim == Aim::none ? "" : " aimed at " + std::string(name_of(plate.aim))) +
          " is read by " + demand.observer + (demand.at_least ? " at least " : " at most ") +
          decimals(demand.bound, 2) + " of the time: the best found is " +
          decimals(miss->reached, 2),
      "plate", plate.name,
      "use a display with less light on it, a lower black level or wider primaries, or a purpose "
      "without this kind");
}

}  // namespace copunctal
