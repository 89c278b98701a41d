// `score`: answers of paper sheets.
#include <memory>

#include "copunctal/app/score_answers.h"
#include "copunctal/base/files.h"
#include "copunctal/cli/commands.h"
#include "copunctal/cli/output.h"
#include "copunctal/design/plate_set.h"

namespace copunctal {
namespace {

Result<void> score(const ScoreOptions& options) {
  COPUNCTAL_TRY(const PlateSet set, load_set(options.set));
  if (options.is_template) {
    if (!options.answers.empty())
      return fail(Error::Kind::usage, "--template reads no answers", "answers", options.answers,
                  "leave out " + options.answers + ", or --template");
    print(answer_table_template(set));
    return {};
  }
  if (options.answers.empty())
    return fail(Error::Kind::usage, "no answers are named", "answers", "",
                "name a CSV file; copunctal score --template --set " + options.set +
                    " writes an empty one");
  COPUNCTAL_TRY(const std::string csv, read_file(options.answers));
  COPUNCTAL_TRY(auto sheets, answer_sheets_from(set, csv, options.answers));
  COPUNCTAL_TRY(const auto tables, build_reading_tables(set));
  const auto scores = score_answers(set, *tables, std::move(sheets));
  print(options.json ? scores_json(set, scores) : scores_text(set, scores));
  return {};
}

}  // namespace

int score_command(const ScoreOptions& options) {
  if (const auto scored = score(options); !scored) return failed(scored.error());
  return 0;
}

}  // namespace copunctal
