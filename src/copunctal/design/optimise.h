// Finds a plate's colours: visible to those who should read it, invisible to those who should not.
#pragma once

#include <cstdint>
#include <stop_token>
#include <string>
#include <vector>

#include "copunctal/base/result.h"
#include "copunctal/colour/tone_curve.h"
#include "copunctal/design/colouring.h"
#include "copunctal/reader/reader.h"
#include "copunctal/view/loan.h"

namespace copunctal {

/// Eyes of one class of observers in front of one display, for designing.
struct EyeClass {
  std::string observer;
  std::vector<Eye> eyes;
  std::size_t display = 0;  ///< Index into DesignTask::lights.
};

/// What a design wants of one class for a figure: to be read; not to be read; or to be clearer than
/// the plate's other figure: by 3 ln(ratio of their evidence) SD, never above what the figure
/// stands above the need.
enum class Want { read, not_read, clearer };
struct Wish {
  const EyeClass* observers = nullptr;
  std::size_t figure = 0;
  Want want = Want::read;
  double spare = 0;  ///< SD the margin is to have beyond 0.
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
  /// Whether a figure's luminance may differ from the ground's, figure by figure; all may if empty.
  std::vector<bool> free_luminance;
  /// Balance up to which the recipe's rungs (rung_of()) must lie within the display's range.
  double headroom = 0;
  /// On loan: what is shown in the end is this of the colours, which must lie within the display's
  /// range as well. May be null.
  const Loan* loan = nullptr;
  std::uint64_t seed = 0;  ///< Of the search.
  std::stop_token stop;
};

/// Thrown by optimise() when its task is to stop.
struct Stopped {};

/// A finished design and how well it does on the design sample.
struct Design {
  Recipe recipe;
  std::vector<std::vector<Code>> codes;
  double worst_margin =
      0;  ///< SD: least 5th-percentile margin over the wishes; above 0 all are met.
};

/// CMA-ES and then Nelder-Mead from every start, over ground hue, figure differences and colour
/// noise, maximising the softmin of 4 tanh(margin / 4), margin the 5th percentile over each class's
/// eyes, evaluated at the 8-bit codes; colours outside the display are penalised. Deterministic.
/// Error: unsupported when no start leads to colours the display can show.
Result<Design> optimise(const DesignTask& task, const Eye& nominal);

/// Colours as they are shown on loan.
std::vector<LinearRgb> on_loan(const std::vector<LinearRgb>& colours, const Loan& loan,
                               double gain = 1);

/// How far colours leave the display's range, as they are and, unless null, on loan: 0 inside.
double excess_of(const std::vector<LinearRgb>& colours, const Loan* loan);

}  // namespace copunctal
