#include "copunctal/app/set_readers.h"

#include <optional>

#include "copunctal/base/parallel.h"

namespace copunctal {

PlateReader reader_of(const PlateSet& set, const Plate& plate, const CodeLight& light,
                      const DiscriminationModel& model) {
  PlateReader reader = PlateReader::of(plate, answer_row(set, plate), model);
  reader.show_on(light);
  return reader;
}

std::vector<PlateReader> readers_of(const PlateSet& set, const CodeLight& light,
                                    const DiscriminationModel& model) {
  std::vector<std::optional<PlateReader>> made(set.plates.size());
  parallel_for(made.size(),
               [&](std::size_t p) { made[p] = reader_of(set, set.plates[p], light, model); });
  std::vector<PlateReader> readers;
  readers.reserve(made.size());
  for (auto& one : made) readers.push_back(*std::move(one));
  return readers;
}

}  // namespace copunctal
