// Paper in the practical: the answer sheet to print, and what was ticked on it, scored.
#pragma once

#include <memory>
#include <mutex>
#include <string>
#include <string_view>
#include <vector>

#include "copunctal/app/plate_workshop.h"
#include "copunctal/app/shown_set.h"
#include "copunctal/base/result.h"

namespace copunctal {

/// A plate as its row on the answer sheet.
struct PaperRow {
  std::string name, kind;
  std::vector<std::string> symbols;  ///< What can be ticked, in the sheet's order.
  int figures = 1;                   ///< How many rows of boxes it has.
};

/// May be used from any number of threads. Nothing that is scored is kept. Error common to all:
/// not_found for a set that is not on the shelf.
class PaperDesk {
 public:
  /// `workshop` must outlive the desk.
  explicit PaperDesk(const PlateWorkshop& workshop, TablesBuilder build_tables);

  /// In the order of the answer sheet.
  Result<std::vector<PaperRow>> rows(std::string_view set) const;
  /// A PDF. Error: io, as print_pages().
  Result<std::string> answer_sheet_pdf(std::string_view set) const;
  /// The empty table, as answer_sheets_from() reads it.
  Result<std::string> table(std::string_view set) const;
  /// The JSON of scores_json(). Errors: bad_input with row and column, for tables that cannot be
  /// read and sets that cannot be predicted; then nothing is scored.
  Result<std::string> scores(std::string_view set, std::string_view csv);

 private:
  Result<std::shared_ptr<const ReadingTables>> tables_of(const PlateSet& set);

  const PlateWorkshop& workshop_;
  const TablesBuilder build_tables_;
  std::mutex building_;  // one set at a time: more would only be slower
  std::string built_for_;
  std::shared_ptr<const ReadingTables> built_;
};

}  // namespace copunctal
