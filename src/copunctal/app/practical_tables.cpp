#include "copunctal/app/practical_tables.h"

#include <algorithm>
#include <set>

#include <nlohmann/json.hpp>

#include "copunctal/app/debrief.h"
#include "copunctal/base/csv.h"
#include "copunctal/base/text.h"

namespace copunctal {
namespace {

using Json = nlohmann::ordered_json;

constexpr std::string_view apostrophe =
    "A text that begins with = + - @ or an apostrophe, or with a tab, has one more apostrophe in "
    "front, so that no spreadsheet takes it for a formula; take the first one away to get the text "
    "itself. Numbers are as they are. An empty cell has no value.";

const std::map<std::string, std::string, std::less<>>& descriptions() {
  static const std::map<std::string, std::string, std::less<>> all = {
      {"practicals.practical_id", "Random id of the practical."},
      {"practicals.name", "Name given to the practical."},
      {"practicals.created_utc", "When it was made, ISO 8601, UTC."},
      {"practicals.display", "Display the set was designed for."},
      {"practicals.set_hash", "SHA-256 of the set of plates."},
      {"practicals.plates", "Number of plates in the set."},
      {"practicals.exposure_ms", "How long a plate is shown, ms."},
      {"practicals.grace_ms", "How long an answer is waited for after that, ms."},
      {"practicals.state", "preparing, open or closed."},
      {"practicals.loans", "Observers that may be lent, a JSON list."},
      {"practicals.card", "The prediction card, JSON; never changed once it is there."},
      {"practicals.card_sha256", "SHA-256 of the card."},
      {"practicals.opened_utc", "When it was opened, ISO 8601, UTC."},
      {"practicals.closed_utc", "When it was closed, ISO 8601, UTC."},
      {"practicals.course", "Course it belongs to; empty for none."},
      {"practicals.course_group", "Group of the course; empty for none."},
      {"practicals.lateness",
       "What becomes of late, hesitating and corrected answers: ignore, note or miss."},
      {"practicals.again", "1: some plates come again at the end; 0: none does."},
      {"practicals.keep_until", "Last day on which it is kept, ISO 8601; empty: without end."},
      {"sittings.sitting_id", "Random id of the sitting."},
      {"sittings.practical_id", "The practical it belongs to."},
      {"sittings.tell",
       "Whether the person wants to hear what the answers say: tell, dont_tell, later."},
      {"sittings.sex_at_birth", "female or male, where given; for the prior alone."},
      {"sittings.order_seed", "Seed of the order of plates, 16 hexadecimal digits."},
      {"sittings.state", "running or ended."},
      {"sittings.consented_utc", "When the person consented, ISO 8601, UTC."},
      {"sittings.created_utc", "When the sitting began, ISO 8601, UTC."},
      {"sittings.ended_utc", "When it ended, ISO 8601, UTC."},
      {"sittings.pseudonym", "Words for the room; no name."},
      {"sittings.loan", "The observer whose eyes were lent by lot, or own; empty without a lot."},
      {"sittings.consent_text", "Number of the text that was consented to."},
      {"sittings.for_class", "1: consented to counting in what the class sees; 0: did not."},
      {"sittings.for_research", "1: consented to research; 0: did not."},
      {"sittings.way", "self: the person answered; examined: somebody else entered the readings."},
      {"sittings.eye", "both, or the eye that was not covered: right or left."},
      {"sittings.person", "Random id that the sittings of one person's eyes have in common."},
      {"sittings.collect_sha256", "SHA-256 of the code to collect the outcome with."},
      {"sittings.set_hash",
       "SHA-256 of the same plates for another display; empty: the practical's own set."},
      {"sittings.display", "The display those plates were made for; empty: the practical's own."},
      {"items.sitting_id", "The sitting."},
      {"items.item", "Place in the order of showing, from 0."},
      {"items.round", "warm-up, first, which-kind, blue-yellow or again."},
      {"items.plate", "Index of the plate in the set, from 0."},
      {"items.plate_id", "Random name under which the page asked for the plate."},
      {"items.repeats", "The item whose reading was void; empty for all others."},
      {"answers.answer_id", "Random id made in the browser."},
      {"answers.sitting_id", "The sitting."},
      {"answers.item", "The item answered."},
      {"answers.symbols", "What was read, a JSON list; empty list: no figure."},
      {"answers.end", "answered, late, expired (no answer in time) or interrupted (void)."},
      {"answers.onset_ms", "When the plate appeared, the browser's clock, ms."},
      {"answers.response_ms", "When the answer was given, the browser's clock, ms."},
      {"answers.shown_ms", "How long the plate was shown, ms."},
      {"answers.frames", "Frames it was shown for."},
      {"answers.hidden", "1: the page was hidden meanwhile; 0: it was not."},
      {"answers.page_load", "Random id of the loading of the page."},
      {"answers.body_sha256", "SHA-256 of the answer as it was sent."},
      {"answers.received_utc", "When it came, the server's clock, ISO 8601, UTC."},
      {"answers.received_steady_ns", "The same on the server's steady clock, ns."},
      {"answers.hesitated", "1: an examiner noted hesitation; 0: none."},
      {"answers.first_symbols", "What was said before it was corrected, a JSON list; or empty."},
      {"answers.dropped", "Frames the screen skipped while the plate stood."},
      {"refused_answers.dropped", "As in answers."},
      {"strokes.sitting_id", "The sitting."},
      {"strokes.item", "The item whose path was drawn."},
      {"strokes.stroke", "Number of the stroke, from 0."},
      {"strokes.points",
       "JSON list of points: x and y from 0 to 1 of the picture, ms since the plate appeared."},
      {"voids.sitting_id", "The sitting."},
      {"voids.item", "The item whose reading is void."},
      {"voids.reason", "interrupted, not looking, wrong entry or other."},
      {"voids.voided_utc", "When it was declared so, ISO 8601, UTC."},
      {"sign_offs.sitting_id", "The sitting."},
      {"sign_offs.done", "Points of good technique that were seen, a JSON list."},
      {"sign_offs.examiner", "Who examined, as written down."},
      {"sign_offs.supervisor", "Who signed."},
      {"sign_offs.remark", "What was remarked."},
      {"sign_offs.signed_utc", "When it was signed, ISO 8601, UTC."},
      {"participations.practical_id", "The practical."},
      {"participations.entry", "Who took part, as entered by that person; leads to no answer."},
      {"sheet_ratings.rater", "Random id of the device that judged."},
      {"sheet_ratings.sitting_id", "The sitting whose sheet was judged."},
      {"sheet_ratings.rating", "From 1, surely normal, to 5, surely not."},
      {"sheet_ratings.kind", "Kind that was named: normal, protan, deutan or tritan."},
      {"refused_answers.hesitated", "As in answers."},
      {"refused_answers.first_symbols", "As in answers."},
      {"refused_answers.answer_id", "Random id made in the browser."},
      {"refused_answers.sitting_id", "The sitting."},
      {"refused_answers.item", "The item meant."},
      {"refused_answers.reason", "Why it does not count: conflict or late."},
      {"refused_answers.symbols", "What was read, a JSON list."},
      {"refused_answers.end", "As in answers."},
      {"refused_answers.onset_ms", "As in answers, ms."},
      {"refused_answers.response_ms", "As in answers, ms."},
      {"refused_answers.shown_ms", "As in answers, ms."},
      {"refused_answers.frames", "As in answers."},
      {"refused_answers.hidden", "As in answers."},
      {"refused_answers.page_load", "As in answers."},
      {"refused_answers.body_sha256", "As in answers."},
      {"refused_answers.received_utc", "As in answers."},
      {"refused_answers.received_steady_ns", "As in answers, ns."},
  };
  return all;
}

using Row = std::vector<std::optional<std::string>>;

const KeptTable* table_in(const std::vector<KeptTable>& tables, std::string_view name) {
  const auto at = std::find_if(tables.begin(), tables.end(),
                               [&](const KeptTable& table) { return table.name == name; });
  return at == tables.end() ? nullptr : &*at;
}

std::string cell(const KeptTable& table, const Row& row, std::string_view column) {
  for (std::size_t i = 0; i < table.columns.size(); ++i)
    if (table.columns[i].name == column) return row[i].value_or("");
  return {};
}

std::string csv_cell(const KeptTable::Column& column, const std::optional<std::string>& value) {
  if (!value) return {};
  return column.type == "string" ? csv_spreadsheet_field(*value) : *value;
}

std::string csv_of(const KeptTable& table) {
  std::string text;
  for (const KeptTable::Column& column : table.columns)
    text += (text.empty() ? "" : ",") + csv_field(column.name);
  text += "\r\n";
  for (const Row& row : table.rows) {
    for (std::size_t i = 0; i < row.size(); ++i)
      text += (i == 0 ? "" : ",") + csv_cell(table.columns[i], row[i]);
    text += "\r\n";
  }
  return text;
}

/// A plate's column in wide.csv.
struct PlateColumn {
  std::string name, label;
};

std::vector<PlateColumn> plate_columns(const std::vector<KeptTable>& tables,
                                       const std::optional<PlateSet>& set) {
  std::vector<PlateColumn> columns;
  const KeptTable* practicals = table_in(tables, "practicals");
  const auto plates = practicals == nullptr || practicals->rows.empty()
                          ? std::nullopt
                          : whole_number_from(cell(*practicals, practicals->rows[0], "plates"));
  for (std::size_t i = 0; i < plates.value_or(0); ++i) {
    const std::string number = "plate " + std::to_string(i + 1);
    if (!set || i >= set->plates.size()) {
      columns.push_back({number, "Reading of " + number + " of the set."});
      continue;
    }
    const Plate& plate = set->plates[i];
    std::vector<std::string> drawn;
    for (const Figure& figure : plate.figures) drawn.push_back(figure.symbol);
    columns.push_back({plate.name, "Reading of " + number + " of the set, " +
                                       std::string(name_of(plate.kind)) + ", drawn " +
                                       joined(drawn, " and ") + "."});
  }
  return columns;
}

// "4", "4+7", "none"; "out of time" and "interrupted" where no answer came; empty: not shown.
std::string reading_in(const KeptTable& answers, const Row& row) {
  const std::string end = cell(answers, row, "end");
  if (end == "expired") return "out of time";
  if (end == "interrupted") return "interrupted";
  const Json symbols = Json::parse(cell(answers, row, "symbols"), nullptr, false);
  std::vector<std::string> read;
  if (symbols.is_array())
    for (const Json& symbol : symbols)
      if (symbol.is_string()) read.push_back(symbol);
  return read.empty() ? "none" : joined(read, "+");
}

std::string wide_csv(const std::vector<KeptTable>& tables, const std::vector<PlateColumn>& plates) {
  const KeptTable* sittings = table_in(tables, "sittings");
  const KeptTable* items = table_in(tables, "items");
  const KeptTable* answers = table_in(tables, "answers");
  if (sittings == nullptr || items == nullptr || answers == nullptr) return {};
  using Place = std::pair<std::string, std::string>;
  std::map<Place, std::string> plate_of, reading_of;
  std::set<Place> is_void;
  if (const KeptTable* voids = table_in(tables, "voids"))
    for (const Row& row : voids->rows)
      is_void.emplace(cell(*voids, row, "sitting_id"), cell(*voids, row, "item"));
  // A plate that comes again is in items and answers alone: here its first reading stands.
  for (const Row& row : items->rows)
    if (cell(*items, row, "round") != "again")
      plate_of[{cell(*items, row, "sitting_id"), cell(*items, row, "item")}] =
          cell(*items, row, "plate");
  for (const Row& row : answers->rows) {
    const Place place{cell(*answers, row, "sitting_id"), cell(*answers, row, "item")};
    if (!plate_of.contains(place)) continue;
    std::string& reading = reading_of[{place.first, plate_of[place]}];
    if (!is_void.contains(place))
      reading = reading_in(*answers, row);
    else if (reading.empty())
      reading = "void";
  }
  std::string text;
  for (const KeptTable::Column& column : sittings->columns) text += csv_field(column.name) + ",";
  for (std::size_t i = 0; i < plates.size(); ++i)
    text += (i == 0 ? "" : ",") + csv_spreadsheet_field(plates[i].name);
  text += "\r\n";
  for (const Row& row : sittings->rows) {
    for (std::size_t i = 0; i < row.size(); ++i)
      text += csv_cell(sittings->columns[i], row[i]) + ",";
    for (std::size_t i = 0; i < plates.size(); ++i)
      text += (i == 0 ? "" : ",") +
              csv_spreadsheet_field(
                  reading_of[{cell(*sittings, row, "sitting_id"), std::to_string(i)}]);
    text += "\r\n";
  }
  return text;
}

Json fields_of(const KeptTable& table) {
  Json fields = Json::array();
  for (const KeptTable::Column& column : table.columns) {
    Json field = {{"name", column.name}, {"type", column.type}};
    field["description"] = description_of(table.name, column.name).value_or(column.name);
    if (column.is_required) field["constraints"] = {{"required", true}};
    fields.push_back(std::move(field));
  }
  return fields;
}

Json resource(const std::string& name, Json fields) {
  return {{"name", name},
          {"path", name + ".csv"},
          {"profile", "tabular-data-resource"},
          {"format", "csv"},
          {"mediatype", "text/csv"},
          {"encoding", "utf-8"},
          {"schema", {{"fields", std::move(fields)}, {"missingValues", {""}}}}};
}

std::vector<std::string> key_of(const KeptTable& table) {
  std::vector<std::string> key;
  for (const KeptTable::Column& column : table.columns)
    if (column.is_key) key.push_back(column.name);
  return key;
}

std::string dictionary_of(const std::vector<KeptTable>& tables,
                          const std::vector<PlateColumn>& plates) {
  Json resources = Json::array();
  for (const KeptTable& table : tables) {
    Json one = resource(table.name, fields_of(table));
    one["schema"]["primaryKey"] = key_of(table);
    for (const KeptTable::Reference& reference : table.references)
      if (const KeptTable* to = table_in(tables, reference.table))
        one["schema"]["foreignKeys"].push_back(
            {{"fields", reference.columns},
             {"reference",
              {{"resource", reference.table},
               {"fields", reference.to_columns.empty() ? key_of(*to) : reference.to_columns}}}});
    resources.push_back(std::move(one));
  }
  if (const KeptTable* sittings = table_in(tables, "sittings")) {
    Json fields = fields_of(*sittings);
    for (const PlateColumn& plate : plates)
      fields.push_back(
          {{"name", plate.name},
           {"type", "string"},
           {"title", plate.label},
           {"description",
            "The symbol read, two joined by +; none: no figure; out of time: no answer came; "
            "interrupted or void: says nothing; empty: not shown or not answered."}});
    Json wide = resource("wide", std::move(fields));
    wide["description"] = "A row a sitting, a column a plate; the same readings as in answers.";
    wide["schema"]["primaryKey"] = {"sitting_id"};
    resources.push_back(std::move(wide));
  }
  return Json{{"profile", "tabular-data-package"},
              {"name", "practical"},
              {"title", "One practical with plates, as tables"},
              {"description", std::string(intended_use()) + " " + std::string(whom_to_see()) + " " +
                                  std::string(apostrophe)},
              {"resources", resources}}
             .dump(1) +
         "\n";
}

}  // namespace

std::optional<std::string> description_of(std::string_view table, std::string_view column) {
  const auto at = descriptions().find(std::string(table) + "." + std::string(column));
  if (at == descriptions().end()) return std::nullopt;
  return at->second;
}

std::map<std::string, std::string> csv_files_of(const std::vector<KeptTable>& tables,
                                                const std::optional<PlateSet>& set) {
  const std::vector<PlateColumn> plates = plate_columns(tables, set);
  std::map<std::string, std::string> files;
  for (const KeptTable& table : tables) files[table.name + ".csv"] = csv_of(table);
  files["wide.csv"] = wide_csv(tables, plates);
  files["datapackage.json"] = dictionary_of(tables, plates);
  return files;
}

std::optional<PlateSet> set_of_hash(const std::filesystem::path& data, std::string_view hash) {
  std::error_code error;
  for (const auto& entry : std::filesystem::directory_iterator(data / "sets", error))
    if (auto set = load_set(entry.path()); set && set->hash == hash) return *std::move(set);
  return std::nullopt;
}

}  // namespace copunctal
