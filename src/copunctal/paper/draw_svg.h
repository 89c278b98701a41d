// An SVG as a picture, for whoever reads pictures (image/decode_worker.h).
#pragma once

#include "copunctal/image/picture_source.h"

namespace copunctal {

/// Draws the SVG on a stream at its own size in pixels (a viewBox where it has none), on nothing:
/// with alpha, 8 bits. No file and no address it names is opened. Errors: bad_input.
Result<std::unique_ptr<PictureSource>> draw_svg(std::FILE* file, const PictureLimits& limits);

}  // namespace copunctal
