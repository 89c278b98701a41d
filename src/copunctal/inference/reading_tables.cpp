#include "copunctal/inference/reading_tables.h"

#include <cmath>
#include <optional>

#include "copunctal/base/expects.h"
#include "copunctal/base/parallel.h"
#include "copunctal/base/text.h"

namespace copunctal {
namespace {

constexpr std::size_t individuals_per_point = 150;
constexpr std::size_t draws_per_individual = 256;

std::vector<GridPoint> standard_grid() {
  std::vector<GridPoint> grid = {{ObserverKind::normal, 28, "normal"}};
  for (const ObserverKind kind : {ObserverKind::protan, ObserverKind::deutan})
    for (const double nm : {0.0, 1.0, 2.5, 5.0, 7.5, 10.0, 12.5, 15.0, 17.5, 20.0, 22.5, 25.0})
      grid.push_back({kind, nm, std::string(name_of(kind)) + ":" + shortest(nm)});
  grid.push_back({ObserverKind::tritan, 28, "tritan"});
  return grid;
}

}  // namespace

std::shared_ptr<const ReadingTables> ReadingTables::build(const std::vector<Plate>& plates,
                                                          const std::vector<std::string>& symbols,
                                                          const Display& display,
                                                          unsigned threads) {
  return build(plates, std::vector(plates.size(), symbols), display, threads);
}

std::shared_ptr<const ReadingTables> ReadingTables::build(
    const std::vector<Plate>& plates, const std::vector<std::vector<std::string>>& rows,
    const Display& display, unsigned threads) {
  expects(!plates.empty() && rows.size() == plates.size());
  const std::size_t symbols = rows.front().size();
  for (const auto& row : rows) expects(row.size() == symbols);
  auto tables = std::make_shared<ReadingTables>();
  tables->grid_ = standard_grid();
  tables->individuals_ = individuals_per_point;
  tables->symbols_ = symbols;
  std::vector<std::optional<PlateReader>> readers(plates.size());
  const CodeLight light(display.curves);
  parallel_for(
      plates.size(),
      [&](std::size_t p) {
        readers[p] = PlateReader::of(plates[p], rows[p]);
        readers[p]->show_on(light);
      },
      threads);
  for (std::size_t p = 0; p < plates.size(); ++p) {
    tables->first_slot_.push_back(tables->all_slots_);
    tables->slots_of_.push_back(readers[p]->slots());
    tables->all_slots_ += readers[p]->slots();
    tables->drawn_.push_back(readers[p]->drawn_on(plates[p]));
  }
  const std::size_t points = tables->grid_.size(), width = symbols + 1;
  tables->values_.resize(points * individuals_per_point * tables->all_slots_ * width);
  tables->margins_.resize(points * plates.size());
  parallel_for(
      points,
      [&](std::size_t point) {
        const Observer centre = *observer_from(tables->grid_[point].name);
        const std::vector<Eye> eyes = fresh_eyes(centre, display, individuals_per_point, 1);
        const Eye nominal = nominal_eye(centre, display);
        for (std::size_t p = 0; p < plates.size(); ++p) {
          tables->margins_[point * plates.size() + p] =
              margins_in_words(*readers[p], plates[p], nominal);
          for (std::size_t i = 0; i < eyes.size(); ++i) {
            const auto slots =
                readers[p]->readings(eyes[i], draws_per_individual, i * draws_per_individual);
            float* to = &tables->values_[((point * individuals_per_point + i) * tables->all_slots_ +
                                          tables->first_slot_[p]) *
                                         width];
            for (const SlotReading& slot : slots) {
              for (const double read : slot.reads) *to++ = static_cast<float>(read);
              *to++ = static_cast<float>(slot.nothing);
            }
          }
        }
      },
      threads);
  return tables;
}

std::vector<SlotReading> ReadingTables::slots(std::size_t point, std::size_t individual,
                                              std::size_t plate) const {
  const std::size_t width = symbols_ + 1;
  const float* from =
      &values_[((point * individuals_ + individual) * all_slots_ + first_slot_[plate]) * width];
  std::vector<SlotReading> result(slots_of_[plate]);
  for (SlotReading& slot : result) {
    slot.reads.assign(from, from + symbols_);
    slot.nothing = static_cast<double>(from[symbols_]);
    from += width;
  }
  return result;
}

double ReadingTables::probability(std::size_t point, std::size_t individual, std::size_t plate,
                                  const std::vector<std::size_t>& answer) const {
  expects(point < grid_.size() && individual < individuals_ && plate < plates());
  if (answer.size() > slots_of_[plate]) return 0;
  return probability_of(slots(point, individual, plate), answer);
}

std::vector<SlotReading> ReadingTables::mean_reading(std::size_t point, std::size_t plate) const {
  std::vector<SlotReading> mean(slots_of_[plate]);
  for (SlotReading& slot : mean) slot.reads.assign(symbols_, 0);
  const double share = 1 / static_cast<double>(individuals_);
  for (std::size_t i = 0; i < individuals_; ++i) {
    const auto one = slots(point, i, plate);
    for (std::size_t s = 0; s < mean.size(); ++s) {
      for (std::size_t k = 0; k < symbols_; ++k) mean[s].reads[k] += share * one[s].reads[k];
      mean[s].nothing += share * one[s].nothing;
    }
  }
  return mean;
}

PredictedReading ReadingTables::prediction(std::size_t point, std::size_t plate) const {
  PredictedReading mean;
  const double share = 1 / static_cast<double>(individuals_);
  double squares = 0;
  for (std::size_t i = 0; i < individuals_; ++i) {
    const PredictedReading one = reading_of(slots(point, i, plate), drawn_[plate]);
    mean.intended += share * one.intended;
    squares += share * one.intended * one.intended;
    mean.second += share * one.second;
    mean.nothing += share * one.nothing;
    mean.other += share * one.other;
  }
  mean.mc_error = std::sqrt(std::max(0.0, squares - mean.intended * mean.intended) * share);
  return mean;
}

}  // namespace copunctal
