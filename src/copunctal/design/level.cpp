#include "copunctal/design/level.h"

#include "copunctal/base/expects.h"
#include "copunctal/design/optimise.h"
#include "copunctal/reader/predict.h"

namespace copunctal {
namespace {

constexpr std::uint64_t levelling_seed = 0x6c6576656c;
constexpr std::uint32_t individuals = 200;
constexpr std::size_t draws = 64;

void show(PlateReader& reader, const Recipe& recipe, const Eye& nominal, const CodeLight& light) {
  const auto codes = codes_of(colours_of(recipe, nominal), levels_of(recipe), light);
  expects(codes.has_value());
  reader.set_colours(light.linear(*codes));
}

double mean_read(const PlateReader& reader, const std::vector<std::size_t>& drawn,
                 std::size_t figure, const std::vector<std::string>& observers,
                 const std::map<std::string, std::vector<Eye>>& eyes) {
  double sum = 0;
  for (const std::string& observer : observers) {
    const PredictedReading one = predicted_reading(reader, drawn, eyes.at(observer), draws);
    sum += (figure == 0 ? one.intended : one.second) / static_cast<double>(observers.size());
  }
  return sum;
}

}  // namespace

std::vector<Level> levels_for(const Plate& plate) {
  switch (plate.kind) {
    case PlateKind::vanishing:
      if (plate.aim == Aim::five_nm) return {{0, {"normal"}, 0.95}};
      if (plate.aim == Aim::ten_nm) return {{0, {"normal"}, 0.85}};
      return {{0, {"protan:10", "deutan:10"}, 0.70}};
    case PlateKind::fork:
      return {{0, {"deutan:5"}, 0.45}, {1, {"protan:5"}, 0.62}};
    default:
      return {};
  }
}

Leveller::Leveller(const Display& display) {
  for (const char* name :
       {"normal", "protan:0", "protan:5", "protan:10", "deutan:0", "deutan:5", "deutan:10"}) {
    const IndividualEyes eyes(*observer_from(name), display);
    for (std::uint32_t i = 0; i < individuals; ++i) eyes_[name].push_back(eyes(levelling_seed, i));
  }
}

Recipe Leveller::levelled(const Recipe& recipe, const Plate& plate, const PlateReader& reader,
                          const Eye& nominal, const CodeLight& light, const Loan* loan) const {
  PlateReader at = reader;
  const std::vector<std::size_t> drawn = reader.drawn_on(plate);
  const auto is_shown = [&](const Recipe& r) {
    return excess_of(colours_of(r, nominal), loan) == 0;
  };
  Recipe result = recipe;
  for (const Level& level : levels_for(plate)) {
    const auto reads = [&](const Recipe& r) {
      show(at, r, nominal, light);
      return mean_read(at, drawn, level.figure, level.observers, eyes_);
    };
    // Reading grows with contrast; the largest contrast that is shown bounds the search.
    double low = 0.6, high = 1.6;
    while (high > 1 && !is_shown(with_contrast(result, level.figure, high))) high -= 0.05;
    for (int step = 0; step < 10; ++step) {
      const double middle = (low + high) / 2;
      (reads(with_contrast(result, level.figure, middle)) < level.reads ? low : high) = middle;
    }
    const Recipe there = with_contrast(result, level.figure, (low + high) / 2);
    if (is_shown(there)) result = there;
  }
  return result;
}

double Leveller::missed_aim(const Recipe& recipe, const Plate& plate, const PlateReader& reader,
                            const Eye& nominal, const CodeLight& light) const {
  expects(plate.kind == PlateKind::vanishing);
  std::vector<std::string> aimed = {"protan:0", "deutan:0"};
  if (plate.aim == Aim::five_nm) aimed.insert(aimed.end(), {"protan:5", "deutan:5"});
  if (plate.aim == Aim::ten_nm) aimed.insert(aimed.end(), {"protan:10", "deutan:10"});
  PlateReader at = reader;
  show(at, recipe, nominal, light);
  return mean_read(at, reader.drawn_on(plate), 0, aimed, eyes_);
}

}  // namespace copunctal
