#include <algorithm>
#include <array>
#include <cstdarg>
#include <cstring>
#include <vector>

#include <tiffio.h>
#include <unistd.h>

#include "copunctal/image/decoders.h"

namespace copunctal {
namespace {

struct CloseTiff {
  void operator()(TIFF* tiff) const { TIFFClose(tiff); }
};
struct FreeOptions {
  void operator()(TIFFOpenOptions* options) const { TIFFOpenOptionsFree(options); }
};

constexpr std::int64_t most_at_once = std::int64_t{256} << 20;

class TiffSource : public PictureSource {
 public:
  explicit TiffSource(std::string name) : name_(std::move(name)) {}

  Result<void> open(std::FILE* file, const PictureLimits& limits, int page) {
    const std::unique_ptr<TIFFOpenOptions, FreeOptions> options(TIFFOpenOptionsAlloc());
    TIFFOpenOptionsSetMaxSingleMemAlloc(options.get(), most_at_once);
    TIFFOpenOptionsSetErrorHandlerExtR(options.get(), on_error, this);
    TIFFOpenOptionsSetWarningHandlerExtR(options.get(), on_warning, this);
    // Reads by its own descriptor, which it closes; no mapping, so that a file that shrinks is an
    // error and no signal.
    const int own = dup(fileno(file));
    if (own < 0) return unreadable_picture(name_, "cannot be opened again");
    lseek(own, 0, SEEK_SET);
    tiff_.reset(TIFFFdOpenExt(own, name_.c_str(), "rm", options.get()));
    if (!tiff_) {
      close(own);
      return damaged();
    }
    constexpr int most_pages = 1000;
    int pages = 1;
    while (pages < most_pages && TIFFReadDirectory(tiff_.get()) != 0) ++pages;
    message_.clear();  // of whatever follows the last directory
    if (page >= pages) return unreadable_picture(name_, "has " + std::to_string(pages) + " pages");
    if (TIFFSetDirectory(tiff_.get(), static_cast<std::uint16_t>(page)) == 0) return damaged();
    header_.format = PictureFormat::tiff;
    header_.pages = pages;
    std::uint32_t width = 0, height = 0;
    TIFFGetField(tiff_.get(), TIFFTAG_IMAGEWIDTH, &width);
    TIFFGetField(tiff_.get(), TIFFTAG_IMAGELENGTH, &height);
    COPUNCTAL_TRY_VOID(check_limits(name_, width, height, limits));
    header_.width = static_cast<int>(width);
    header_.height = static_cast<int>(height);
    if (std::uint16_t orientation = 1;
        TIFFGetField(tiff_.get(), TIFFTAG_ORIENTATION, &orientation) != 0 && orientation >= 1 &&
        orientation <= 8)
      header_.orientation = orientation;
    std::uint32_t length = 0;
    void* bytes = nullptr;
    if (TIFFGetField(tiff_.get(), TIFFTAG_ICCPROFILE, &length, &bytes) != 0)
      header_.profile.assign(static_cast<const char*>(bytes), length);
    return prepare();
  }

  Result<void> read(std::span<std::uint8_t> row) override {
    return by_strip_ ? read_from_strip(row) : read_scanline(row);
  }

 private:
  static int on_error(TIFF*, void* self, const char*, const char* format, va_list arguments) {
    std::array<char, 200> words{};
    std::vsnprintf(words.data(), words.size(), format, arguments);
    static_cast<TiffSource*>(self)->message_ = words.data();
    return 1;
  }
  static int on_warning(TIFF*, void*, const char*, const char*, va_list) { return 1; }

