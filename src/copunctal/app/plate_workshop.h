// Sets of plates for the person who prepares a practical: made while they watch, looked at plate by
// plate.
#pragma once

#include <cstddef>
#include <cstdint>
#include <filesystem>
#include <functional>
#include <map>
#include <memory>
#include <mutex>
#include <optional>
#include <stop_token>
#include <string>
#include <string_view>
#include <thread>
#include <vector>

#include "copunctal/app/run_sitting.h"
#include "copunctal/base/result.h"
#include "copunctal/design/make_set.h"
#include "copunctal/design/plate_set.h"

namespace copunctal {

/// What a set is to be.
struct SetWish {
  std::string purpose = "practical", display = "srgb", symbols = "digits";
  std::string loan;  ///< Empty for none.
  std::uint64_t seed = 1;
  int cells = usual_cells;
  std::size_t plates = usual_plates;  ///< Of a practical.
};

/// The set being made, or the one made last.
struct SetMaking {
  enum class State { making, made, stopped, failed };
  State state = State::making;
  SetWish wish;
  std::size_t done = 0, of = 0;
  std::string set;              ///< Its name once made.
  std::string message, remedy;  ///< Why not, if it failed.
};
std::string_view name_of(SetMaking::State state);  ///< "making", "made", "stopped", "failed".

struct SetSummary {
  std::string set;  ///< Its name, by which it is asked for.
  PlateSet contents;
  bool in_use = false;  ///< The one this program's sittings use.
};

/// What one observer is predicted to do with a plate.
struct ShelfReading {
  std::string observer;
  double first = 0, second = 0;
  std::string margins;
};
struct ShelfPlate {
  Plate plate;
  std::vector<ShelfReading> readings;  ///< Of standard_observers().
};

/// A plate's picture through an eye.
struct ShelfPicture {
  PictureBytes bytes;
  int size_px = 0;
  std::string method, colour_space;
};

/// May be used from any number of threads. Sets are known by name only; no path comes in.
class PlateWorkshop {
 public:
  /// Keeps sets as directories below `directory`, which need not exist. `in_use`: the set that
  /// sittings use, listed under its own name wherever it lies.
  PlateWorkshop(std::filesystem::path directory, PlateSet in_use);
  PlateWorkshop(const PlateWorkshop&) = delete;
  PlateWorkshop& operator=(const PlateWorkshop&) = delete;
  ~PlateWorkshop();  ///< Stops what is being made.

  /// Sets that can be read, by name.
  std::vector<SetSummary> sets() const;
  /// Begins to make a set. Errors: usage for a wish that cannot be meant, conflict while another is
  /// being made or when there is such a set already.
  Result<SetMaking> make(const SetWish& wish);
  /// The set in use once more, for another display: begins to make it, or says that it is made.
  /// Errors: usage for the display of the set in use, else as of make().
  Result<SetMaking> make_for(const std::string& display);
  /// `tell` hears of every set that is made, or asked for again, from here on; from any thread.
  /// With none nobody hears, not even of what was being told.
  void when_made(std::function<void(const PlateSet&)> tell);
  /// Asks what is being made to stop; it is said to be stopped once it has.
  void stop();
  /// Nothing before the first.
  std::optional<SetMaking> making() const;

  /// A set by its name, as it is listed. Error: not_found.
  Result<PlateSet> set_named(std::string_view set) const { return found(set); }

  /// Error common to the rest: not_found for a set or plate that is not there.
  Result<std::vector<ShelfPlate>> plates(std::string_view set);
  /// As drawn ("original") or as an observer gets it. Error: usage.
  Result<ShelfPicture> picture(std::string_view set, std::size_t plate,
                               const std::string& observer);
  /// SVG of the plate with its readers' row.
  Result<std::string> readers(std::string_view set, std::size_t plate);
  /// SVG of the plate taken apart for an observer. Error: usage.
  Result<std::string> apart(std::string_view set, std::size_t plate, const std::string& observer);

 private:
  Result<PlateSet> found(std::string_view set) const;
  /// A plate as drawn, made once: an eye that is dragged asks for it with every step.
  std::shared_ptr<const Picture> drawn(const PlateSet& set, std::size_t plate, int size_px,
                                       const Display& display);
  void tell(const PlateSet& set);
  void work(const SetWish& wish, MakeOptions options, const Display& display,
            const std::string& name, const std::stop_token& stop);

  std::filesystem::path directory_;
  PlateSet in_use_;
  mutable std::mutex lock_;
  std::optional<SetMaking> making_;
  std::map<std::string, std::shared_ptr<const std::vector<ShelfPlate>>> shelf_;
  std::map<std::pair<std::string, std::size_t>, std::shared_ptr<const Picture>> drawn_;
  std::mutex telling_;
  std::function<void(const PlateSet&)> tell_;
  std::jthread worker_;
};

}  // namespace copunctal
