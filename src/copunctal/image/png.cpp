#include "copunctal/image/png.h"

namespace copunctal {
namespace {

template <class AnyPicture>
Result<void> written(const AnyPicture& picture, int bits, const std::filesystem::path& file,
                     std::string_view profile, std::span<const PngText> texts) {
  PictureHeader header;
  header.width = picture.width;
  header.height = picture.height;
  header.bits = bits;
  COPUNCTAL_TRY(const auto sink, open_png(file, header, profile, texts));
  const std::span<const std::uint8_t> bytes(
      reinterpret_cast<const std::uint8_t*>(picture.rgb.data()),
      header.stride() * static_cast<std::size_t>(picture.height));
  for (std::size_t at = 0; at < bytes.size(); at += header.stride())
    COPUNCTAL_TRY_VOID(sink->write(bytes.subspan(at, header.stride())));
  return sink->finish();
}

}  // namespace

Result<void> write_png(const Picture& picture, const std::filesystem::path& file,
                       std::string_view profile, std::span<const PngText> texts) {
  return written(picture, 8, file, profile, texts);
}

Result<void> write_png(const DeepPicture& picture, const std::filesystem::path& file,
                       std::string_view profile) {
  return written(picture, 16, file, profile, {});
}

}  // namespace copunctal
