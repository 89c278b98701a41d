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
  auto display = elsewhere ? Result<Display>(*elsewhere) : display_of_set(set);
  if (!display) {
    Error error = std::move(display).error();
    error.kind = Error::Kind::bad_input;
    return tl::unexpected(std::move(error));
  }
  const JudgeScreen screen = judge_screen_of(*display);
  SetPredictions result;
  result.display = display->name;
  result.set_hash = set.hash;
  result.population = population;
  result.assumptions = {"display " + display->name + ": " + display->status,
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
    eyes.push_back(fresh_eyes(centre, *display, population));
    nominal.push_back(nominal_eye(centre, *display));
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
      eyes.push_back(fresh_eyes(*observer_from(name), *display, population));
    }
  }
  const CodeLight light(display->curves);
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
    std::vector<std::size_t> drawn;
    for (const Figure& figure : plate.figures) drawn.push_back(reader.index_of(figure.symbol));
    std::vector<PredictedReading> readings;
    readings.reserve(eyes.size());
    for (const std::vector<Eye>& kind : eyes)
      readings.push_back(predicted_reading(reader, drawn, kind));
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
  return result;
}

std::string predictions_json(const SetPredictions& predictions) {
  Json plates = Json::array();
  for (const PlatePredictions& plate : predictions.plates) {
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
      one["mc_error"] = rounded(p.mc_error);
      one["margins"] = plate.margins[o];
      predicted[standard_observers()[o]] = std::move(one);
    }
    Json item = {{"name", plate.name},
                 {"kind", plate.kind},
                 {"aim", plate.aim.empty() ? Json(nullptr) : Json(plate.aim)}};
    if (plate.fork) {
      item["first_for"] = "protan";
      item["second_for"] = "deutan";
    }
    item["predicted"] = std::move(predicted);
    item["judge"] = judge_json(plate.judge);
    plates.push_back(std::move(item));
  }
  const Json json = {{"plates", std::move(plates)},
                     {"display", predictions.display},
                     {"set_hash", predictions.set_hash},
                     {"population", predictions.population},
                     {"assumptions", predictions.assumptions},
                     {"intended_use", intended_use()}};
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
  text += "The second judge, with d':\n";
  for (const PlatePredictions& plate : predictions.plates) text += judge_text(plate);
  for (const std::string& assumption : predictions.assumptions)
    text += "Assumes: " + assumption + ".\n";
  text += std::string(intended_use()) + "\n";
  return text;
}

}  // namespace copunctal
