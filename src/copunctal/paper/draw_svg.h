// An SVG as a picture, for whoever reads pictures (image/decode_worker.h).
#pragma once

#include <memory>

#include <cairo.h>
#include <librsvg/rsvg.h>

#include "copunctal/image/picture_source.h"

namespace copunctal {

/// The drawing libraries' objects, let go by themselves.
struct Unref {
  void operator()(RsvgHandle* handle) const { g_object_unref(handle); }
  void operator()(cairo_surface_t* surface) const { cairo_surface_destroy(surface); }
  void operator()(cairo_t* context) const { cairo_destroy(context); }
};
template <class T>
using Owned = std::unique_ptr<T, Unref>;

/// Draws the SVG on a stream at its own size in pixels (a viewBox where it has none), on nothing:
/// with alpha, 8 bits. No file and no address it names is opened. Errors: bad_input.
Result<std::unique_ptr<PictureSource>> draw_svg(std::FILE* file, const PictureLimits& limits);

}  // namespace copunctal
