// File systems of a test's own, seen by nobody else and gone with it.
#pragma once

#include <filesystem>
#include <optional>
#include <string>

namespace copunctal {

/// Gives this process (not yet split into threads) its own table of mounts. The sentence says why
/// it may not, if it may not: only root can.
std::optional<std::string> take_own_mounts();

/// A file system in memory of at most `size` ("2m"); unmounted by scope.
class MemoryDisk {
 public:
  /// Throws std::runtime_error when the system refuses.
  MemoryDisk(std::filesystem::path at, const std::string& size);
  MemoryDisk(const MemoryDisk&) = delete;
  MemoryDisk& operator=(const MemoryDisk&) = delete;
  ~MemoryDisk();

  void resize(const std::string& size);

 private:
  std::filesystem::path at_;
};

/// An ext4 file system in a file, whose power can be cut.
class FileDisk {
 public:
  /// Makes the file system, 64 MB, in `image`, and mounts it on the directory `at`. Throws
  /// std::runtime_error, with what the system said, where there are no loop devices.
  FileDisk(std::filesystem::path image, std::filesystem::path at);
  FileDisk(const FileDisk&) = delete;
  FileDisk& operator=(const FileDisk&) = delete;
  ~FileDisk();

  /// From this moment nothing reaches the image: what was not flushed is lost, the file system's
  /// own journal included. From any thread; true when the system did it.
  bool cut_power();
  /// Unmounts what is left and mounts it anew, which replays the journal. Nobody may have a file
  /// open.
  void restore();

 private:
  void mount();

  std::filesystem::path image_, at_;
  bool is_mounted_ = false;
};

}  // namespace copunctal
