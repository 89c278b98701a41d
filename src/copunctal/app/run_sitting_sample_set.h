// For tests: a set of eighteen plates made by hand, small and quick to draw.
//
// Its colours were typed in, not designed: good enough to run sittings with, and to weigh answers
// without caring what comes out.
#pragma once

#include <string>
#include <utility>
#include <vector>

#include "copunctal/design/plate_set.h"

namespace copunctal {

/// Two openers, ten vanishing, four fork and two tritan plates, 32 pixels a side. The first
/// vanishing plate is plate 1, a second opener plate 11.
inline PlateSet sample_set(SymbolFamily family = SymbolFamily::digits) {
  PlateSet set;
  set.seed = 7;
  set.family = family;
  switch (family) {
    case SymbolFamily::digits:
      set.symbols = {"1", "2", "4", "7"};
      break;
    case SymbolFamily::rings:
      set.symbols = {"down", "left", "right", "up"};
      break;
    case SymbolFamily::paths:
      set.symbols = {"gate 1", "gate 2", "gate 3", "gate 4"};
      set.fork_symbols = {"down left", "down right", "up left", "up right"};
      break;
  }
  set.size_px = 32;
  set.hash = std::string(64, 'c');

  const auto add = [&set](PlateKind kind, Aim aim, std::vector<Figure> figures) {
    const auto number = set.plates.size();
    Plate plate;
    plate.name = "sample " + std::string(1, static_cast<char>('a' + number));
    plate.kind = kind;
    plate.aim = aim;
    plate.seed = 100 + number;
    plate.gap = {40, 40, 40};
    plate.codes.push_back({{118, 126, 84}, {134, 142, 98}, {150, 158, 112}});
    for (std::size_t figure = 0; figure < figures.size(); ++figure)
      plate.codes.push_back({{158, 112, 84}, {174, 128, 98}, {190, 144, 112}});
    plate.figures = std::move(figures);
    set.plates.push_back(std::move(plate));
  };
  const auto symbol = [&set](std::size_t i) { return set.symbols[i % set.symbols.size()]; };
  const auto of_fork = [&](std::size_t i) {
    return set.fork_symbols.empty() ? symbol(i) : set.fork_symbols[i % set.fork_symbols.size()];
  };

  add(PlateKind::opener, Aim::none, {{symbol(2), Place::whole}});
  for (std::size_t i = 0; i < 10; ++i)
    add(PlateKind::vanishing,
        i < 6   ? Aim::dichromat
        : i < 8 ? Aim::five_nm
                : Aim::ten_nm,
        {{symbol(i), Place::whole}});
  add(PlateKind::opener, Aim::none, {{symbol(3), Place::whole}});
  for (std::size_t i = 0; i < 4; ++i)
    add(PlateKind::fork, Aim::none,
        {{of_fork(i + 1), Place::upper_left}, {of_fork(i), Place::lower_right}});
  for (std::size_t i = 0; i < 2; ++i)
    add(PlateKind::tritan, Aim::none, {{symbol(i + 1), Place::whole}});
  return set;
}

/// The symbols drawn on a plate of the sample set, ascending.
inline std::vector<std::string> drawn_in_sample(const PlateSet& set, std::size_t plate) {
  std::vector<std::string> drawn;
  for (const std::string& symbol : answer_row(set, set.plates[plate]))
    for (const Figure& figure : set.plates[plate].figures)
      if (figure.symbol == symbol) drawn.push_back(symbol);
  return drawn;
}

}  // namespace copunctal
