#include "copunctal/app/predict_assumptions.h"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "copunctal/app/set_readers.h"
#include "copunctal/app/show_plates.h"
#include "copunctal/base/expects.h"
#include "copunctal/base/parallel.h"
#include "copunctal/base/text.h"
#include "copunctal/display/tolerance.h"
#include "copunctal/plate/mosaic.h"

namespace copunctal {
namespace {

using Readings = std::vector<std::vector<std::vector<PredictedReading>>>;

Readings readings_under(const Assumed& assumed, const PlateSet& set,
                        const std::vector<PlateReader>& readers, std::size_t population) {
  std::vector<std::vector<Eye>> eyes;
  for (const std::string& name : standard_observers())
    eyes.push_back(fresh_eyes(*observer_from(name), assumed.display, population, 0, assumed.model,
                              assumed.spread));
  const CodeLight light(assumed.display.curves);
  Readings readings(set.plates.size());
  parallel_for(set.plates.size(), [&](std::size_t p) {
    PlateReader reader = readers[p];
    reader.set_model(assumed.model);
    reader.show_on(light);
    for (const auto& kind : eyes)
      readings[p].push_back(readings_by_eye(reader, reader.drawn_on(set.plates[p]), kind));
  });
  return readings;
}

Headline headline_of(const SetFigures& figures, std::size_t misses) {
  Headline headline;
  if (misses > 0) {
    const RulePoint& rule = figures.red_green.points[misses - 1];
    headline.false_alarms = rule.false_alarms.share;
    for (std::size_t o = 0; o < rule.hits.size(); ++o) {
      const std::string& observer = figures.red_green.observers[o];
      if (observer.ends_with(":0")) headline.hits_at_0 += rule.hits[o].share / 2;
      if (observer.ends_with(":5")) headline.hits_at_5 += rule.hits[o].share / 2;
    }
  }
  for (const KindNamed& named : figures.kinds) {
    if (named.observer.ends_with(":0")) headline.named_at_0 += named.right / 2;
    if (named.observer.ends_with(":5")) headline.named_at_5 += named.right / 2;
  }
  return headline;
}

std::vector<std::string> aimed_by(const Plate& plate) {
  switch (plate.kind) {
    case PlateKind::tritan:
      return {"tritan"};
    case PlateKind::vanishing:
      if (plate.aim == Aim::five_nm) return {"protan:5", "deutan:5"};
      if (plate.aim == Aim::ten_nm) return {"protan:10", "deutan:10"};
      return {"protan:0", "deutan:0"};
    default:
      return {"protan:0", "deutan:0"};
  }
}

std::vector<Assumed> ways_to_fail(const Display& display) {
  const DiscriminationModel model;
  std::vector<Assumed> ways = {{"as made", "", model, display, {}}};
  for (const auto& others : {tolerance_displays(display), unseen_displays(display)})
    for (const Display& other : others)
      if (other.name != display.name) ways.push_back({"display", other.name, model, other, {}});
  for (const double lux : {100.0, 500.0, 2000.0}) {
    Display lit = display;
    lit.ambient_lux = lux;
    ways.push_back({"light in the room", shortest(lux) + " lux", model, lit, {}});
  }
  // A pebble's noise goes with the root of its area as it is seen (Piper's law), and so with the
  // distance.
  for (const double factor : {0.5, 2.0, 4.0}) {
    DiscriminationModel far = model;
    far.mosaic_factor *= factor;
    ways.push_back({"viewing distance", "x " + shortest(factor), far, display, {}});
  }
  for (const double age : {20.0, 40.0, 60.0, 80.0}) {
    PopulationSpread spread;
    spread.youngest = spread.oldest = age;
    ways.push_back({"age", shortest(age), model, display, spread});
  }
  return ways;
}

}  // namespace

std::vector<Assumed> other_assumptions(const Display& display) {
  const DiscriminationModel model;
  std::vector<Assumed> all;
  const auto add = [&](const std::string& what, double value, auto change) {
    DiscriminationModel other = model;
    change(other, value);
    all.push_back({what, shortest(std::round(value * 1000) / 1000), other, display, {}});
  };
  for (const double factor : {0.6, 1.6})
    add("element noise K", model.mosaic_factor * factor,
        [](DiscriminationModel& m, double v) { m.mosaic_factor = v; });
  for (const double factor : {0.5, 2.0})
    add("masking by luminance", model.masking_by_luminance * factor,
        [](DiscriminationModel& m, double v) { m.masking_by_luminance = v; });
  for (const double factor : {0.5, 2.0})
    add("masking by colour", model.masking_by_chromatic * factor,
        [](DiscriminationModel& m, double v) { m.masking_by_chromatic = v; });
  for (const double factor : {0.5, 2.0})
    add("efficiency", model.efficiency * factor,
        [](DiscriminationModel& m, double v) { m.efficiency = v; });
  for (const double sd : {0.06, 0.18})
    add("sensitivity SD", sd, [](DiscriminationModel& m, double v) { m.sensitivity_sd = v; });
  add("post-receptoral gain", 1,
      [](DiscriminationModel& m, double v) { m.post_receptoral_gain = v; });
  for (const Display& other : tolerance_displays(display))
    if (other.name != display.name) all.push_back({"display", other.name, model, other, {}});
  return all;
}

AssumptionFigures assumption_figures(const PlateSet& set, const Display& display,
                                     std::size_t population) {
  // Made once: only colours and models change.
  const std::vector<PlateReader> readers = readers_of(set, CodeLight(display.curves));
  const Assumed as_is{"as assumed", "", {}, display, {}};
  AssumptionFigures result;
  result.population = population;
  const Readings base = readings_under(as_is, set, readers, population);
  const SetFigures figures = set_figures(set, base);
  result.rows.push_back({as_is.assumption, "", headline_of(figures, figures.red_green.misses)});
  const auto fields = {&PredictedReading::intended, &PredictedReading::second};
  for (const auto& plate : base) {
    auto& of_plate = result.ranges.emplace_back();
    for (const auto& eyes : plate) {
      const PredictedReading mean = mean_of(eyes);
      of_plate.push_back(
          {Range{mean.intended, mean.intended, {}}, Range{mean.second, mean.second, {}}});
    }
  }
  const auto middle = result.ranges;
  std::vector<std::vector<std::array<double, 2>>> furthest(
      base.size(), std::vector<std::array<double, 2>>(standard_observers().size()));
  for (const Assumed& assumed : other_assumptions(display)) {
    const Readings readings = readings_under(assumed, set, readers, population);
    result.rows.push_back({assumed.assumption, assumed.value,
                           headline_of(set_figures(set, readings), figures.red_green.misses)});
    for (std::size_t p = 0; p < readings.size(); ++p)
      for (std::size_t o = 0; o < readings[p].size(); ++o) {
        const PredictedReading mean = mean_of(readings[p][o]);
        std::size_t f = 0;
        for (const auto field : fields) {
          Range& range = result.ranges[p][o][f];
          const double value = mean.*field, moved = std::abs(value - middle[p][o][f].least);
          range.least = std::min(range.least, value);
          range.most = std::max(range.most, value);
          if (moved > furthest[p][o][f]) {
            furthest[p][o][f] = moved;
            range.by = assumed.assumption + " " + assumed.value;
          }
          ++f;
        }
      }
  }
  return result;
}

Result<Failure> how_it_fails(const PlateSet& set, const std::string& name, const Display& display,
                             std::size_t population) {
  COPUNCTAL_TRY(const Plate* at, plate_named(set, name));
  const PlateReader prepared = reader_of(set, *at, CodeLight(display.curves));
  const std::vector<std::size_t> drawn = prepared.drawn_on(*at);
  const std::size_t figures = at->figures.size();
  Failure failure{
      name, std::string(name_of(at->kind)), std::string(name_of(at->aim)), aimed_by(*at), {}, {}};
  const std::vector<Assumed> ways = ways_to_fail(display);
  failure.rows.resize(ways.size());
  parallel_for(ways.size(), [&](std::size_t w) {
    PlateReader reader = prepared;
    reader.set_model(ways[w].model);
    reader.show_on(CodeLight(ways[w].display.curves));
    FailureRow& row = failure.rows[w];
    row = {ways[w].assumption, ways[w].value, {}};
    row.figures.resize(figures);
    const auto add = [&](const std::string& observer, auto put) {
      const PredictedReading read =
          predicted_reading(reader, drawn,
                            fresh_eyes(*observer_from(observer), ways[w].display, population, 1,
                                       ways[w].model, ways[w].spread));
      put(row.figures.front(), read.intended);
      if (figures == 2) put(row.figures.back(), read.second);
    };
    add("normal", [](FigureRead& figure, double p) { figure.normal = p; });
    for (const std::string& observer : failure.aimed)
      add(observer, [](FigureRead& figure, double p) { figure.aimed.push_back(p); });
  });
  // What moves a reading furthest from where it was made to be.
  const FailureRow& made = failure.rows.front();
  double furthest = 0;
  for (const FailureRow& row : failure.rows) {
    for (std::size_t f = 0; f < figures; ++f) {
      const auto consider = [&](const std::string& observer, double was, double is) {
        if (std::abs(is - was) <= furthest) return;
        furthest = std::abs(is - was);
        failure.words = fmt::format(
            "What changes it most: {} {}: {}read by {} {:.2f} of the time, as made {:.2f}.",
            row.what, row.value,
            figures == 1 ? ""
            : f == 0     ? "its first figure is "
                         : "its second figure is ",
            observer, is, was);
      };
      consider("normal", made.figures[f].normal, row.figures[f].normal);
      for (std::size_t a = 0; a < failure.aimed.size(); ++a)
        consider(failure.aimed[a], made.figures[f].aimed[a], row.figures[f].aimed[a]);
    }
  }
  constexpr double little = 0.05;
  if (furthest < little) failure.words = "Nothing tried here changes it by .05 or more.";
  return failure;
}

}  // namespace copunctal
