// A set as sittings show it: its pictures, drawn at their first use, and its reading tables. And
// the same plates for other displays, so that each device of a class gets codes made for its own.
#pragma once

#include <cstdint>
#include <functional>
#include <future>
#include <memory>
#include <mutex>
#include <string>
#include <vector>

#include "copunctal/app/debrief.h"
#include "copunctal/base/result.h"
#include "copunctal/design/plate_set.h"

namespace copunctal {

/// size_px x size_px x 3 bytes: 8-bit R, G, B codes, rows from the top. Shared, never changed.
using PictureBytes = std::shared_ptr<const std::vector<std::uint8_t>>;

/// Makes the reading tables of a set; build_reading_tables() unless a test wants none.
using TablesBuilder = std::function<Result<std::shared_ptr<const ReadingTables>>(const PlateSet&)>;

using SharedTables = std::shared_future<Result<std::shared_ptr<const ReadingTables>>>;

/// May be used from any number of threads.
class ShownSet {
 public:
  explicit ShownSet(PlateSet set);
  ShownSet(const ShownSet&) = delete;
  ShownSet& operator=(const ShownSet&) = delete;
  ~ShownSet() = default;

  const PlateSet& set() const { return set_; }
  /// How a page must read the codes: display/keep_display.h.
  const std::string& colour_space() const { return colour_space_; }
  PictureBytes picture(std::int64_t plate) const;
  /// The same plate with other codes.
  PictureBytes picture_with(std::int64_t plate, std::vector<std::vector<Code>> codes) const;
  /// There once build() has returned.
  const SharedTables& tables() const { return tables_; }
  /// Once.
  void build(const TablesBuilder& builder);

 private:
  struct Drawn {
    std::once_flag once;
    PictureBytes bytes;
  };
  const PlateSet set_;
  const CodeLight light_;
  const std::string colour_space_;
  mutable std::vector<Drawn> drawn_;
  std::promise<Result<std::shared_ptr<const ReadingTables>>> built_;
  SharedTables tables_;
};

/// Whether two sets hold the same plates for different displays: the same symbols, the same figures
/// on plates of the same kinds and aims, pictures of one size. Error: bad_input naming what
/// differs.
Result<void> check_same_plates(const PlateSet& set, const PlateSet& other);

}  // namespace copunctal
