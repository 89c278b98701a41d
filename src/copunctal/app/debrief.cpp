#include "copunctal/app/debrief.h"

#include <algorithm>
#include <cmath>

#include "copunctal/base/expects.h"
#include "copunctal/base/text.h"
#include "copunctal/display/display.h"
#include "copunctal/inference/posterior.h"
#include "copunctal/plate/draw.h"
#include "copunctal/view/view_map.h"

namespace copunctal {
namespace {

std::size_t symbol_index(const std::vector<std::string>& row, const std::string& symbol) {
  const auto at = std::find(row.begin(), row.end(), symbol);
  expects(at != row.end());
  return static_cast<std::size_t>(at - row.begin());
}

// "4", "nothing", "4 and 7": the likeliest reading of each slot.
std::string likeliest(const std::vector<std::string>& row, const std::vector<SlotReading>& slots) {
  std::vector<std::string> read;
  for (const SlotReading& slot : slots) {
    const auto best = std::max_element(slot.reads.begin(), slot.reads.end());
    if (*best > slot.nothing)
      read.push_back(row[static_cast<std::size_t>(best - slot.reads.begin())]);
  }
  std::sort(read.begin(), read.end());
  return read.empty() ? "nothing" : joined(read, " and ");
}

std::vector<std::size_t> named_points(const ReadingTables& tables) {
  std::vector<std::size_t> points;
  for (const std::string& name : standard_observers())
    for (std::size_t i = 0; i < tables.grid().size(); ++i)
      if (tables.grid()[i].name == name) points.push_back(i);
  return points;
}

std::array<double, 4> prior_for(std::optional<SexAtBirth> sex) {
  if (!sex) return kind_prior_mixed();
  return *sex == SexAtBirth::male ? kind_prior_men() : kind_prior_women();
}

std::string percent(double p) {
  if (p > 0.995) return "more than 99 in 100";
  if (p < 0.005) return "fewer than 1 in 100";
  return "about " + decimals(100 * p, 0) + " in 100";
}

std::string prior_in_words(std::optional<SexAtBirth> sex, const std::array<double, 4>& prior) {
  const std::string whom = !sex                       ? "an equal mix of women and men"
                           : *sex == SexAtBirth::male ? "men"
                                                      : "women";
  return "How common each kind is among " + whom + ": normal " + decimals(100 * prior[0], 2) +
         " %, protan " + decimals(100 * prior[1], 2) + " %, deutan " + decimals(100 * prior[2], 2) +
         " %, tritan " + decimals(100 * prior[3], 2) +
         " %. European figures (Birch 2012, J. Opt. Soc. Am. A 29:313), protan to deutan 1 : 3; "
         "other "
         "populations differ. Half of protans and a fifth of deutans are taken as dichromats; the "
         "other separations as even up to 12.5 nm and rarer beyond; that part is an assumption.";
}

std::string summary_of(int verdict, const Posterior& outcome, const std::string& best_observer) {
  if (verdict < 0)
    return "Cannot tell: these readings do not single out one kind of observer. On the readings "
           "alone "
           "they fit " +
           best_observer + " best, but others fit nearly as well or are far more common.";
  const auto kind = static_cast<std::size_t>(verdict);
  const std::string name(name_of(all_red_green_blue_kinds[kind]));
  std::string text = "These readings fit " + (kind == 0 ? std::string("a normal") : "a " + name) +
                     " observer best: " + percent(outcome.evidence_only[kind]) +
                     " on the readings alone, " + percent(outcome.with_prior[kind]) +
                     " once how common each kind is counts too.";
  if (kind == 0)
    text += " Plates like these cannot rule out a slight red–green difference.";
  else
    text += " Plates on a screen that was not measured can suggest a kind, never settle it.";
  return text;
}

}  // namespace

bool read_as_drawn(const Plate& plate, const std::vector<std::string>& symbols) {
  std::vector<std::string> drawn;
  for (const Figure& figure : plate.figures) drawn.push_back(figure.symbol);
  std::sort(drawn.begin(), drawn.end());
  return symbols == drawn;
}

std::string_view intended_use() {
  return "For teaching and demonstration in a supervised practical; not for diagnosis, screening, "
         "employment or fitness decisions.";
}

std::string_view whom_to_see() {
  return "Anybody who wants to know about their own colour vision should see a licensed "
         "practitioner, "
         "such as an optometrist or ophthalmologist, under the local rules; sooner if one eye "
         "differs from "
         "the other or something has changed.";
}

Result<std::shared_ptr<const ReadingTables>> build_reading_tables(const PlateSet& set) {
  COPUNCTAL_TRY(const Display display, display_of_set(set));
  std::vector<std::vector<std::string>> rows;
  for (const Plate& plate : set.plates) rows.push_back(answer_row(set, plate));
  return ReadingTables::build(set.plates, rows, display);
}

Debrief debrief(const PlateSet& set, const ReadingTables& tables,
                const std::vector<PlateReading>& readings, std::optional<SexAtBirth> sex) {
  Debrief result;
  result.caution = std::string(intended_use()) + " " + std::string(whom_to_see());

  std::vector<ScoredReading> scored;
  const std::vector<std::size_t> points = named_points(tables);
  for (const PlateReading& reading : readings) {
    expects(reading.plate < set.plates.size());
    const Plate& plate = set.plates[reading.plate];
    const std::vector<std::string>& row = answer_row(set, plate);
    DebriefPlate shown;
    shown.reading = reading;
    shown.name = plate.name;
    shown.kind = name_of(plate.kind);
    shown.aim = name_of(plate.aim);
    for (const Figure& figure : plate.figures) shown.drawn.push_back(figure.symbol);
    shown.as_drawn = !reading.interrupted && read_as_drawn(plate, reading.symbols);
    for (const std::size_t point : points) {
      const PredictedReading p = tables.prediction(point, reading.plate);
      shown.predictions.push_back(
          {tables.grid()[point].name, likeliest(row, tables.mean_reading(point, reading.plate)),
           p.intended, p.second, p.nothing, p.other, tables.margins(point, reading.plate)});
    }
    if (plate.kind == PlateKind::opener && !reading.interrupted && !shown.as_drawn)
      result.interpretable = false;
    result.plates.push_back(std::move(shown));
    if (reading.interrupted) continue;
    ScoredReading one{reading.plate, {}};
    for (const std::string& symbol : reading.symbols)
      one.answer.push_back(symbol_index(row, symbol));
    std::sort(one.answer.begin(), one.answer.end());
    scored.push_back(std::move(one));
  }

  const std::vector<double> logs = log10_likelihoods(tables, scored);
  double top = logs[points.front()];
  for (const std::size_t point : points) top = std::max(top, logs[point]);
  for (const std::size_t point : points)
    result.evidence.push_back(
        {tables.grid()[point].name, logs[point], std::pow(10, logs[point] - top)});
  std::stable_sort(result.evidence.begin(), result.evidence.end(),
                   [](const auto& a, const auto& b) { return a.relative > b.relative; });

  const std::array<double, 4> prior = prior_for(sex);
  const Posterior outcome = posterior(tables, logs, prior);
  for (std::size_t k = 0; k < 4; ++k)
    result.kinds.push_back({std::string(name_of(all_red_green_blue_kinds[k])), prior[k],
                            outcome.evidence_only[k], outcome.with_prior[k]});
  std::size_t p = 0, d = 0;
  for (const GridPoint& point : tables.grid()) {
    if (point.kind == ObserverKind::protan)
      result.protan_separation.push_back({point.separation_nm, outcome.protan_separation[p++]});
    if (point.kind == ObserverKind::deutan)
      result.deutan_separation.push_back({point.separation_nm, outcome.deutan_separation[d++]});
  }
  result.prior_text = prior_in_words(sex, prior);

  const int verdict = result.interpretable ? verdict_of(outcome) : -1;
  result.verdict =
      verdict < 0
          ? "cannot tell"
          : std::string(name_of(all_red_green_blue_kinds[static_cast<std::size_t>(verdict)]));
  result.summary =
      result.interpretable
          ? summary_of(verdict, outcome, result.evidence.front().observer)
          : "Not interpretable: a plate that every eye can read was not read as drawn. Something "
            "other than colour may have been in the way; nothing is concluded.";
  const auto display = display_of_set(set);
  result.assumptions = {
      "Display " + set.display + " – " + (display ? display->status : std::string("unknown")) + ".",
      std::string("Readings are predicted by one model of discrimination, fitted to ellipses of "
                  "MacAdam 1942; its element noise (K = 6) has not been calibrated on people in "
                  "this room."),
      std::string("Anomalous observers are modelled by their pigments alone, without any "
                  "compensation further on."),
      "Three answers in a hundred are taken as slips.",
      "Plates that were interrupted are not counted."};
  return result;
}

Result<SeenPlate> plate_as_seen_by(const PlateSet& set, std::size_t plate,
                                   const std::string& observer) {
  expects(plate < set.plates.size());
  SeenPlate seen{draw(set.plates[plate], set.size_px, light_of(set)), {}};
  if (observer == "original") return seen;
  COPUNCTAL_TRY(const Observer who, observer_from(observer));
  COPUNCTAL_TRY(const Display display, display_of_set(set));
  COPUNCTAL_TRY(ViewMap map, ViewMap::make(who, display));
  const Picture original = seen.picture.clone();
  map.apply(seen.picture.rgb);
  if (const auto error = audit(original, seen.picture, who, display)) seen.error = *error;
  return seen;
}

}  // namespace copunctal