  Result<void> prepare() {
    std::uint16_t bits = 1, photometric = 0, planar = PLANARCONFIG_CONTIG, extra = 0,
                  format = SAMPLEFORMAT_UINT;
    std::uint16_t* kinds = nullptr;
    TIFFGetFieldDefaulted(tiff_.get(), TIFFTAG_BITSPERSAMPLE, &bits);
    TIFFGetFieldDefaulted(tiff_.get(), TIFFTAG_SAMPLESPERPIXEL, &samples_);
    TIFFGetField(tiff_.get(), TIFFTAG_PHOTOMETRIC, &photometric);
    TIFFGetFieldDefaulted(tiff_.get(), TIFFTAG_PLANARCONFIG, &planar);
    TIFFGetFieldDefaulted(tiff_.get(), TIFFTAG_EXTRASAMPLES, &extra, &kinds);
    TIFFGetFieldDefaulted(tiff_.get(), TIFFTAG_SAMPLEFORMAT, &format);
    const bool grey = photometric == PHOTOMETRIC_MINISBLACK,
               plain = (photometric == PHOTOMETRIC_RGB || grey) && planar == PLANARCONFIG_CONTIG &&
                       (bits == 8 || bits == 16) && format == SAMPLEFORMAT_UINT &&
                       TIFFIsTiled(tiff_.get()) == 0 && samples_ >= (grey ? 1 : 3) && samples_ <= 8;
    if (plain) {
      colours_ = grey ? 1 : 3;
      header_.bits = bits;
      header_.has_alpha = samples_ > colours_ && extra > 0 && kinds[0] != EXTRASAMPLE_UNSPECIFIED;
      is_associated_ = header_.has_alpha && kinds[0] == EXTRASAMPLE_ASSOCALPHA;
      const auto bytes = static_cast<std::int64_t>(TIFFScanlineSize64(tiff_.get()));
      const std::int64_t needed = std::int64_t{header_.width} * samples_ * (bits / 8);
      if (bytes < needed || bytes > most_at_once ||
          static_cast<std::int64_t>(TIFFStripSize64(tiff_.get())) > most_at_once)
        return unreadable_picture(name_, "is packed in strips too large to be read");
      line_.resize(static_cast<std::size_t>(bytes));
      return {};
    }
    // Whatever else the library knows, strip by strip and 8 bits.
    by_strip_ = true;
    // The library would turn some of these by itself; here rows come as they are stored.
    TIFFSetField(tiff_.get(), TIFFTAG_ORIENTATION, ORIENTATION_TOPLEFT);
    std::array<char, 1024> why{};
    if (TIFFRGBAImageOK(tiff_.get(), why.data()) == 0)
      return unreadable_picture(name_,
                                std::string("is a TIFF of a kind not read here: ") + why.data());
    header_.has_alpha = extra > 0;
    if (bits == 16) header_.note = "reduced to 8 bits on reading";
    std::uint32_t rows = 1;
    TIFFGetFieldDefaulted(tiff_.get(), TIFFTAG_ROWSPERSTRIP, &rows);
    if (TIFFIsTiled(tiff_.get()) != 0) {
      std::uint32_t tile_width = 0;
      TIFFGetField(tiff_.get(), TIFFTAG_TILELENGTH, &rows);
      TIFFGetField(tiff_.get(), TIFFTAG_TILEWIDTH, &tile_width);
      tile_width_ = tile_width;
      if (tile_width == 0) return unreadable_picture(name_, "has tiles without a width");
    }
    rows_ = std::clamp<std::uint32_t>(rows, 1, static_cast<std::uint32_t>(header_.height));
    const std::int64_t pixels = std::int64_t{rows_} * header_.width;
    if (rows == 0 || 4 * pixels > most_at_once ||
        (tile_width_ > 0 && 4 * std::int64_t{tile_width_} * rows > most_at_once))
      return unreadable_picture(name_, "is packed in strips too large to be read");
    strip_.resize(static_cast<std::size_t>(pixels));
    if (tile_width_ > 0) tile_.resize(static_cast<std::size_t>(tile_width_) * rows);
    tile_rows_ = rows;
    return {};
  }

