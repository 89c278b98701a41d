#include <algorithm>
#include <cerrno>
#include <system_error>
#include <vector>

#include <webp/decode.h>
#include <webp/demux.h>

#include "copunctal/image/decoders.h"
#include "copunctal/image/exif.h"

namespace copunctal {
namespace {

struct DeleteDemuxer {
  void operator()(WebPDemuxer* demuxer) const { WebPDemuxDelete(demuxer); }
};

class WebpSource : public PictureSource {
 public:
  explicit WebpSource(PictureHeader header, std::vector<std::uint8_t> pixels)
      : pixels_(std::move(pixels)) {
    header_ = std::move(header);
  }
  Result<void> read(std::span<std::uint8_t> row) override {
    std::copy_n(pixels_.begin() + static_cast<std::ptrdiff_t>(at_), header_.stride(), row.begin());
    at_ += header_.stride();
    return {};
  }

 private:
  std::vector<std::uint8_t> pixels_;
  std::size_t at_ = 0;
};

}  // namespace

Result<std::unique_ptr<PictureSource>> decode_webp(std::FILE* file, const std::string& name,
                                                   const PictureLimits& limits) {
  // The format needs the file whole.
  constexpr std::size_t most_bytes = 100U << 20;
  std::vector<std::uint8_t> bytes;
  std::vector<std::uint8_t> block(1U << 16);
  for (std::size_t got = 0; (got = std::fread(block.data(), 1, block.size(), file)) > 0;) {
    bytes.insert(bytes.end(), block.begin(), block.begin() + static_cast<std::ptrdiff_t>(got));
    if (bytes.size() > most_bytes)
      return unreadable_picture(name, "is a WebP of more than 100 MiB");
  }
  if (std::ferror(file) != 0)
    return unreadable_picture(name, std::generic_category().message(errno));
  const WebPData data{bytes.data(), bytes.size()};
  const std::unique_ptr<WebPDemuxer, DeleteDemuxer> demuxer(WebPDemux(&data));
  if (!demuxer) return unreadable_picture(name, "is a damaged WebP");
  PictureHeader header;
  header.format = PictureFormat::webp;
  WebPIterator frame{};
  if (WebPDemuxGetFrame(demuxer.get(), 1, &frame) == 0)
    return unreadable_picture(name, "is a WebP without a picture");
  WebPBitstreamFeatures features{};
  const bool known =
      WebPGetFeatures(frame.fragment.bytes, frame.fragment.size, &features) == VP8_STATUS_OK;
  const int frames = frame.num_frames;
  const auto release = [&] { WebPDemuxReleaseIterator(&frame); };
  if (!known) {
    release();
    return unreadable_picture(name, "is a damaged WebP");
  }
  if (auto within = check_limits(name, features.width, features.height, limits); !within) {
    release();
    return tl::unexpected(std::move(within).error());
  }
  header.width = features.width;
  header.height = features.height;
  header.has_alpha = features.has_alpha != 0;
  if (frames > 1) header.note = "the first of " + std::to_string(frames) + " frames";
  std::vector<std::uint8_t> pixels(header.stride() * static_cast<std::size_t>(header.height));
  const auto* decoded =
      header.has_alpha
          ? WebPDecodeRGBAInto(frame.fragment.bytes, frame.fragment.size, pixels.data(),
                               pixels.size(), static_cast<int>(header.stride()))
          : WebPDecodeRGBInto(frame.fragment.bytes, frame.fragment.size, pixels.data(),
                              pixels.size(), static_cast<int>(header.stride()));
  release();
  if (decoded == nullptr) return unreadable_picture(name, "is a damaged WebP");
  for (const auto& [tag, take] : {std::pair{"ICCP", &header.profile},
                                  std::pair<const char*, std::string*>{"EXIF", nullptr}}) {
    WebPChunkIterator chunk{};
    if (WebPDemuxGetChunk(demuxer.get(), tag, 1, &chunk) == 0) continue;
    const std::string_view text(reinterpret_cast<const char*>(chunk.chunk.bytes), chunk.chunk.size);
    if (take != nullptr)
      *take = text;
    else
      header.orientation = exif_orientation(text.starts_with("Exif")
                                                ? std::string(text)
                                                : std::string("Exif\0\0", 6) + std::string(text));
    WebPDemuxReleaseChunkIterator(&chunk);
  }
  return std::make_unique<WebpSource>(std::move(header), std::move(pixels));
}

}  // namespace copunctal
