// A file that only takes its name once it is complete.
#pragma once

#include <filesystem>
#include <vector>

#include "copunctal/base/files.h"
#include "copunctal/base/result.h"

namespace copunctal {

/// The errors of writing a picture.
tl::unexpected<Error> unwritable_picture(const std::filesystem::path& file, const std::string& why);

/// Codecs read and write in pieces of a few thousand bytes; a call of the system for each would
/// take longer than it need.
inline constexpr std::size_t picture_file_buffer = std::size_t{1} << 16;

class Replacement {
 public:
  explicit Replacement(std::filesystem::path target);
  Replacement(const Replacement&) = delete;
  Replacement& operator=(const Replacement&) = delete;
  ~Replacement();                                  ///< Without finish(): nothing is left.
  std::FILE* file() const { return file_.get(); }  ///< Null when it cannot be opened.
  Result<void> finish();

 private:
  std::filesystem::path target_, draft_;
  std::vector<char> buffer_ = std::vector<char>(picture_file_buffer);  // outlives its file
  File file_;
};

}  // namespace copunctal
