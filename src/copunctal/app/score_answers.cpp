#include "copunctal/app/score_answers.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <set>
#include <tuple>

#include <nlohmann/json.hpp>

#include "copunctal/base/csv.h"
#include "copunctal/base/text.h"

namespace copunctal {
namespace {

constexpr std::string_view no_figure = "none";
constexpr double longest_seconds = 3600;
const std::vector<std::string> eyes = {"both", "left", "right"};

/// A cell of the table, which can say where it stands.
struct Cell {
  const std::string* file;
  std::size_t line, column;

  tl::unexpected<Error> wrong(const std::string& what, const std::string& remedy) const {
    const std::string place = csv_place(*file, line, column);
    return fail(Error::Kind::bad_input, place + ": " + what, "answers", place, remedy);
  }
};

std::string meant(const std::string& word, const std::vector<std::string>& words) {
  return "did you mean '" + nearest_word(word, words) + "'? There are: " + joined(words, ", ");
}

std::vector<std::string> names_of_plates(const PlateSet& set) {
  std::vector<std::string> names;
  for (const Plate& plate : set.plates) names.push_back(plate.name);
  return names;
}

// By name, or by number as the answer sheet prints it.
Result<std::size_t> plate_in(const PlateSet& set, const std::string& word, const Cell& cell) {
  for (std::size_t i = 0; i < set.plates.size(); ++i)
    if (set.plates[i].name == word) return i;
  if (const auto number = whole_number_from(word)) {
    if (*number >= 1 && *number <= set.plates.size()) return static_cast<std::size_t>(*number - 1);
    return cell.wrong("the set has no plate " + word,
                      "plates are numbered from 1 to " + std::to_string(set.plates.size()));
  }
  return cell.wrong("the set has no plate '" + word + "'", meant(word, names_of_plates(set)));
}

// Symbols in the order of the answer row, which is how a sitting keeps them.
Result<std::vector<std::string>> symbols_in(const PlateSet& set, const Plate& plate,
                                            const std::string& reading, const Cell& cell) {
  if (reading == no_figure) return std::vector<std::string>{};
  const std::vector<std::string>& row = answer_row(set, plate);
  std::set<std::string> read;
  for (const std::string_view part : split(reading, '+')) {
    const std::string symbol(trimmed(part));
    if (std::find(row.begin(), row.end(), symbol) == row.end()) {
      std::vector<std::string> known = row;
      known.emplace_back(no_figure);
      return cell.wrong("'" + symbol + "' is not in the answer row of plate " + plate.name,
                        meant(symbol, known));
    }
    if (!read.insert(symbol).second)
      return cell.wrong("the reading names '" + symbol + "' twice", "name each symbol once");
  }
  if (read.size() > plate.figures.size())
    return cell.wrong("plate " + plate.name + " takes " + std::to_string(plate.figures.size()) +
                          " symbol" + (plate.figures.size() == 1 ? "" : "s") + " at most, not " +
                          std::to_string(read.size()),
                      "give the symbol that was ticked; where several were, leave the cell empty");
  std::vector<std::string> symbols;
  for (const std::string& symbol : row)
    if (read.contains(symbol)) symbols.push_back(symbol);
  return symbols;
}

/// Answers gathered by person and eye, in the order they are first named.
class Sheets {
 public:
  Sheets(const PlateSet& set, const std::string& file) : set_(set), file_(file) {}

  Cell cell(const CsvRow& row, std::size_t column) const { return {&file_, row.line, column + 1}; }

  Result<AnswerSheet*> sheet_of(const CsvRow& row, std::size_t pseudonym_column,
                                std::optional<std::size_t> eye_column) {
    const std::string pseudonym(trimmed(row.fields[pseudonym_column]));
    if (pseudonym.empty())
      return cell(row, pseudonym_column)
          .wrong("the pseudonym is empty", "give every row the pseudonym on its sheet");
    if (has_control_character(pseudonym))
      return cell(row, pseudonym_column)
          .wrong("the pseudonym holds a control character", "write it on one line");
    const std::string eye(eye_column ? trimmed(row.fields[*eye_column]) : "");
    if (!eye.empty() && std::find(eyes.begin(), eyes.end(), eye) == eyes.end())
      return cell(row, *eye_column).wrong("'" + eye + "' is no eye", meant(eye, eyes));
    const auto [at, is_new] = index_.emplace(std::pair(pseudonym, eye), sheets.size());
    if (is_new) sheets.push_back({.pseudonym = pseudonym, .eye = eye, .readings = {}});
    return &sheets[at->second];
  }

