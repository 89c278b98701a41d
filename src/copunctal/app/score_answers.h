// Answers from paper sheets, or from elsewhere, scored as a sitting is.
//
// A table of answers comes in whole or not at all. Each person's readings (each eye's, where eyes
// are told apart) are weighed by the same debrief() a sitting ends with: same observers, same
// limits, same words.
#pragma once

#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "copunctal/app/debrief.h"
#include "copunctal/base/result.h"
#include "copunctal/design/plate_set.h"

namespace copunctal {

/// One person's answers, or one eye's, in the order of the table.
struct AnswerSheet {
  std::string pseudonym;
  std::string eye = {};  ///< "both", "left", "right"; empty when the table does not say.
  std::vector<PlateReading> readings;
  std::vector<double> seconds = {};  ///< Of the answers that have a time.
};

/// Reads a table of answers to the set. Long form: columns `pseudonym`, `plate`, `reading` and, if
/// there, `eye` and `seconds`, a row an answer. Wide form: `pseudonym`, `eye` if there, and a
/// column a plate, a row a person. A plate is its name or its number on the answer sheet; a reading
/// the symbol as the sheet prints it, two joined by `+`, `none` for no figure, empty for a plate
/// that was not shown. `name` stands in messages. Errors: bad_input with row, column and the
/// nearest right name.
Result<std::vector<AnswerSheet>> answer_sheets_from(const PlateSet& set, std::string_view csv,
                                                    const std::string& name);

/// The empty table of the wide form.
std::string answer_table_template(const PlateSet& set);

/// Counted plates that were not read as drawn.
struct Misses {
  std::size_t missed = 0, shown = 0;
};

struct ScoredSheet {
  AnswerSheet sheet;
  Debrief debrief;
  Misses vanishing, blue_yellow;
  std::optional<double> median_seconds;
  std::vector<std::string> notes;  ///< What the table lacks, in words.
};

std::vector<ScoredSheet> score_answers(const PlateSet& set, const ReadingTables& tables,
                                       std::vector<AnswerSheet> sheets);

/// For people, and as JSON (docs/commands.md). Both carry the intended use.
std::string scores_text(const PlateSet& set, const std::vector<ScoredSheet>& scores);
std::string scores_json(const PlateSet& set, const std::vector<ScoredSheet>& scores);

}  // namespace copunctal
