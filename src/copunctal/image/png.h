// Pictures in memory as PNG files.
#pragma once

#include <filesystem>
#include <string_view>

#include "copunctal/base/result.h"
#include "copunctal/image/picture.h"

namespace copunctal {

/// Writes an RGB PNG of 8 or 16 bits, beside the target first, then renamed, with an ICC profile
/// embedded or, where `profile` is empty, tagged sRGB. Errors (io) name the file.
Result<void> write_png(const Picture& picture, const std::filesystem::path& file,
                       std::string_view profile = {});
Result<void> write_png(const DeepPicture& picture, const std::filesystem::path& file,
                       std::string_view profile = {});

}  // namespace copunctal