  /// Adds a reading; false where the plate was not shown.
  Result<bool> add(AnswerSheet& sheet, std::size_t plate, const CsvRow& row, std::size_t column) {
    const std::string reading(trimmed(row.fields[column]));
    const Cell here = cell(row, column);
    if (!lines_.emplace(std::tuple(sheet.pseudonym, sheet.eye, plate), row.line).second)
      return here.wrong(
          "a second answer of '" + sheet.pseudonym + "' to plate " + set_.plates[plate].name +
              ", after line " +
              std::to_string(lines_.at(std::tuple(sheet.pseudonym, sheet.eye, plate))),
          "leave one of the two; tell eyes apart with a column 'eye'");
    if (reading.empty()) return false;
    PlateReading one;
    one.plate = plate;
    COPUNCTAL_TRY(one.symbols, symbols_in(set_, set_.plates[plate], reading, here));
    sheet.readings.push_back(std::move(one));
    return true;
  }

  std::vector<AnswerSheet> sheets;

 private:
  const PlateSet& set_;
  const std::string& file_;
  std::map<std::pair<std::string, std::string>, std::size_t> index_;
  std::map<std::tuple<std::string, std::string, std::size_t>, std::size_t> lines_;
};

/// Which column holds what.
struct Columns {
  std::optional<std::size_t> pseudonym, plate, reading, eye, seconds;
  std::vector<std::pair<std::size_t, std::size_t>> plates;  ///< Wide: column and plate.
};

Result<Columns> columns_of(const PlateSet& set, const CsvRow& header, const std::string& file) {
  Columns columns;
  std::set<std::string> seen;
  std::set<std::size_t> plates;
  const bool is_long = std::any_of(header.fields.begin(), header.fields.end(), [](const auto& f) {
    return trimmed(f) == "plate" || trimmed(f) == "reading";
  });
  const std::map<std::string, std::optional<std::size_t>*> known =
      is_long
          ? std::map<std::string, std::optional<std::size_t>*>{{"pseudonym", &columns.pseudonym},
                                                               {"plate", &columns.plate},
                                                               {"reading", &columns.reading},
                                                               {"eye", &columns.eye},
                                                               {"seconds", &columns.seconds}}
          : std::map<std::string, std::optional<std::size_t>*>{{"pseudonym", &columns.pseudonym},
                                                               {"eye", &columns.eye}};
  std::vector<std::string> right;
  for (const auto& [name, at] : known) right.push_back(name);
  if (!is_long)
    for (const Plate& plate : set.plates) right.push_back(plate.name);

  for (std::size_t column = 0; column < header.fields.size(); ++column) {
    const std::string name(trimmed(header.fields[column]));
    const Cell cell{&file, header.line, column + 1};
    if (!seen.insert(name).second)
      return cell.wrong("the column '" + name + "' stands twice", "leave one of the two");
    if (const auto at = known.find(name); at != known.end()) {
      *at->second = column;
      continue;
    }
    if (is_long ||
        (!whole_number_from(name) && std::find(right.begin(), right.end(), name) == right.end()))
      return cell.wrong("no column is called '" + name + "'", meant(name, right));
    COPUNCTAL_TRY(const std::size_t plate, plate_in(set, name, cell));
    if (!plates.insert(plate).second)
      return cell.wrong("plate " + set.plates[plate].name + " has two columns",
                        "leave one of the two");
    columns.plates.emplace_back(column, plate);
  }
  const auto missing = [&](const std::string& name) {
    return Cell{&file, header.line, header.fields.size() + 1}.wrong(
        "the column '" + name + "' is missing",
        "begin with the line pseudonym,plate,reading, or with pseudonym and a column a plate; "
        "copunctal score --template writes it");
  };
  if (!columns.pseudonym) return missing("pseudonym");
  if (is_long && !columns.plate) return missing("plate");
  if (is_long && !columns.reading) return missing("reading");
  if (!is_long && columns.plates.empty()) return missing("reading");
  return columns;
}

Result<double> seconds_in(const std::string& text, const Cell& cell) {
  const auto seconds = number_from(text);
  if (!seconds || !std::isfinite(*seconds) || *seconds < 0 || *seconds > longest_seconds)
    return cell.wrong("'" + text + "' is no time in seconds",
                      "give a number from 0 to 3600 with a decimal point, or leave it empty");
  return *seconds;
}

std::optional<double> median(std::vector<double> values) {
  if (values.empty()) return std::nullopt;
  std::sort(values.begin(), values.end());
  const std::size_t middle = values.size() / 2;
  return values.size() % 2 == 1 ? values[middle] : (values[middle - 1] + values[middle]) / 2;
}

std::string words_of(const PlateReading& reading) {
  return reading.symbols.empty() ? std::string("no figure") : joined(reading.symbols, " and ");
}

std::string who(const AnswerSheet& sheet) {
  return sheet.eye.empty() ? sheet.pseudonym : sheet.pseudonym + " (" + sheet.eye + ")";
}

constexpr std::string_view on_paper =
    "If these plates were printed: printed colours are not characterised, and what was predicted "
    "for the display does not hold on paper.";

std::vector<std::string> assumptions_of(const ScoredSheet& score) {
  std::vector<std::string> all = score.debrief.assumptions;
  all.emplace_back(on_paper);
  return all;
}

}  // namespace

Result<std::vector<AnswerSheet>> answer_sheets_from(const PlateSet& set, std::string_view csv,
                                                    const std::string& name) {
  COPUNCTAL_TRY(const std::vector<CsvRow> rows, csv_from(csv, name));
  if (rows.size() < 2)
    return fail(Error::Kind::bad_input, name + ": there are no answers in it", "answers", name,
                "begin with the line pseudonym,plate,reading and give a line an answer; "
                "copunctal score --template writes an empty table");
  COPUNCTAL_TRY(const Columns columns, columns_of(set, rows.front(), name));
  Sheets all(set, name);
  for (std::size_t i = 1; i < rows.size(); ++i) {
    const CsvRow& row = rows[i];
    COPUNCTAL_TRY(AnswerSheet * sheet, all.sheet_of(row, *columns.pseudonym, columns.eye));
    for (const auto& [column, plate] : columns.plates) {
      COPUNCTAL_TRY(const bool was_shown, all.add(*sheet, plate, row, column));
      static_cast<void>(was_shown);
    }
    if (!columns.plate) continue;
    COPUNCTAL_TRY(const std::size_t plate,
                  plate_in(set, std::string(trimmed(row.fields[*columns.plate])),
                           all.cell(row, *columns.plate)));
    COPUNCTAL_TRY(const bool was_shown, all.add(*sheet, plate, row, *columns.reading));
    if (!columns.seconds) continue;
    const std::string seconds(trimmed(row.fields[*columns.seconds]));
    if (seconds.empty()) continue;
    COPUNCTAL_TRY(const double taken, seconds_in(seconds, all.cell(row, *columns.seconds)));
    if (was_shown) sheet->seconds.push_back(taken);
  }
  return std::move(all.sheets);
}

std::string answer_table_template(const PlateSet& set) {
  std::string line = "pseudonym";
  for (const Plate& plate : set.plates) line += "," + csv_field(plate.name);
  return line + "\n";
}

std::vector<ScoredSheet> score_answers(const PlateSet& set, const ReadingTables& tables,
                                       std::vector<AnswerSheet> sheets) {
  std::vector<ScoredSheet> scores;
  for (AnswerSheet& sheet : sheets) {
    ScoredSheet score{.sheet = std::move(sheet),
                      .debrief = {},
                      .vanishing = {},
                      .blue_yellow = {},
                      .median_seconds = {},
                      .notes = {}};
    score.debrief = debrief(set, tables, score.sheet.readings, std::nullopt);
    score.median_seconds = median(score.sheet.seconds);
    std::size_t openers = 0;
    for (const DebriefPlate& shown : score.debrief.plates) {
      const PlateKind kind = set.plates[shown.reading.plate].kind;
      openers += kind == PlateKind::opener;
      if (kind != PlateKind::vanishing && kind != PlateKind::tritan) continue;
      Misses& misses = kind == PlateKind::vanishing ? score.vanishing : score.blue_yellow;
      ++misses.shown;
      misses.missed += !shown.as_drawn;
    }
    if (openers == 0)
      score.notes.emplace_back(
          "No opener was answered: whether figures could be read at all is not known.");
    if (const std::size_t unshown = set.plates.size() - score.debrief.plates.size(); unshown > 0)
      score.notes.push_back(std::to_string(unshown) + " of " + std::to_string(set.plates.size()) +
                            " plates have no answer and are not weighed.");
    scores.push_back(std::move(score));
  }
  return scores;
}

std::string scores_text(const PlateSet& set, const std::vector<ScoredSheet>& scores) {
  std::string text;
  for (const ScoredSheet& score : scores) {
    text += who(score.sheet) + "\n  " + score.debrief.summary + "\n";
    if (score.debrief.interpretable) {
      std::vector<std::string> best;
      for (const ObserverEvidence& one : score.debrief.evidence)
        if (best.size() < 3) best.push_back(one.observer + " " + decimals(one.relative, 3));
      text += "  Best by likelihood over the best's: " + joined(best, ", ") + "\n";
    }
    text += "  Not read as drawn: " + std::to_string(score.vanishing.missed) + " of " +
            std::to_string(score.vanishing.shown) + " vanishing plates, " +
            std::to_string(score.blue_yellow.missed) + " of " +
            std::to_string(score.blue_yellow.shown) + " blue-yellow plates\n";
    for (const DebriefPlate& plate : score.debrief.plates)
      if (!plate.as_drawn)
        text += "    " + plate.name + " (" + plate.kind + "): read " + words_of(plate.reading) +
                ", drawn " + joined(plate.drawn, " and ") + "\n";
    for (const std::string& note : score.notes) text += "  " + note + "\n";
    text += "\n";
  }
  if (!scores.empty()) {
    text += "Set " + set.hash.substr(0, 12) + ".\n" + scores.front().debrief.prior_text + "\n";
    for (const std::string& assumption : assumptions_of(scores.front())) text += assumption + "\n";
  }
  return text + std::string(intended_use()) + "\n" + std::string(whom_to_see()) + "\n";
}

std::string scores_json(const PlateSet& set, const std::vector<ScoredSheet>& scores) {
  using Json = nlohmann::ordered_json;
  Json people = Json::array();
  for (const ScoredSheet& score : scores) {
    const Debrief& said = score.debrief;
    Json evidence = Json::array(), kinds = Json::array(), plates = Json::array();
    // Of a person who did not read an opener nothing more is said.
    if (said.interpretable) {
      for (const ObserverEvidence& one : said.evidence)
        evidence.push_back({{"observer", one.observer},
                            {"log10_likelihood", one.log10_likelihood},
                            {"relative", one.relative}});
      for (const KindProbability& one : said.kinds)
        kinds.push_back({{"kind", one.kind},
                         {"prior", one.prior},
                         {"evidence_only", one.evidence_only},
                         {"posterior", one.posterior}});
    }
    for (const DebriefPlate& plate : said.plates)
      plates.push_back({{"name", plate.name},
                        {"kind", plate.kind},
                        {"drawn", plate.drawn},
                        {"read", plate.reading.symbols},
                        {"as_drawn", plate.as_drawn}});
    people.push_back(
        {{"pseudonym", score.sheet.pseudonym},
         {"eye", score.sheet.eye.empty() ? Json() : Json(score.sheet.eye)},
         {"interpretable", said.interpretable},
         {"verdict", said.verdict},
         {"summary", said.summary},
         {"evidence", evidence},
         {"kinds", kinds},
         {"misses",
          {{"vanishing", {{"missed", score.vanishing.missed}, {"shown", score.vanishing.shown}}},
           {"blue_yellow",
            {{"missed", score.blue_yellow.missed}, {"shown", score.blue_yellow.shown}}}}},
         {"median_seconds", score.median_seconds ? Json(*score.median_seconds) : Json()},
         {"plates", plates},
         {"notes", score.notes},
         {"caution", said.caution}});
  }
  return Json{{"set_hash", set.hash},
              {"display", set.display},
              {"people", people},
              {"prior", scores.empty() ? std::string() : scores.front().debrief.prior_text},
              {"assumptions",
               scores.empty() ? std::vector<std::string>() : assumptions_of(scores.front())},
              {"intended_use", intended_use()},
              {"whom_to_see", whom_to_see()}}
             .dump(1) +
         "\n";
}

}  // namespace copunctal
