// The decoders behind decode_picture(), one a format. They keep what they hold within the limits
// before they ask for memory.
#pragma once

#include "copunctal/image/picture_source.h"

namespace copunctal {

Result<std::unique_ptr<PictureSource>> decode_png(std::FILE* file, const std::string& name,
                                                  const PictureLimits& limits);
Result<std::unique_ptr<PictureSource>> decode_jpeg(std::FILE* file, const std::string& name,
                                                   const PictureLimits& limits);
Result<std::unique_ptr<PictureSource>> decode_tiff(std::FILE* file, const std::string& name,
                                                   const PictureLimits& limits, int page);
Result<std::unique_ptr<PictureSource>> decode_webp(std::FILE* file, const std::string& name,
                                                   const PictureLimits& limits);

}  // namespace copunctal
