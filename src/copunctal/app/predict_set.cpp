#include "copunctal/app/predict_set.h"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "copunctal/app/debrief.h"
#include "copunctal/base/expects.h"
#include "copunctal/base/parallel.h"
#include "copunctal/base/text.h"
#include "copunctal/display/display.h"

namespace copunctal {
namespace {

using Json = nlohmann::ordered_json;

// Probabilities are known to some three digits; more would only look precise.
double rounded(double p) {
  return std::round(p * 1e5) / 1e5;
}

// d' to a tenth of its standard deviation or better.
double rounded_d(double d) {
  return std::round(d * 100) / 100;
}

std::string words_of(const std::vector<std::string>& sentences) {
  return sentences.empty() ? "none" : joined(sentences, "; ");
}

Json judge_json(const PlateJudgement& judgement) {
  Json figures = Json::array();
  for (std::size_t f = 0; f < judgement.figures.size(); ++f) {
    Json observers = Json::object();
    for (const SecondOpinion& opinion : judgement.figures[f])
      observers[opinion.observer] = {{"verdict", name_of(opinion.judge.verdict)},
                                     {"d_prime", rounded_d(opinion.judge.together)},
                                     {"red_green", rounded_d(opinion.judge.red_green)},
                                     {"yellow_violet", rounded_d(opinion.judge.yellow_violet)},
                                     {"luminance", rounded_d(opinion.judge.luminance)},
                                     {"criterion", rounded_d(opinion.judge.criterion)},
                                     {"reader", rounded(opinion.reader)},
                                     {"meant", name_of(opinion.meant)},
                                     {"worse", name_of(opinion.worse)}};
    figures.push_back({{"symbol", judgement.symbols[f]}, {"observers", std::move(observers)}});
  }
  return {{"worse", name_of(judgement.worse)},
          {"disagreements", words_of(judgement.disagreements())},
          {"figures", std::move(figures)}};
}

// Two lines a plate: the judge's verdicts with d', then the worse of the two.
std::string judge_text(const PlatePredictions& plate) {
  std::string verdicts;
  for (std::size_t f = 0; f < plate.judge.figures.size(); ++f) {
    verdicts += f == 0 ? "" : "; ";
    if (plate.fork) verdicts += f == 0 ? "first: " : "second: ";
    std::vector<std::string> words;
    for (const SecondOpinion& opinion : plate.judge.figures[f])
      words.push_back(fmt::format("{} {} {:.1f}", opinion.observer, name_of(opinion.judge.verdict),
                                  opinion.judge.together));
    verdicts += joined(words, ", ");
  }
  return fmt::format("{:<28}{}\n{:<28}the worse of the two: {}; disagreements: {}\n", plate.name,
                     verdicts, "", name_of(plate.judge.worse),
                     words_of(plate.judge.disagreements()));
}

}  // namespace

Result<SetPredictions> predict_set(const PlateSet& set, std::size_t population,
                                   const std::optional<Display>& elsewhere) {
  return predict_set(set, PredictOptions{.population = population, .elsewhere = elsewhere});
}

Result<SetPredictions> predict_set(const PlateSet& set, const PredictOptions& options) {
  const auto& [population, elsewhere, sittings, ranges] = options;
  COPUNCTAL_TRY(const Display display,
                elsewhere ? Result<Display>(*elsewhere) : display_of_set(set));
  const JudgeScreen screen = judge_screen_of(display);
  SetPredictions result;
  result.display = display.name;
  result.set_hash = set.hash;
  result.population = population;
  result.loan = set.loan;
  result.assumptions = {"display " + display.name + ": " + display.status,
                        ("fresh individuals: ages 18 to 60, spread after Asano, Fairchild & Blonde "
                         "2016, sensitivity SD 0.12 "
                         "log10 (assumed)"),
                        "element noise K = 6, efficiency 0.10, lapse 0.01: docs/science/reading.md",
                        "no post-receptoral compensation in anomalous observers",
                        ("the second judge: mean eyes of other cones, noise and reading, "
                         "docs/science/judge.md")};
  if (elsewhere)
    result.assumptions.push_back("the set was made for " + set.display +
                                 "; its codes are shown on this display unchanged");

  std::vector<std::vector<Eye>> eyes;
  std::vector<Eye> nominal;
  for (const std::string& name : standard_observers()) {
    const Observer centre = *observer_from(name);
    eyes.push_back(fresh_eyes(centre, display, population));
    nominal.push_back(nominal_eye(centre, display));
  }
  // The judge's eyes, as our own model has them: most are standard observers, one is not.
  std::vector<std::size_t> judged_as;
  for (const JudgeEye eye : judge_eyes) {
    const std::string name(observer_name_of(eye));
    const auto& standard = standard_observers();
    const auto at = std::find(standard.begin(), standard.end(), name);
    judged_as.push_back(static_cast<std::size_t>(at - standard.begin()));
    if (at == standard.end()) {
      expects(eyes.size() == standard.size());
      eyes.push_back(fresh_eyes(*observer_from(name), display, population));
    }
  }
  if (!set.loan.empty())
    result.assumptions.push_back("the set is drawn on loan of " + set.loan +
                                 ": normal viewers are to answer as that observer would");
  constexpr std::size_t most_kept = 2000;
  std::vector<std::vector<std::vector<PredictedReading>>> by_eye(set.plates.size());
  const CodeLight light(display.curves);
  result.plates.resize(set.plates.size());
  parallel_for(set.plates.size(), [&](std::size_t p) {
    const Plate& plate = set.plates[p];
    PlateReader reader = PlateReader::of(plate, answer_row(set, plate));
    reader.show_on(light);
    PlatePredictions& to = result.plates[p];
    to.name = plate.name;
    to.kind = name_of(plate.kind);
    to.aim = name_of(plate.aim);
    to.fork = plate.figures.size() == 2;
    to.superimposed = to.fork && reader.slots() == 1;
    to.basis = basis_of(plate.kind);
    to.rests_on = basis_in_words(plate.kind);
    to.symbols = answer_row(set, plate);
    const std::vector<std::size_t> drawn = reader.drawn_on(plate);
    std::vector<PredictedReading> readings;
    readings.reserve(eyes.size());
    for (const std::vector<Eye>& kind : eyes) {
      std::vector<PredictedReading> each = readings_by_eye(reader, drawn, kind);
      readings.push_back(mean_of(each));
      if (each.size() > most_kept) {
        each.resize(most_kept);
        each.shrink_to_fit();
      }
      by_eye[p].push_back(std::move(each));
    }
    std::vector<std::vector<double>> by_figure(plate.figures.size());
    for (const std::size_t o : judged_as) {
      by_figure.front().push_back(readings[o].intended);
      if (to.fork) by_figure.back().push_back(readings[o].second);
    }
    to.judge = judgement_of(plate, judge_plate_of(plate), screen, by_figure);
    for (std::size_t o = 0; o < nominal.size(); ++o) {
      to.by_observer.push_back(readings[o]);
      to.margins.push_back(margins_in_words(reader, plate, nominal[o]));
    }
  });
  result.figures = set_figures(set, by_eye);
  if (sittings > 0) {
    COPUNCTAL_TRY(result.sittings, simulated_sittings(set, display, sittings));
    result.sittings_each = sittings;
  }
  if (ranges)
    result.assumed = assumption_figures(set, display, std::min<std::size_t>(population, 200));
  return result;
}

namespace {

Json answers_json(const PlatePredictions& plate, const PredictedReading& reading) {
  Json places = Json::array();
  for (const SlotReading& place : reading.places) {
    Json answers = Json::object();
    for (std::size_t k = 0; k < place.reads.size(); ++k)
      answers[plate.symbols[k]] = rounded(place.reads[k]);
    answers["nothing"] = rounded(place.nothing);
    places.push_back(std::move(answers));
  }
  return places;
}

// Moves by less are within what these numbers are good for.
constexpr double worth_a_range = 0.05;

Json range_json(const Range& range) {
  if (range.most - range.least <= worth_a_range) return nullptr;
  return {{"least", rounded(range.least)}, {"most", rounded(range.most)}, {"by", range.by}};
}

Json figures_json(const SetFigures& figures) {
  Json rule = Json::array(), area = Json::object(), kinds = Json::object();
  for (const RulePoint& point : figures.rule) {
    Json hits = Json::object();
    for (std::size_t o = 0; o < figures.observers.size(); ++o)
      hits[figures.observers[o]] = rounded(point.hits[o]);
    rule.push_back({{"misses", point.misses},
                    {"false_alarms", rounded(point.false_alarms)},
                    {"specificity", rounded(1 - point.false_alarms)},
                    {"hits", std::move(hits)}});
  }
  const auto area_json = [](const RocArea& one) {
    return Json{{"area", rounded(one.area)}, {"error", rounded(one.error)}};
  };
  for (std::size_t o = 0; o < figures.area.size(); ++o)
    area[figures.observers[o]] = area_json(figures.area[o]);
  if (!figures.area.empty()) area["all"] = area_json(figures.area_of_all);
  for (const KindNamed& named : figures.kinds)
    kinds[named.observer] = {{"right", rounded(named.right)},
                             {"wrong", rounded(named.wrong)},
                             {"cannot_tell", rounded(named.cannot_tell)}};
  return {{"plates_counted", figures.plates},
          {"rule", std::move(rule)},
          {"rule_misses", figures.rule_misses == 0 ? Json(nullptr) : Json(figures.rule_misses)},
          {"roc_area", std::move(area)},
          {"kind_by_forks", std::move(kinds)}};
}

constexpr std::array end_names = {"normal", "protan", "deutan", "tritan", "cannot tell"};

Json sittings_json(const SetPredictions& predictions) {
  Json observers = Json::object();
  for (const SittingsEnd& end : predictions.sittings)
    for (std::size_t e = 0; e < end_names.size(); ++e)
      observers[end.observer][end_names[e]] = rounded(end.shares[e]);
  return {{"each", predictions.sittings_each}, {"ends", std::move(observers)}};
}

Json sensitivity_json(const AssumptionFigures& assumed) {
  Json rows = Json::array();
  for (const auto& row : assumed.rows)
    rows.push_back({{"assumption", row.assumption},
                    {"value", row.value},
                    {"false_alarms", rounded(row.headline.false_alarms)},
                    {"hits_at_0_nm", rounded(row.headline.hits_at_0)},
                    {"hits_at_5_nm", rounded(row.headline.hits_at_5)},
                    {"kind_named_at_0_nm", rounded(row.headline.named_at_0)},
                    {"kind_named_at_5_nm", rounded(row.headline.named_at_5)}});
  return {{"population", assumed.population}, {"rows", std::move(rows)}};
}

std::string figures_text(const SetFigures& figures) {
  std::string text;
  if (!figures.rule.empty()) {
    text += fmt::format("\nOf {} vanishing plates, P(so many or more are missed):\n{:<10}{:>10}",
                        figures.plates, "misses", "normal");
    for (const std::string& name : figures.observers) text += fmt::format("{:>10}", name);
    text += "\n";
    for (const RulePoint& point : figures.rule) {
      text += fmt::format("{:<10}{:>10.3f}", point.misses, point.false_alarms);
      for (const double hits : point.hits) text += fmt::format("{:>10.3f}", hits);
      text += "\n";
    }
    text += fmt::format("{:<20}", "area under the ROC");
    for (const RocArea& area : figures.area) text += fmt::format("{:>10.3f}", area.area);
    text +=
        fmt::format("\nAll these observers in equal parts: area {:.3f}, standard error {:.3f}.\n",
                    figures.area_of_all.area, figures.area_of_all.error);
    text += figures.rule_misses == 0
                ? "No number of misses keeps false alarms at .05 or less.\n"
                : fmt::format("The smallest number with false alarms of .05 or less: {}.\n",
                              figures.rule_misses);
  }
  if (!figures.kinds.empty()) {
    text += "\nProtan against deutan by the fork plates (first read less second read, summed):\n";
    text += fmt::format("{:<12}{:>8}{:>8}{:>14}\n", "", "right", "wrong", "cannot tell");
    for (const KindNamed& named : figures.kinds)
      text += fmt::format("{:<12}{:>8.3f}{:>8.3f}{:>14.3f}\n", named.observer, named.right,
                          named.wrong, named.cannot_tell);
  }
  return text;
}

std::string sittings_text(const SetPredictions& predictions) {
  if (predictions.sittings.empty()) return {};
  std::string text =
      fmt::format("\n{} simulated sittings of each end in:\n{:<12}", predictions.sittings_each, "");
  for (const char* name : end_names) text += fmt::format("{:>13}", name);
  text += "\n";
  for (const SittingsEnd& end : predictions.sittings) {
    text += fmt::format("{:<12}", end.observer);
    for (const double share : end.shares) text += fmt::format("{:>13.3f}", share);
    text += "\n";
  }
  return text;
}

std::string assumed_text(const SetPredictions& predictions) {
  if (!predictions.assumed) return {};
  const AssumptionFigures& assumed = *predictions.assumed;
  std::string text = fmt::format(
      "\nOne assumption at a time, {} observers of each "
      "kind:\n{:<58}{:>13}{:>9}{:>9}{:>12}{:>12}\n",
      assumed.population, "", "false alarms", "hits 0", "hits 5", "kind at 0", "kind at 5");
  for (const auto& row : assumed.rows)
    text += fmt::format("{:<58}{:>13.3f}{:>9.3f}{:>9.3f}{:>12.3f}{:>12.3f}\n",
                        row.assumption + (row.value.empty() ? "" : " " + row.value),
                        row.headline.false_alarms, row.headline.hits_at_0, row.headline.hits_at_5,
                        row.headline.named_at_0, row.headline.named_at_5);
  text += "Probabilities they move by more than .05:\n";
  for (std::size_t p = 0; p < predictions.plates.size(); ++p) {
    const PlatePredictions& plate = predictions.plates[p];
    for (std::size_t f = 0; f < (plate.fork ? 2U : 1U); ++f) {
      std::vector<std::string> moved;
      for (std::size_t o = 0; o < standard_observers().size(); ++o) {
        const Range& range = assumed.ranges[p][o][f];
        if (range.most - range.least > worth_a_range)
          moved.push_back(
              fmt::format("{} {:.2f} to {:.2f}", standard_observers()[o], range.least, range.most));
      }
      if (!moved.empty())
        text += fmt::format("{:<28}{}\n",
                            plate.name + (plate.fork ? (f == 0 ? " (first)" : " (second)") : ""),
                            joined(moved, ", "));
    }
  }
  return text;
}

}  // namespace

std::string predictions_json(const SetPredictions& predictions) {
  Json plates = Json::array();
  for (std::size_t item_index = 0; item_index < predictions.plates.size(); ++item_index) {
    const PlatePredictions& plate = predictions.plates[item_index];
    Json predicted = Json::object();
    for (std::size_t o = 0; o < plate.by_observer.size(); ++o) {
      const PredictedReading& p = plate.by_observer[o];
      Json one;
      if (plate.fork) {
        one["first"] = rounded(p.intended);
        one["second"] = rounded(p.second);
      } else {
        one["intended"] = rounded(p.intended);
      }
      one["nothing"] = rounded(p.nothing);
      one["other"] = rounded(p.other);
      if (plate.fork && !plate.superimposed) one["first_clearer"] = rounded(p.first_clearer);
      one["answers"] = answers_json(plate, p);
      one["mc_error"] = rounded(p.mc_error);
      if (predictions.assumed) {
        const auto& [first, second] = predictions.assumed->ranges[item_index][o];
        one["range"] = range_json(first);
        if (plate.fork) one["range_second"] = range_json(second);
      }
      one["margins"] = plate.margins[o];
      predicted[standard_observers()[o]] = std::move(one);
    }
    Json item = {{"name", plate.name},
                 {"kind", plate.kind},
                 {"aim", plate.aim.empty() ? Json(nullptr) : Json(plate.aim)},
                 {"basis", name_of(plate.basis)},
                 {"rests_on", plate.rests_on}};
    if (plate.fork) {
      item["first_for"] = plate.superimposed ? "normal" : "protan";
      item["second_for"] = plate.superimposed ? "protan, deutan" : "deutan";
    }
    item["predicted"] = std::move(predicted);
    item["judge"] = judge_json(plate.judge);
    plates.push_back(std::move(item));
  }
  Json json = {{"plates", std::move(plates)}, {"set", figures_json(predictions.figures)}};
  if (!predictions.sittings.empty()) json["sittings"] = sittings_json(predictions);
  if (predictions.assumed) json["sensitivity"] = sensitivity_json(*predictions.assumed);
  json["display"] = predictions.display;
  json["loan"] = predictions.loan.empty() ? Json(nullptr) : Json(predictions.loan);
  json["set_hash"] = predictions.set_hash;
  json["population"] = predictions.population;
  json["assumptions"] = predictions.assumptions;
  json["intended_use"] = intended_use();
  return json.dump(1) + "\n";
}

std::string predictions_text(const SetPredictions& predictions) {
  std::string text = fmt::format("{:<28}{:<11}", "plate", "kind");
  for (const std::string& name : standard_observers()) text += fmt::format("{:>10}", name);
  text += "\n";
  for (const PlatePredictions& plate : predictions.plates)
    for (int line = 0; line < (plate.fork ? 2 : 1); ++line) {
      const std::string what = plate.fork          ? (line == 0 ? " (first)" : " (second)")
                               : plate.aim.empty() ? ""
                                                   : " (" + plate.aim + ")";
      text += fmt::format("{:<28}{:<11}", plate.name + what, plate.kind);
      for (const PredictedReading& p : plate.by_observer)
        text += fmt::format("{:>10.3f}", line == 0 ? p.intended : p.second);
      text += "\n";
    }
  text += fmt::format("P(the drawn symbol is read), means over {} fresh observers of each kind.\n",
                      predictions.population);
  for (const PlatePredictions& plate : predictions.plates) {
    if (plate.basis == Basis::salience) text += plate.name + ": " + plate.rests_on + "\n";
    if (plate.kind != "ladder") continue;
    text += fmt::format("{:<28}{:<11}", plate.name + " (first clearer)", "");
    for (const PredictedReading& p : plate.by_observer)
      text += fmt::format("{:>10.3f}", p.first_clearer);
    text += "\n";
  }
  text +=
      figures_text(predictions.figures) + sittings_text(predictions) + assumed_text(predictions);
  text += "\nThe second judge, with d':\n";
  for (const PlatePredictions& plate : predictions.plates) text += judge_text(plate);
  for (const std::string& assumption : predictions.assumptions)
    text += "Assumes: " + assumption + ".\n";
  text += std::string(intended_use()) + "\n";
  return text;
}

std::string failure_text(const Failure& failure) {
  std::string text = fmt::format(
      "{} ({}{}), P(its first figure is read):\n{:<76}{:>8}", failure.plate, failure.kind,
      failure.aim.empty() ? "" : " aimed at " + failure.aim, "", "normal");
  for (const std::string& name : failure.aimed) text += fmt::format("{:>11}", name);
  text += "\n";
  for (const FailureRow& row : failure.rows) {
    text += fmt::format("{:<76}{:>8.3f}", row.what + (row.value.empty() ? "" : " " + row.value),
                        row.normal);
    for (const double p : row.aimed) text += fmt::format("{:>11.3f}", p);
    text += "\n";
  }
  return text + failure.words + "\n" + std::string(intended_use()) + "\n";
}

std::string failure_json(const Failure& failure) {
  Json rows = Json::array();
  for (const FailureRow& row : failure.rows) {
    Json read = {{"normal", rounded(row.normal)}};
    for (std::size_t a = 0; a < failure.aimed.size(); ++a)
      read[failure.aimed[a]] = rounded(row.aimed[a]);
    rows.push_back({{"what", row.what}, {"value", row.value}, {"read_by", std::move(read)}});
  }
  return Json{{"plate", failure.plate},
              {"kind", failure.kind},
              {"aim", failure.aim.empty() ? Json(nullptr) : Json(failure.aim)},
              {"rows", std::move(rows)},
              {"words", failure.words},
              {"intended_use", intended_use()}}
             .dump(1) +
         "\n";
}

}  // namespace copunctal
