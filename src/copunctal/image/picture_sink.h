// Rows of codes into picture files, which take their names only once they are complete.
#pragma once

#include <cstdint>
#include <filesystem>
#include <memory>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "copunctal/base/result.h"
#include "copunctal/image/picture_source.h"

namespace copunctal {

class PictureSink {
 public:
  PictureSink() = default;
  PictureSink(const PictureSink&) = delete;
  PictureSink& operator=(const PictureSink&) = delete;
  virtual ~PictureSink() = default;
  /// A row as the header given to open_sink() has it. Error: io.
  virtual Result<void> write(std::span<const std::uint8_t> row) = 0;
  /// After the last row: the file is there from now on. Before, or without it, none is.
  virtual Result<void> finish() = 0;
};

/// The format a file's name asks for: .png, .jpg, .jpeg, .tif, .tiff, .webp, upper or lower case.
/// Error: usage for others, SVG among them.
Result<PictureFormat> format_for(const std::filesystem::path& file);

/// What a format cannot keep of a picture, a sentence; empty for nothing. JPEG: alpha and 16 bits;
/// WebP: 16 bits.
std::string_view lost_in(PictureFormat format, const PictureHeader& header);

/// Opens `file` for a picture of the header's size, bits and alpha, with `profile` (ICC bytes)
/// embedded. The orientation is kept as a tag by JPEG and TIFF; expects 1 for the others. JPEG:
/// quality 92, no channel at less resolution; WebP: quality 92; TIFF: LZW. A format that cannot
/// keep alpha or 16 bits leaves them out: rows are given all the same. Errors: as format_for(); io.
Result<std::unique_ptr<PictureSink>> open_sink(const std::filesystem::path& file,
                                               const PictureHeader& header,
                                               std::string_view profile);

/// A line of text in a PNG: its keyword, such as Title or Description, and UTF-8.
struct PngText {
  std::string keyword, text;
};
/// The same as a PNG, whatever the file is called, with texts in it (PNG, ISO/IEC 15948: iTXt).
Result<std::unique_ptr<PictureSink>> open_png(const std::filesystem::path& file,
                                              const PictureHeader& header, std::string_view profile,
                                              std::span<const PngText> texts = {});

/// Turns a whole picture of `bytes` a pixel so that it stands upright; swaps the header's sides
/// where its orientation is 5 to 8 and makes it 1.
std::vector<std::uint8_t> upright(const std::vector<std::uint8_t>& pixels, PictureHeader& header);

}  // namespace copunctal
