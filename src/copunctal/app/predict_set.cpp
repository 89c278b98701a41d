#include "copunctal/app/predict_set.h"

#include <algorithm>
#include <cmath>

#include "copunctal/app/set_readers.h"
#include "copunctal/base/expects.h"
#include "copunctal/base/parallel.h"
#include "copunctal/base/text.h"
#include "copunctal/display/display.h"
#include "copunctal/reader/crowd.h"

namespace copunctal {
namespace {

// Up to so many individuals are read one by one, with the probability of each answer; the figures
// of a set rest on them. More are counted, one answer each.
constexpr std::size_t most_kept = 2000;

constexpr std::uint64_t crowd_seed = 0x63726f7764;

}  // namespace

Result<SetPredictions> predict_set(const PlateSet& set, std::size_t population,
                                   const std::optional<Display>& elsewhere) {
  return predict_set(set, PredictOptions{.population = population, .elsewhere = elsewhere});
}

Result<SetPredictions> predict_set(const PlateSet& set, const PredictOptions& options) {
  const auto& [population, elsewhere, sittings, ranges, gain] = options;
  COPUNCTAL_TRY(const Display display,
                elsewhere ? Result<Display>(*elsewhere) : display_of_set(set));
  const JudgeScreen screen = judge_screen_of(display);
  SetPredictions result;
  result.display = display.name;
  result.set_hash = set.hash;
  result.population = population;
  result.gain = gain;
  result.counted = population > most_kept;
  result.loan = set.loan;
  result.assumptions = {"display " + display.name + ": " + display.status,
                        ("fresh individuals: ages 18 to 60, spread after Asano, Fairchild & Blonde "
                         "2016, sensitivity SD 0.12 "
                         "log10 (assumed)"),
                        "element noise K = 6, efficiency 0.10, lapse 0.01: docs/science/reading.md",
                        gain == 0
                            ? "no post-receptoral compensation in anomalous observers"
                            : "post-receptoral gain of anomalous observers " + shortest(gain) +
                                  " (0 none, 1 until the signal is a normal's)",
                        ("the second judge: mean eyes of other cones, noise and reading, "
                         "docs/science/judge.md")};
  if (elsewhere)
    result.assumptions.push_back("the set was made for " + set.display +
                                 "; its codes are shown on this display unchanged");

  DiscriminationModel model;
  model.post_receptoral_gain = gain;
  const std::size_t kept = std::min(population, most_kept);
  std::vector<Observer> centres;
  std::vector<std::vector<Eye>> eyes;
  std::vector<Eye> nominal;
  for (const std::string& name : standard_observers()) {
    centres.push_back(*observer_from(name));
    eyes.push_back(fresh_eyes(centres.back(), display, kept, 0, model));
    nominal.push_back(nominal_eye(centres.back(), display, model));
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
      centres.push_back(*observer_from(name));
      eyes.push_back(fresh_eyes(centres.back(), display, kept, 0, model));
    }
  }
  if (!set.loan.empty())
    result.assumptions.push_back("the set is drawn on loan of " + set.loan +
                                 ": normal viewers are to answer as that observer would");
  const std::vector<PlateReader> readers = readers_of(set, CodeLight(display.curves), model);
  std::vector<std::vector<CrowdCounts>> crowd;
  if (result.counted)
    for (const Observer& centre : centres)
      crowd.push_back(Crowd(readers, centre, display, model)
                          .counts(static_cast<std::uint32_t>(population), crowd_seed));
  std::vector<std::vector<std::vector<PredictedReading>>> by_eye(set.plates.size());
  result.plates.resize(set.plates.size());
  parallel_for(set.plates.size(), [&](std::size_t p) {
    const Plate& plate = set.plates[p];
    const PlateReader& reader = readers[p];
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
    for (std::size_t o = 0; o < eyes.size(); ++o) {
      by_eye[p].push_back(readings_by_eye(reader, drawn, eyes[o]));
      readings.push_back(result.counted ? reading_of(crowd[o][p], drawn, model.lapse)
                                        : mean_of(by_eye[p].back()));
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
    COPUNCTAL_TRY(result.sittings, simulated_sittings(set, display, sittings, model));
    result.sittings_each = sittings;
  }
  if (ranges)
    result.assumed = assumption_figures(set, display, std::min<std::size_t>(population, 200));
  return result;
}

}  // namespace copunctal
