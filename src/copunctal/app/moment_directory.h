// A directory for a moment, gone with all that is in it.
#pragma once

#include <cerrno>
#include <cstdlib>
#include <filesystem>
#include <string>
#include <system_error>
#include <utility>

#include "copunctal/base/result.h"

namespace copunctal {

class MomentDirectory {
 public:
  /// Error: io.
  static Result<MomentDirectory> make() {
    std::string name = (std::filesystem::temp_directory_path() / "copunctal-XXXXXX").string();
    if (mkdtemp(name.data()) == nullptr)
      return fail(
          Error::Kind::io,
          "there is no room for a file in between: " + std::generic_category().message(errno),
          "file", name, "make room in the directory for temporary files");
    return MomentDirectory(std::move(name));
  }
  MomentDirectory(MomentDirectory&& other) noexcept : path_(std::exchange(other.path_, {})) {}
  MomentDirectory& operator=(MomentDirectory&&) = delete;
  MomentDirectory(const MomentDirectory&) = delete;
  MomentDirectory& operator=(const MomentDirectory&) = delete;
  ~MomentDirectory() {
    std::error_code ignored;
    if (!path_.empty()) std::filesystem::remove_all(path_, ignored);
  }
  const std::filesystem::path& path() const { return path_; }

 private:
  explicit MomentDirectory(std::string path) : path_(std::move(path)) {}
  std::filesystem::path path_;
};

}  // namespace copunctal
