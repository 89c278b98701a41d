#include "copunctal/app/rehearsal_desk.h"

#include <mutex>
#include <system_error>
#include <utility>

#include "copunctal/base/random.h"
#include "copunctal/store/data_directory.h"

namespace copunctal {
namespace {

namespace fs = std::filesystem;

/// Bytes by the seed, in the order in which they are asked for.
RandomBytes bytes_of(std::uint64_t seed) {
  struct Stream {
    explicit Stream(std::uint64_t of) : random(of, 0x7265) {}
    std::mutex mutex;
    RandomStream random;
  };
  return [stream = std::make_shared<Stream>(seed)](std::span<std::byte> bytes) {
    const std::lock_guard lock(stream->mutex);
    for (std::byte& byte : bytes) byte = static_cast<std::byte>(stream->random.bits32() & 0xffU);
  };
}

}  // namespace

fs::path rehearsal_directory(const fs::path& data) {
  return data / "rehearsal";
}

Result<void> remove_rehearsal(const fs::path& directory) {
  std::error_code trouble;
  if (!fs::exists(directory, trouble)) return {};
  {
    // Nobody else's: whoever holds it is rehearsing.
    COPUNCTAL_TRY(const DataDirectory held, DataDirectory::open(directory));
  }
  fs::remove_all(directory, trouble);
  if (trouble)
    return fail(Error::Kind::io, directory.string() + " cannot be removed: " + trouble.message(),
                "rehearsal", directory.string(), "remove it by hand; nobody's data are in it");
  return {};
}

Result<std::unique_ptr<RehearsalDesk>> RehearsalDesk::open(const fs::path& directory, PlateSet set,
                                                           std::uint64_t seed,
                                                           TablesBuilder tables) {
  COPUNCTAL_TRY_VOID(remove_rehearsal(directory));
  std::unique_ptr<RehearsalDesk> opened(new RehearsalDesk);
  const DeskClocks clocks = system_clocks();
  COPUNCTAL_TRY(opened->store_, Store::open(directory, clocks.utc()));
  opened->directory_ = directory;
  COPUNCTAL_TRY(opened->desk_, SittingDesk::open(*opened->store_, std::move(set), clocks,
                                                 bytes_of(seed), std::move(tables)));
  return opened;
}

RehearsalDesk::~RehearsalDesk() {
  desk_.reset();
  store_.reset();
  std::error_code ignored;
  if (!directory_.empty()) fs::remove_all(directory_, ignored);
}

}  // namespace copunctal
