// A file that only takes its name once it is complete.
#pragma once

#include <filesystem>

#include "copunctal/base/files.h"
#include "copunctal/base/result.h"

namespace copunctal {

/// The errors of writing a picture.
tl::unexpected<Error> unwritable_picture(const std::filesystem::path& file, const std::string& why);

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
  File file_;
};

}  // namespace copunctal