  Result<void> read_scanline(std::span<std::uint8_t> row) {
    if (TIFFReadScanline(tiff_.get(), line_.data(), row_++, 0) != 1) return damaged();
    return header_.bits == 16 ? spread<std::uint16_t>(row) : spread<std::uint8_t>(row);
  }
  template <class Number>
  Result<void> spread(std::span<std::uint8_t> row) const {
    constexpr unsigned most = sizeof(Number) == 2 ? 65535 : 255;
    const std::size_t to = header_.channels();
    for (std::size_t x = 0; x < static_cast<std::size_t>(header_.width); ++x) {
      std::array<Number, 8> in{};
      std::memcpy(in.data(), &line_[x * samples_ * sizeof(Number)], samples_ * sizeof(Number));
      std::array<Number, 4> out{in[0], colours_ == 1 ? in[0] : in[1], colours_ == 1 ? in[0] : in[2],
                                in[colours_]};
      // Associated alpha was multiplied in: taken out, so that codes are colours again.
      if (is_associated_ && out[3] > 0)
        for (std::size_t c = 0; c < 3; ++c)
          out[c] = static_cast<Number>(std::min(most, (out[c] * most + out[3] / 2U) / out[3]));
      std::memcpy(&row[x * to * sizeof(Number)], out.data(), to * sizeof(Number));
    }
    return {};
  }

  Result<void> read_from_strip(std::span<std::uint8_t> row) {
    const std::uint32_t within = row_ % tile_rows_;
    if (within == 0) COPUNCTAL_TRY_VOID(fill_strip());
    const std::uint32_t* pixels = &strip_[static_cast<std::size_t>(within) * width()];
    for (std::size_t x = 0; x < width(); ++x) {
      const std::uint32_t p = pixels[x];
      std::array<unsigned, 4> c = {TIFFGetR(p), TIFFGetG(p), TIFFGetB(p), TIFFGetA(p)};
      if (header_.has_alpha && c[3] > 0)
        for (std::size_t i = 0; i < 3; ++i) c[i] = std::min(255U, (c[i] * 255 + c[3] / 2) / c[3]);
      for (std::size_t i = 0; i < header_.channels(); ++i)
        row[header_.channels() * x + i] = static_cast<std::uint8_t>(c[i]);
    }
    ++row_;
    return {};
  }
  // The library gives strips and tiles from the bottom up.
  Result<void> fill_strip() {
    const auto left = static_cast<std::uint32_t>(header_.height) - row_;
    if (tile_width_ == 0) {
      if (TIFFReadRGBAStripExt(tiff_.get(), row_, strip_.data(), 1) == 0) return damaged();
      const std::uint32_t rows = std::min(rows_, left);
      for (std::uint32_t y = 0; y < rows / 2; ++y)
        std::swap_ranges(strip_.begin() + at(y), strip_.begin() + at(y + 1),
                         strip_.begin() + at(rows - 1 - y));
      return {};
    }
    for (std::uint32_t x = 0; x < width(); x += tile_width_) {
      if (TIFFReadRGBATileExt(tiff_.get(), x, row_, tile_.data(), 1) == 0) return damaged();
      const std::size_t wide = std::min<std::size_t>(tile_width_, width() - x);
      for (std::uint32_t y = 0; y < std::min(rows_, left); ++y)
        std::copy_n(tile_.begin() +
                        static_cast<std::ptrdiff_t>(std::size_t{tile_rows_ - 1 - y} * tile_width_),
                    wide, strip_.begin() + at(y) + static_cast<std::ptrdiff_t>(x));
    }
    return {};
  }
  std::size_t width() const { return static_cast<std::size_t>(header_.width); }
  std::ptrdiff_t at(std::uint32_t y) const { return static_cast<std::ptrdiff_t>(y * width()); }

  tl::unexpected<Error> damaged() const {
    return unreadable_picture(name_, message_.empty() ? "is a damaged TIFF" : message_);
  }

  std::string name_, message_;
  std::unique_ptr<TIFF, CloseTiff> tiff_;
  std::uint16_t samples_ = 1;
  std::size_t colours_ = 3;
  bool by_strip_ = false, is_associated_ = false;
  std::uint32_t rows_ = 1, tile_rows_ = 1, tile_width_ = 0, row_ = 0;
  std::vector<std::uint8_t> line_;
  std::vector<std::uint32_t> strip_, tile_;
};

}  // namespace

Result<std::unique_ptr<PictureSource>> decode_tiff(std::FILE* file, const std::string& name,
                                                   const PictureLimits& limits, int page) {
  auto source = std::make_unique<TiffSource>(name);
  COPUNCTAL_TRY_VOID(source->open(file, limits, page));
  return source;
}

}  // namespace copunctal
