// A set as text a person can review: recipes, codes and the predicted table, a plate a paragraph.
#pragma once

#include <string>

#include "copunctal/base/text.h"
#include "copunctal/design/plate_set.h"
#include "copunctal/display/display.h"
#include "copunctal/reader/predict.h"

namespace copunctal {

inline std::string code_text(const Code& code) {
  return std::to_string(code[0]) + "," + std::to_string(code[1]) + "," + std::to_string(code[2]);
}

/// Codes exact; predictions of 40 fresh observers a kind, to two decimals.
inline std::string summary_of(const PlateSet& set) {
  std::string text = "display " + set.display + ", seed " + std::to_string(set.seed) +
                     ", symbols " + joined(set.symbols, " ") + "\n";
  const Display display = *display_from(set.display);
  for (const Plate& plate : set.plates) {
    text += "\n" + plate.name + ": " + std::string(name_of(plate.kind)) + " " +
            std::string(name_of(plate.aim)) + ", seed " + std::to_string(plate.seed) + "\n";
    for (const Figure& figure : plate.figures)
      text += "  figure " + figure.symbol + " " + std::string(name_of(figure.place)) + "\n";
    for (std::size_t part = 0; part < plate.codes.size(); ++part) {
      text += part == 0 ? "  ground" : "  part " + std::to_string(part);
      for (const Code& code : plate.codes[part]) text += "  " + code_text(code);
      text += "\n";
    }
    const PlateReader reader = PlateReader::of(plate, set.symbols);
    std::vector<std::size_t> drawn;
    for (const Figure& figure : plate.figures) drawn.push_back(reader.index_of(figure.symbol));
    text += "  read by";
    for (const std::string& name : standard_observers()) {
      const PredictedReading p =
          predicted_reading(reader, drawn, fresh_eyes(*observer_from(name), display, 40));
      text += "  " + name + " " + decimals(p.intended, 2);
      if (drawn.size() == 2) text += "/" + decimals(p.second, 2);
    }
    text += "\n";
  }
  return text;
}

}  // namespace copunctal
