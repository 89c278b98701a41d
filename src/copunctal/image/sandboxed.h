// Pictures read by a child that has locked itself up: whatever a hostile file does to a decoder, it
// does it there.
#pragma once

#include <filesystem>
#include <memory>
#include <string>

#include "copunctal/image/picture.h"
#include "copunctal/image/picture_source.h"

namespace copunctal {

struct OpenOptions {
  PictureLimits limits = {};
  int page = 0;
  /// The profile (ICC bytes) of the display the codes are for; embedded ones are turned into it.
  /// Empty: codes come as they are.
  std::string target = {};
  /// Decode here, without a child: for files whose maker is trusted. SVG is always a child's.
  bool trusted = false;
  /// Longest wait for the child's next words, milliseconds; then it is killed.
  int patience_ms = 60'000;
};

/// Opens a picture of any kind. Errors: bad_input naming the file, why and what can be read; io
/// when the decoder is missing; unsupported where the kernel lets nothing be locked up.
Result<std::unique_ptr<PictureSource>> open_picture(const std::filesystem::path& file,
                                                    const OpenOptions& options = {});

/// A fresh source as one whose rows stand upright: itself, or one that was read whole and turned.
Result<std::unique_ptr<PictureSource>> turned_upright(std::unique_ptr<PictureSource> source);

/// The rest of a source as a picture, upright, 8-bit codes, alpha left out.
Result<Picture> whole_picture(PictureSource& source);
/// A whole picture, upright, 8-bit codes, alpha left out. Errors: as open_picture().
Result<Picture> read_picture(const std::filesystem::path& file, const OpenOptions& options = {});

/// The server's: its limits, ten seconds.
OpenOptions options_of_server(std::string target);

}  // namespace copunctal
