// Finds a plate's colours: visible to those who should read it, invisible to those who should not.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "copunctal/base/result.h"
#include "copunctal/colour/tone_curve.h"
#include "copunctal/design/colouring.h"
#include "copunctal/reader/reader.h"

namespace copunctal {

/// Eyes of one class of observers in front of one display, for designing.
struct EyeClass {
  std::string observer;
  std::vector<Eye> eyes;
  std::size_t display = 0;  ///< Index into DesignTask::lights.
};

/// What a design wants of one class: figure f to be read, or not.
struct Wish {
  const EyeClass* observers = nullptr;
  std::size_t figure = 0;
  bool read = true;
};

/// A design task: a prepared reader (one slot per figure), what is wanted, where to start.
struct DesignTask {
  const PlateReader* reader = nullptr;
  std::vector<std::size_t> drawn;  ///< Symbol index per figure.
  std::vector<Wish> wishes;
  /// What codes become on each display the design must survive; the first is the one it is for.
  const std::vector<CodeLight>* lights = nullptr;
  std::vector<Recipe> starts;  ///< On the observers' own confusion lines.
  bool free_ground = true;     ///< Whether the ground's hue may move.
};

/// A finished design and how well it does on the design sample.
struct Design {
  Recipe recipe;
  std::vector<std::vector<Code>> codes;
  double worst_margin =
      0;  ///< SD: least 5th-percentile margin over the wishes; above 0 all are met.
};

/// Nelder-Mead from every start over ground hue and figure differences, maximising the softmin of
/// 4 tanh(margin / 4), margin the 5th percentile over each class's eyes, evaluated at the 8-bit
/// codes; colours outside the display are penalised. Deterministic. Error: unsupported when no
/// start leads to colours the display can show.
Result<Design> optimise(const DesignTask& task, const Eye& nominal);

/// 5th-percentile margin of one wish at the reader's present colours.
double margin_of(const PlateReader& reader, const Wish& wish,
                 const std::vector<std::size_t>& drawn);

}  // namespace copunctal
