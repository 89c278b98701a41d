// Plates and answer sheets as pages of paper, in millimetres.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "copunctal/base/result.h"
#include "copunctal/design/plate_set.h"
#include "copunctal/display/display.h"

namespace copunctal {

/// ISO 216 A4.
inline constexpr double paper_width_mm = 210, paper_height_mm = 297;

/// How a plate's colours come through a printer's profile, by relative colorimetric intent and
/// back.
struct PrinterFit {
  double mean = 0, largest = 0;  ///< CIEDE2000 over the plate's colours.
  int off = 0, colours = 0;      ///< Colours more than 1 away: not reached by the printer.
};
/// Error: bad_input for bytes that are no profile of a printer (ICC output class).
Result<std::vector<PrinterFit>> printer_fits(const PlateSet& set, const Display& display,
                                             std::string_view profile, const std::string& name);

/// Pages as SVG, one plate each at `width_mm` (50 to 180, expects), with its name, a ruler of 100
/// mm to measure, what its kind rests on, and the caution. Without `fits` every page says that
/// printed colours are not characterised; with it, what was found.
std::vector<std::string> plate_pages(const PlateSet& set, const std::vector<const Plate*>& plates,
                                     double width_mm,
                                     const std::optional<std::vector<PrinterFit>>& fits);

/// An answer sheet for paper: the plates by their place in the order shown, 1 to n, with a box for
/// every symbol of the answer row and one for no figure; fork plates two rows of boxes. A
/// pseudonym, no name.
std::vector<std::string> answer_sheet(const PlateSet& set);

}  // namespace copunctal
