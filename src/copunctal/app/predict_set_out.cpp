// Predictions of a set as a table for people and as JSON.
#include <array>
#include <cmath>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "copunctal/app/debrief.h"
#include "copunctal/app/predict_set.h"
#include "copunctal/base/text.h"

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

Json share_json(const Share& share) {
  return rounded(share.share);
}

Json points_json(const MissRule& rule) {
  Json points = Json::array();
  for (const RulePoint& point : rule.points) {
    Json hits = Json::object(), errors = Json::object();
    for (std::size_t o = 0; o < rule.observers.size(); ++o) {
      hits[rule.observers[o]] = share_json(point.hits[o]);
      errors[rule.observers[o]] = rounded(point.hits[o].error);
    }
    points.push_back({{"misses", point.misses},
                      {"false_alarms", share_json(point.false_alarms)},
                      {"false_alarms_error", rounded(point.false_alarms.error)},
                      {"specificity", rounded(1 - point.false_alarms.share)},
                      {"hits", std::move(hits)},
                      {"hits_error", std::move(errors)}});
  }
  return points;
}

Json rule_misses_json(const MissRule& rule) {
  return rule.misses == 0 ? Json(nullptr) : Json(rule.misses);
}

Json figures_json(const SetFigures& figures) {
  Json area = Json::object(), kinds = Json::object();
  const auto area_json = [](const RocArea& one) {
    return Json{{"area", rounded(one.area)}, {"error", rounded(one.error)}};
  };
  for (std::size_t o = 0; o < figures.area.size(); ++o)
    area[figures.red_green.observers[o]] = area_json(figures.area[o]);
  if (!figures.area.empty()) area["all"] = area_json(figures.area_of_all);
  for (const KindNamed& named : figures.kinds)
    kinds[named.observer] = {{"right", rounded(named.right)},
                             {"wrong", rounded(named.wrong)},
                             {"cannot_tell", rounded(named.cannot_tell)}};
  return {{"plates_counted", figures.red_green.plates},
          {"rule", points_json(figures.red_green)},
          {"rule_misses", rule_misses_json(figures.red_green)},
          {"roc_area", std::move(area)},
          {"kind_by_forks", std::move(kinds)},
          {"blue_yellow",
           {{"plates_counted", figures.blue_yellow.plates},
            {"rule", points_json(figures.blue_yellow)},
            {"rule_misses", rule_misses_json(figures.blue_yellow)}}}};
}

constexpr std::array end_names = {"normal", "protan", "deutan", "tritan", "cannot tell"};

Json sittings_json(const SetPredictions& predictions) {
  Json observers = Json::object();
  for (const SittingsEnd& end : predictions.sittings)
    for (std::size_t e = 0; e < end_names.size(); ++e)
      observers[end.observer][end_names[e]] = rounded(end.shares[e]);
  return {{"each", predictions.sittings_each},
          {"post_receptoral_gain", predictions.gain},
          {"ends", std::move(observers)}};
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

std::string rule_text(const MissRule& rule, std::string_view kind) {
  std::string text = fmt::format("\nOf {} {} plates, P(so many or more are missed):\n{:<10}{:>10}",
                                 rule.plates, kind, "misses", "normal");
  for (const std::string& name : rule.observers) text += fmt::format("{:>10}", name);
  text += "\n";
  double largest = 0;
  for (const RulePoint& point : rule.points) {
    text += fmt::format("{:<10}{:>10.3f}", point.misses, point.false_alarms.share);
    largest = std::max(largest, point.false_alarms.error);
    for (const Share& hits : point.hits) {
      text += fmt::format("{:>10.3f}", hits.share);
      largest = std::max(largest, hits.error);
    }
    text += "\n";
  }
  text += fmt::format("Standard errors over the individuals drawn: {:.3f} at most.\n", largest);
  return text + (rule.misses == 0
                     ? "No number of misses keeps false alarms at .05 or less.\n"
                     : fmt::format("The smallest number with false alarms of .05 or less: {}.\n",
                                   rule.misses));
}

std::string figures_text(const SetFigures& figures) {
  std::string text;
  if (!figures.red_green.points.empty()) {
    text += rule_text(figures.red_green, "vanishing");
    text += fmt::format("{:<20}", "area under the ROC");
    for (const RocArea& area : figures.area) text += fmt::format("{:>10.3f}", area.area);
    text +=
        fmt::format("\nAll these observers in equal parts: area {:.3f}, standard error {:.3f}.\n",
                    figures.area_of_all.area, figures.area_of_all.error);
  }
  if (!figures.blue_yellow.points.empty()) text += rule_text(figures.blue_yellow, "tritan");
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
  json["post_receptoral_gain"] = predictions.gain;
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
  text += fmt::format("P(the drawn symbol is read), {} {} fresh observers of each kind.\n",
                      predictions.counted ? "one answer each of" : "means over",
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
  std::string text;
  const std::size_t figures = failure.rows.front().figures.size();
  for (std::size_t f = 0; f < figures; ++f) {
    text += fmt::format("{} ({}{}), P(its {}figure is read):\n{:<76}{:>8}", failure.plate,
                        failure.kind, failure.aim.empty() ? "" : " aimed at " + failure.aim,
                        figures == 1 ? ""
                        : f == 0     ? "first "
                                     : "second ",
                        "", "normal");
    for (const std::string& name : failure.aimed) text += fmt::format("{:>11}", name);
    text += "\n";
    for (const FailureRow& row : failure.rows) {
      text += fmt::format("{:<76}{:>8.3f}", row.what + (row.value.empty() ? "" : " " + row.value),
                          row.figures[f].normal);
      for (const double p : row.figures[f].aimed) text += fmt::format("{:>11.3f}", p);
      text += "\n";
    }
  }
  return text + failure.words + "\n" + std::string(intended_use()) + "\n";
}

std::string failure_json(const Failure& failure) {
  Json rows = Json::array();
  for (const FailureRow& row : failure.rows) {
    Json one = {{"what", row.what}, {"value", row.value}};
    for (std::size_t f = 0; f < row.figures.size(); ++f) {
      Json read = {{"normal", rounded(row.figures[f].normal)}};
      for (std::size_t a = 0; a < failure.aimed.size(); ++a)
        read[failure.aimed[a]] = rounded(row.figures[f].aimed[a]);
      one[f == 0 ? "read_by" : "second_read_by"] = std::move(read);
    }
    rows.push_back(std::move(one));
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
