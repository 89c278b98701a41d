// A finished plate on loan: other codes, on which normals answer as the lent observer would.
#pragma once

#include <vector>

#include "copunctal/base/result.h"
#include "copunctal/reader/predict.h"
#include "copunctal/view/loan.h"

namespace copunctal {

/// An observer to lend on a display: the map of colours, and 400 fresh individuals of it and as
/// many normal viewers with the same bodies and sensitivities.
struct Lent {
  std::string observer;
  Loan loan;
  std::vector<Eye> eyes, viewers;
};
/// Errors: usage for an unknown observer, unsupported for a monochromat.
Result<Lent> lent_observer(const std::string& observer, const Display& display,
                           unsigned threads = 0);

/// How far mean answers may differ.
inline constexpr double loan_allowance = 0.05;

/// A plate's codes on loan, the gain (view/loan.h) that makes the mean answers agree best, and by
/// how much they still differ: the largest difference of P(an answer) over those individuals.
struct LentCodes {
  std::vector<std::vector<Code>> codes;
  double gain = 1, error = 1;
};

/// `colours` are the plate's before rounding, as colours_of() orders them; `itself` is a reader of
/// the plate on its display. Error: unsupported, with the number, where the display cannot show the
/// loan or the answers differ by more than loan_allowance.
Result<LentCodes> lend(const Plate& plate, const std::vector<LinearRgb>& colours,
                       const PlateReader& itself, const Lent& lent, const CodeLight& light);

/// A reader that looks at these codes as a display of this light shows them.
PlateReader looking_at(PlateReader reader, const std::vector<std::vector<Code>>& codes,
                       const CodeLight& light);

}  // namespace copunctal
