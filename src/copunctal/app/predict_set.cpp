#include "copunctal/app/predict_set.h"

#include <cmath>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "copunctal/app/debrief.h"
#include "copunctal/base/parallel.h"
#include "copunctal/display/display.h"

namespace copunctal {
namespace {

using Json = nlohmann::ordered_json;

// Probabilities are known to some three digits; more would only look precise.
double rounded(double p) {
  return std::round(p * 1e5) / 1e5;
}

}  // namespace

Result<SetPredictions> predict_set(const PlateSet& set, std::size_t population,
                                   const std::optional<Display>& elsewhere) {
  auto display = elsewhere ? Result<Display>(*elsewhere) : named_display(set.display);
  if (!display) {
    Error error = std::move(display).error();
    error.kind = Error::Kind::bad_input;
    return tl::unexpected(std::move(error));
  }
  SetPredictions result;
  result.display = display->name;
  result.set_hash = set.hash;
  result.population = population;
  result.assumptions = {"display " + display->name + ": " + display->status,
                        "fresh individuals: ages 18 to 60, spread after Asano, Fairchild & Blonde "
                        "2016, sensitivity SD 0.12 "
                        "log10 (assumed)",
                        "element noise K = 6, efficiency 0.10, lapse 0.01: docs/science/reading.md",
                        "no post-receptoral compensation in anomalous observers"};
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
    for (std::size_t o = 0; o < eyes.size(); ++o) {
      to.by_observer.push_back(predicted_reading(reader, drawn, eyes[o]));
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
  for (const std::string& assumption : predictions.assumptions)
    text += "Assumes: " + assumption + ".\n";
  text += std::string(intended_use()) + "\n";
  return text;
}

}  // namespace copunctal
