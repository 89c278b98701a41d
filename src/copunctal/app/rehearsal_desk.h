// A desk for a rehearsal: a store of its own, in a directory that is removed with every byte of it.
#pragma once

#include <cstdint>
#include <filesystem>
#include <memory>

#include "copunctal/app/run_sitting.h"
#include "copunctal/base/result.h"
#include "copunctal/store/store.h"

namespace copunctal {

/// What a rehearsal keeps, below the directory of practicals; nothing else lies there.
std::filesystem::path rehearsal_directory(const std::filesystem::path& data);

/// Removes what a rehearsal left that was never ended. Errors: io when it cannot be removed, or
/// while a program still holds it.
Result<void> remove_rehearsal(const std::filesystem::path& directory);

/// The desk and its store; the directory is removed when this ends.
class RehearsalDesk {
 public:
  /// Ids, orders and lots come from the seed, so the same rehearsal can be played again. Errors: as
  /// remove_rehearsal(), Store::open() and SittingDesk::open().
  static Result<std::unique_ptr<RehearsalDesk>> open(const std::filesystem::path& directory,
                                                     PlateSet set, std::uint64_t seed,
                                                     TablesBuilder tables = build_reading_tables);
  RehearsalDesk(const RehearsalDesk&) = delete;
  RehearsalDesk& operator=(const RehearsalDesk&) = delete;
  ~RehearsalDesk();

  SittingDesk& desk() { return *desk_; }

 private:
  RehearsalDesk() = default;
  std::filesystem::path directory_;
  std::unique_ptr<Store> store_;
  std::unique_ptr<SittingDesk> desk_;
};

}  // namespace copunctal
