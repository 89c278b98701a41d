// Pictures in memory as PNG files.
#pragma once

#include <filesystem>
#include <span>
#include <string_view>

#include "copunctal/base/result.h"
#include "copunctal/image/picture.h"
#include "copunctal/image/picture_sink.h"

namespace copunctal {

/// Writes an RGB PNG of 8 or 16 bits, beside the target first, then renamed, with an ICC profile
/// embedded or, where `profile` is empty, tagged sRGB, and `texts` in it. Errors (io) name the
/// file.
Result<void> write_png(const Picture& picture, const std::filesystem::path& file,
                       std::string_view profile = {}, std::span<const PngText> texts = {});
Result<void> write_png(const DeepPicture& picture, const std::filesystem::path& file,
                       std::string_view profile = {});

}  // namespace copunctal
