// The directory a server keeps its data in: private, and held by one server at a time.
#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "copunctal/base/result.h"

namespace copunctal {

/// A directory with mode 0700, locked for as long as this object lives.
class DataDirectory {
 public:
  /// Creates `path` and its parents when missing, closes it to others, and takes
  /// DIR/copunctal.lock. Errors: bad_input when the path names something else; io when it cannot be
  /// made or written, or when another server holds it (the message has its process id).
  static Result<DataDirectory> open(const std::filesystem::path& path);
  DataDirectory(const DataDirectory&) = delete;
  DataDirectory& operator=(const DataDirectory&) = delete;
  DataDirectory(DataDirectory&& other) noexcept;
  DataDirectory& operator=(DataDirectory&&) = delete;
  ~DataDirectory();

  /// DIR/name, existing and readable by the owner alone.
  Result<std::filesystem::path> private_file(const std::string& name);
  /// Makes newly created names survive a power cut.
  Result<void> flush() const;

  const std::filesystem::path& path() const { return path_; }
  /// What was put right on the way, for the person who started the server.
  const std::vector<std::string>& notes() const { return notes_; }

 private:
  explicit DataDirectory(std::filesystem::path path) : path_(std::move(path)) {}
  Result<void> make_private();
  Result<void> take_lock();

  std::filesystem::path path_;
  std::vector<std::string> notes_;
  int lock_ = -1;
};

}  // namespace copunctal
