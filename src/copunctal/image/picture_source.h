// Pictures of any kind as rows of codes, one after the other, under limits that hostile files
// cannot get around.
//
// Decoders here run in whichever process calls them: the command line and the server read through a
// child that has locked itself up first (image/sandboxed.h).
#pragma once

#include <cstdint>
#include <cstdio>
#include <memory>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "copunctal/base/result.h"

namespace copunctal {

enum class PictureFormat : std::uint32_t { png, jpeg, tiff, webp, svg };
/// "PNG", "JPEG", ...
std::string_view name_of(PictureFormat format);

/// What is known once a picture's header is read.
struct PictureHeader {
  PictureFormat format = PictureFormat::png;
  int width = 0, height = 0;
  int bits = 8;            ///< Of a code: 8 or 16.
  bool has_alpha = false;  ///< Rows then have 4 codes a pixel, else 3.
  int orientation = 1;     ///< As EXIF and TIFF number it: 1 upright, to 8.
  int pages = 1;
  std::string profile;  ///< An embedded ICC profile's bytes; empty: none.
  std::string note;     ///< What was assumed on reading, a sentence; empty: nothing.

  std::size_t channels() const { return has_alpha ? 4 : 3; }
  /// Bytes of a row: 16-bit codes have the machine's order of bytes.
  std::size_t stride() const {
    return static_cast<std::size_t>(width) * channels() * (bits == 16 ? 2 : 1);
  }
};

/// What is refused unread.
struct PictureLimits {
  std::int64_t pixels = 200'000'000;
  int side = 1'000'000;
};
/// Of what comes in through the server.
inline constexpr PictureLimits limits_of_server = {40'000'000, 8192};

/// An open picture. Rows come once, from the top.
class PictureSource {
 public:
  PictureSource() = default;
  PictureSource(const PictureSource&) = delete;
  PictureSource& operator=(const PictureSource&) = delete;
  virtual ~PictureSource() = default;
  const PictureHeader& header() const { return header_; }
  /// The next row, R, G, B (A), into header().stride() bytes; expects that there is one left.
  /// Error: bad_input for a damaged picture.
  virtual Result<void> read(std::span<std::uint8_t> row) = 0;
  /// One to `most` of the next rows where they lie, which may be changed there until the next call;
  /// expects that there is one left. Errors as of read.
  virtual Result<std::span<std::uint8_t>> take(std::size_t most);

 protected:
  PictureHeader header_;

 private:
  std::vector<std::uint8_t> taken_;
};

/// Opens a PNG, JPEG, TIFF or WebP, told apart by its first bytes. `file` stays the caller's and
/// must outlive the source; `name` is what errors call it. `page`: of a TIFF, from 0. Errors:
/// bad_input, naming the picture, why it cannot be read, and what can.
Result<std::unique_ptr<PictureSource>> decode_picture(std::FILE* file, const std::string& name,
                                                      const PictureLimits& limits, int page = 0);

/// The format a file's first bytes (12 or more) are of: SVG for text that may be one.
Result<PictureFormat> format_of(std::string_view first_bytes, const std::string& name);

/// `inner`, its codes turned from its embedded profile to those of `target` (ICC bytes); without an
/// embedded profile its codes are taken as the target's, and a note says so. Perceptual intent with
/// black point compensation off (relative colorimetric for matrix profiles: Little CMS). Error:
/// bad_input for an embedded profile that cannot be used.
Result<std::unique_ptr<PictureSource>> in_profile(std::unique_ptr<PictureSource> inner,
                                                  std::string_view target);

/// sRGB as an ICC profile (Little CMS), for formats that only say the word.
std::string srgb_profile();

/// The first `channels` codes of every pixel of a row, with 8 bits.
void plain_row(std::span<const std::uint8_t> row, const PictureHeader& header, std::size_t channels,
               std::span<std::uint8_t> codes);

/// The colours of every pixel of a row, with 16 bits.
void deep_row(std::span<const std::uint8_t> row, const PictureHeader& header,
              std::span<std::uint16_t> codes);

/// The errors every decoder gives.
tl::unexpected<Error> unreadable_picture(const std::string& name, const std::string& why);
Result<void> check_limits(const std::string& name, std::int64_t width, std::int64_t height,
                          const PictureLimits& limits);

}  // namespace copunctal
