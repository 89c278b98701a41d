// PNG in and out, rows at a time, with limits that hostile files cannot get around.
#pragma once

#include <cstdint>
#include <filesystem>
#include <functional>
#include <span>
#include <string_view>

#include "copunctal/base/result.h"
#include "copunctal/image/picture.h"

namespace copunctal {

/// Largest picture the command line takes.
inline constexpr std::int64_t most_pixels = 200'000'000;

/// Writes an RGB PNG of 8 or 16 bits, beside the target first, then renamed, with an ICC profile
/// embedded or, where `profile` is empty, tagged sRGB. Errors (io) name the file.
Result<void> write_png(const Picture& picture, const std::filesystem::path& file,
                       std::string_view profile = {});
Result<void> write_png(const DeepPicture& picture, const std::filesystem::path& file,
                       std::string_view profile = {});

/// What a PNG transform is told once the header is read.
struct PngHeader {
  int width = 0, height = 0;
  bool has_alpha = false;
  bool has_profile = false;  ///< An embedded ICC profile, which this reader does not apply.
};

/// Reads a PNG of any kind as 8-bit RGB rows (palette and grey expanded, 16 bit reduced), hands
/// each row (3 codes per pixel) to `change` to be altered in place, and writes the result as an RGB
/// PNG, or RGBA with the alpha untouched. Holds one row at a time unless the file is interlaced.
/// Errors: bad_input for missing, damaged or oversized files, io for what cannot be written;
/// nothing is left half-written.
Result<PngHeader> transform_png(const std::filesystem::path& in, const std::filesystem::path& out,
                                const std::function<void(std::span<std::uint8_t> row)>& change);

/// Reads a whole PNG as 8-bit RGB, under the same limits.
Result<Picture> read_png(const std::filesystem::path& file);

}  // namespace copunctal
