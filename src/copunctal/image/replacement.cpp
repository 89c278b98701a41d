#include "copunctal/image/replacement.h"

#include <cerrno>
#include <system_error>

namespace copunctal {

tl::unexpected<Error> unwritable_picture(const std::filesystem::path& file,
                                         const std::string& why) {
  return fail(Error::Kind::io, file.string() + ": cannot be written: " + why, "picture",
              file.string(), "choose a directory that exists, is writable and has space");
}

Replacement::Replacement(std::filesystem::path target)
    : target_(std::move(target)), draft_(target_.string() + ".part") {
  file_.reset(std::fopen(draft_.c_str(), "wb"));
  if (file_) std::setvbuf(file_.get(), buffer_.data(), _IOFBF, buffer_.size());
}

Replacement::~Replacement() {
  if (draft_.empty()) return;
  const bool was_open = file_ != nullptr;
  file_.reset();
  std::error_code ignored;
  if (was_open) std::filesystem::remove(draft_, ignored);
}

Result<void> Replacement::finish() {
  std::error_code error;
  if (std::FILE* file = file_.release(); std::fclose(file) != 0) {
    const std::string why = std::generic_category().message(errno);
    std::filesystem::remove(draft_, error);
    draft_.clear();
    return unwritable_picture(target_, why);
  }
  std::filesystem::rename(draft_, target_, error);
  if (error) {
    const std::string why = error.message();
    std::filesystem::remove(draft_, error);
    draft_.clear();
    return unwritable_picture(target_, why);
  }
  draft_.clear();
  return {};
}

}  // namespace copunctal
