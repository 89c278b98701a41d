#include "copunctal/app/paper_desk.h"

#include <utility>

#include "copunctal/app/paper_process.h"
#include "copunctal/app/print_plates.h"
#include "copunctal/app/score_answers.h"

namespace copunctal {

PaperDesk::PaperDesk(const PlateWorkshop& workshop, TablesBuilder build_tables)
    : workshop_(workshop), build_tables_(std::move(build_tables)) {}

Result<std::vector<PaperRow>> PaperDesk::rows(std::string_view name) const {
  COPUNCTAL_TRY(const PlateSet set, workshop_.set_named(name));
  std::vector<PaperRow> all;
  all.reserve(set.plates.size());
  for (const Plate& plate : set.plates)
    all.push_back({plate.name, std::string(name_of(plate.kind)), answer_row(set, plate),
                   static_cast<int>(plate.figures.size())});
  return all;
}

Result<std::string> PaperDesk::answer_sheet_pdf(std::string_view name) const {
  COPUNCTAL_TRY(const PlateSet set, workshop_.set_named(name));
  return printed(PaperKind::pdf, answer_sheet(set));
}

Result<std::string> PaperDesk::table(std::string_view name) const {
  COPUNCTAL_TRY(const PlateSet set, workshop_.set_named(name));
  return answer_table_template(set);
}

Result<std::string> PaperDesk::scores(std::string_view name, std::string_view csv) {
  COPUNCTAL_TRY(const PlateSet set, workshop_.set_named(name));
  COPUNCTAL_TRY(auto sheets, answer_sheets_from(set, csv, "answers"));
  COPUNCTAL_TRY(const auto tables, tables_of(set));
  return scores_json(set, score_answers(set, *tables, std::move(sheets)));
}

Result<std::shared_ptr<const ReadingTables>> PaperDesk::tables_of(const PlateSet& set) {
  const std::scoped_lock hold(building_);
  if (built_for_ != set.hash) {
    COPUNCTAL_TRY(built_, build_tables_(set));
    built_for_ = set.hash;
  }
  return built_;
}

}  // namespace copunctal
