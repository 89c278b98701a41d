#include "copunctal/paper/draw_svg.h"

#include <algorithm>
#include <cmath>
#include <cstring>
#include <vector>

#include <cairo.h>
#include <librsvg/rsvg.h>

namespace copunctal {
namespace {

constexpr const char* name = "picture";

class SvgSource : public PictureSource {
 public:
  SvgSource(PictureHeader header, Owned<cairo_surface_t> surface) : surface_(std::move(surface)) {
    header_ = std::move(header);
  }
  // Cairo keeps alpha multiplied into the colours.
  Result<void> read(std::span<std::uint8_t> row) override {
    const unsigned char* at =
        cairo_image_surface_get_data(surface_.get()) +
        static_cast<std::ptrdiff_t>(row_++) * cairo_image_surface_get_stride(surface_.get());
    for (std::size_t x = 0; x < static_cast<std::size_t>(header_.width); ++x) {
      std::uint32_t pixel = 0;
      std::memcpy(&pixel, at + 4 * x, 4);
      const std::uint32_t alpha = pixel >> 24;
      for (std::size_t c = 0; c < 3; ++c) {
        const std::uint32_t code = pixel >> (16 - 8 * c) & 255;
        row[4 * x + c] = static_cast<std::uint8_t>(
            alpha == 0 ? 0 : std::min(255U, (code * 255 + alpha / 2) / alpha));
      }
      row[4 * x + 3] = static_cast<std::uint8_t>(alpha);
    }
    return {};
  }

 private:
  Owned<cairo_surface_t> surface_;
  int row_ = 0;
};

}  // namespace

Result<std::unique_ptr<PictureSource>> draw_svg(std::FILE* file, const PictureLimits& limits) {
  constexpr std::size_t most_bytes = 20U << 20;
  std::vector<unsigned char> bytes(1U << 16);
  std::size_t length = 0;
  while (const std::size_t got = std::fread(&bytes[length], 1, bytes.size() - length, file)) {
    length += got;
    if (length > most_bytes) return unreadable_picture(name, "is an SVG of more than 20 MiB");
    if (length == bytes.size()) bytes.resize(2 * bytes.size());
  }
  GError* error = nullptr;
  const Owned<RsvgHandle> handle(rsvg_handle_new_from_data(bytes.data(), length, &error));
  if (!handle) {
    const std::string why = error != nullptr ? error->message : "is no SVG";
    g_clear_error(&error);
    return unreadable_picture(name, "is an SVG that cannot be read: " + why);
  }
  double width = 0, height = 0;
  if (rsvg_handle_get_intrinsic_size_in_pixels(handle.get(), &width, &height) == 0) {
    gboolean has_width = 0, has_height = 0, has_box = 0;
    RsvgLength w{}, h{};
    RsvgRectangle box{};
    rsvg_handle_get_intrinsic_dimensions(handle.get(), &has_width, &w, &has_height, &h, &has_box,
                                         &box);
    if (has_box == 0) return unreadable_picture(name, "is an SVG that says no size");
    width = box.width;
    height = box.height;
  }
  constexpr double longest = 32'000;  // what Cairo can hold
  if (!(width >= 1) || !(height >= 1) || width > longest || height > longest)
    return unreadable_picture(name, "is an SVG of a size that cannot be drawn");
  PictureHeader header;
  header.format = PictureFormat::svg;
  header.width = static_cast<int>(std::lround(width));
  header.height = static_cast<int>(std::lround(height));
  header.has_alpha = true;
  COPUNCTAL_TRY_VOID(check_limits(name, header.width, header.height, limits));
  Owned<cairo_surface_t> surface(
      cairo_image_surface_create(CAIRO_FORMAT_ARGB32, header.width, header.height));
  if (cairo_surface_status(surface.get()) != CAIRO_STATUS_SUCCESS)
    return unreadable_picture(name, "needs more memory than is given");
  const Owned<cairo_t> context(cairo_create(surface.get()));
  const RsvgRectangle whole{0, 0, width, height};
  if (rsvg_handle_render_document(handle.get(), context.get(), &whole, &error) == 0) {
    const std::string why = error != nullptr ? error->message : "cannot be drawn";
    g_clear_error(&error);
    return unreadable_picture(name, "is an SVG that cannot be drawn: " + why);
  }
  cairo_surface_flush(surface.get());
  return std::make_unique<SvgSource>(std::move(header), std::move(surface));
}

}  // namespace copunctal
