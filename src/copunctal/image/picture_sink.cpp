#include "copunctal/image/picture_sink.h"

#include <algorithm>
#include <array>
#include <cerrno>
#include <csetjmp>
#include <cstdarg>
#include <cstring>
#include <string>
#include <system_error>
#include <utility>
#include <vector>

#include <jpeglib.h>
// After it.
#include <jerror.h>
#include <png.h>
#include <tiffio.h>
#include <unistd.h>
#include <webp/encode.h>
#include <webp/mux.h>

#include "copunctal/base/expects.h"
#include "copunctal/image/exif.h"
#include "copunctal/image/replacement.h"

namespace copunctal {
namespace {

namespace fs = std::filesystem;

constexpr int lossy_quality = 92;

// A write that failed says more through the system than a library does.
std::string system_words() {
  return std::generic_category().message(errno);
}

class FileSink : public PictureSink {
 public:
  FileSink(fs::path path, PictureHeader header, std::string_view profile)
      : path_(std::move(path)), header_(std::move(header)), profile_(profile), out_(path_) {}

 protected:
  tl::unexpected<Error> failed(const std::string& why) const {
    return unwritable_picture(path_, why);
  }

  fs::path path_;
  PictureHeader header_;
  std::string profile_;
  Replacement out_;
};

class PngSink : public FileSink {
 public:
  using FileSink::FileSink;
  PngSink(const PngSink&) = delete;
  PngSink& operator=(const PngSink&) = delete;
  ~PngSink() override { png_destroy_write_struct(&png_, &info_); }
  Result<void> open(std::span<const PngText> texts = {}) {
    if (out_.file() == nullptr) return failed(system_words());
    for (const PngText& one : texts) {
      png_text& line = lines_.emplace_back();
      line.compression = PNG_ITXT_COMPRESSION_NONE;
      line.key = const_cast<char*>(one.keyword.c_str());  // the library only reads it
      line.text = const_cast<char*>(one.text.c_str());
    }
    png_ = png_create_write_struct(PNG_LIBPNG_VER_STRING, this, on_error, nullptr);
    if (png_ != nullptr) info_ = png_create_info_struct(png_);
    if (info_ == nullptr || !write_header()) return failed(message_);
    return {};
  }
  Result<void> write(std::span<const std::uint8_t> row) override {
    if (!write_row(row.data())) return failed(message_);
    return {};
  }
  Result<void> finish() override {
    if (!write_end()) return failed(message_);
    return out_.finish();
  }

 private:
  static void on_error(png_structp png, png_const_charp message) {
    static_cast<PngSink*>(png_get_error_ptr(png))->message_ =
        std::string_view(message) == "Write Error" ? system_words() : message;
    std::longjmp(*png_set_longjmp_fn(png, std::longjmp, sizeof(jmp_buf)), 1);
  }
  bool write_header() {
    if (setjmp(png_jmpbuf(png_))) return false;
    png_init_io(png_, out_.file());
    png_set_IHDR(png_, info_, static_cast<png_uint_32>(header_.width),
                 static_cast<png_uint_32>(header_.height), header_.bits,
                 header_.has_alpha ? PNG_COLOR_TYPE_RGBA : PNG_COLOR_TYPE_RGB, PNG_INTERLACE_NONE,
                 PNG_COMPRESSION_TYPE_DEFAULT, PNG_FILTER_TYPE_DEFAULT);
    if (profile_.empty())
      png_set_sRGB_gAMA_and_cHRM(png_, info_, PNG_sRGB_INTENT_RELATIVE);
    else
      png_set_iCCP(png_, info_, "display", PNG_COMPRESSION_TYPE_BASE,
                   reinterpret_cast<png_const_bytep>(profile_.data()),
                   static_cast<png_uint_32>(profile_.size()));
    // One filter and the lightest compression: of photographs smaller than the library's defaults
    // without a filter, in a twentieth of the time.
    png_set_filter(png_, PNG_FILTER_TYPE_BASE, PNG_FILTER_UP);
    png_set_compression_level(png_, 1);
    png_set_text(png_, info_, lines_.data(), static_cast<int>(lines_.size()));
    png_write_info(png_, info_);
    if (header_.bits == 16) png_set_swap(png_);
    return true;
  }
  bool write_row(const std::uint8_t* row) {
    if (setjmp(png_jmpbuf(png_))) return false;
    png_write_row(png_, row);
    return true;
  }
  bool write_end() {
    if (setjmp(png_jmpbuf(png_))) return false;
    png_write_end(png_, nullptr);
    return true;
  }

  std::string message_ = "there is no memory to write it";
  std::vector<png_text> lines_;
  png_structp png_ = nullptr;
  png_infop info_ = nullptr;
};

class JpegSink : public FileSink {
 public:
  using FileSink::FileSink;
  JpegSink(const JpegSink&) = delete;
  JpegSink& operator=(const JpegSink&) = delete;
  ~JpegSink() override { jpeg_destroy_compress(&jpeg_); }
  Result<void> open() {
    jpeg_.err = jpeg_std_error(&errors_.manager);
    errors_.manager.error_exit = on_error;
    errors_.file = out_.file();
    jpeg_create_compress(&jpeg_);
    if (out_.file() == nullptr) return failed(system_words());
    constexpr int longest = 65500;
    if (header_.width > longest || header_.height > longest)
      return fail(Error::Kind::usage,
                  path_.string() + ": no side of a JPEG is longer than 65500 pixels", "output",
                  path_.string(), "name the output .png or .tif");
    if (!start()) return failed(errors_.message);
    return {};
  }
  Result<void> write(std::span<const std::uint8_t> row) override {
    const std::uint8_t* codes = row.data();
    if (header_.bits != 8 || header_.has_alpha) {
      plain_.resize(3 * static_cast<std::size_t>(header_.width));
      plain_row(row, header_, 3, plain_);
      codes = plain_.data();
    }
    if (!write_row(codes)) return failed(errors_.message);
    return {};
  }
  Result<void> finish() override {
    if (!end()) return failed(errors_.message);
    return out_.finish();
  }

 private:
  struct Errors {
    jpeg_error_mgr manager{};
    jmp_buf back{};
    std::string message;
    std::FILE* file = nullptr;
  };
  static void on_error(j_common_ptr jpeg) {
    auto& errors = *reinterpret_cast<Errors*>(jpeg->err);  // the manager is its first member
    std::array<char, JMSG_LENGTH_MAX> words{};
    jpeg->err->format_message(jpeg, words.data());
    errors.message = std::ferror(errors.file) != 0 ? system_words() : words.data();
    std::longjmp(errors.back, 1);
  }
  // The library's own buffer holds 4 KiB, and so near to its end a block is written twice.
  struct Output {
    jpeg_destination_mgr manager{};
    std::FILE* file = nullptr;
    std::array<JOCTET, std::size_t{1} << 16> bytes{};
  };
  static Output& output_of(j_compress_ptr jpeg) {
    return *reinterpret_cast<Output*>(jpeg->dest);  // the manager is its first member
  }
  static void on_start(j_compress_ptr jpeg) {
    Output& output = output_of(jpeg);
    output.manager.next_output_byte = output.bytes.data();
    output.manager.free_in_buffer = output.bytes.size();
  }
  static void put(j_compress_ptr jpeg, std::size_t count) {
    Output& output = output_of(jpeg);
    if (std::fwrite(output.bytes.data(), 1, count, output.file) != count)
      ERREXIT(jpeg, JERR_FILE_WRITE);
  }
  static boolean on_full(j_compress_ptr jpeg) {
    put(jpeg, output_of(jpeg).bytes.size());
    on_start(jpeg);
    return TRUE;
  }
  static void on_end(j_compress_ptr jpeg) {
    put(jpeg, output_of(jpeg).bytes.size() - output_of(jpeg).manager.free_in_buffer);
  }
  bool start() {
    if (setjmp(errors_.back)) return false;
    output_.file = out_.file();
    output_.manager.init_destination = on_start;
    output_.manager.empty_output_buffer = on_full;
    output_.manager.term_destination = on_end;
    jpeg_.dest = &output_.manager;
    jpeg_.image_width = static_cast<JDIMENSION>(header_.width);
    jpeg_.image_height = static_cast<JDIMENSION>(header_.height);
    jpeg_.input_components = 3;
    jpeg_.in_color_space = JCS_RGB;
    jpeg_set_defaults(&jpeg_);
    jpeg_set_quality(&jpeg_, lossy_quality, TRUE);
    for (int c = 0; c < jpeg_.num_components; ++c)
      jpeg_.comp_info[c].h_samp_factor = jpeg_.comp_info[c].v_samp_factor = 1;
    jpeg_start_compress(&jpeg_, TRUE);
    if (header_.orientation != 1) {
      const std::string block = exif_block(header_.orientation);
      jpeg_write_marker(&jpeg_, JPEG_APP0 + 1, reinterpret_cast<const JOCTET*>(block.data()),
                        static_cast<unsigned>(block.size()));
    }
    if (!profile_.empty())
      jpeg_write_icc_profile(&jpeg_, reinterpret_cast<const JOCTET*>(profile_.data()),
                             static_cast<unsigned>(profile_.size()));
    return true;
  }
  bool write_row(const std::uint8_t* codes) {
    if (setjmp(errors_.back)) return false;
    auto* rows = const_cast<JSAMPROW>(codes);  // the library only reads it
    return jpeg_write_scanlines(&jpeg_, &rows, 1) == 1;
  }
  bool end() {
    if (setjmp(errors_.back)) return false;
    jpeg_finish_compress(&jpeg_);
    return true;
  }

  Errors errors_;
  Output output_;
  jpeg_compress_struct jpeg_{};
  std::vector<std::uint8_t> plain_;
};

struct CloseTiff {
  void operator()(TIFF* tiff) const { TIFFClose(tiff); }
};

class TiffSink : public FileSink {
 public:
  using FileSink::FileSink;
  Result<void> open() {
    if (out_.file() == nullptr) return failed(system_words());
    TIFFSetErrorHandler(nullptr);
    TIFFSetWarningHandler(nullptr);
    const int own = dup(fileno(out_.file()));
    if (own < 0) return failed(system_words());
    // Large pictures need the form with longer offsets.
    const double bytes = static_cast<double>(header_.stride()) * header_.height;
    tiff_.reset(TIFFFdOpen(own, path_.c_str(), bytes > 3e9 ? "w8" : "w"));
    if (!tiff_) {
      close(own);
      return failed("there is no memory to write it");
    }
    const auto set = [&](std::uint32_t tag, auto... values) {
      TIFFSetField(tiff_.get(), tag, values...);
    };
    set(TIFFTAG_IMAGEWIDTH, static_cast<std::uint32_t>(header_.width));
    set(TIFFTAG_IMAGELENGTH, static_cast<std::uint32_t>(header_.height));
    set(TIFFTAG_SAMPLESPERPIXEL, static_cast<int>(header_.channels()));
    set(TIFFTAG_BITSPERSAMPLE, header_.bits);
    set(TIFFTAG_ORIENTATION, header_.orientation);
    set(TIFFTAG_PLANARCONFIG, PLANARCONFIG_CONTIG);
    set(TIFFTAG_PHOTOMETRIC, PHOTOMETRIC_RGB);
    set(TIFFTAG_COMPRESSION, COMPRESSION_LZW);
    set(TIFFTAG_PREDICTOR, PREDICTOR_HORIZONTAL);
    if (header_.has_alpha) {
      const std::uint16_t kind = EXTRASAMPLE_UNASSALPHA;
      set(TIFFTAG_EXTRASAMPLES, 1, &kind);
    }
    if (!profile_.empty())
      set(TIFFTAG_ICCPROFILE, static_cast<std::uint32_t>(profile_.size()), profile_.data());
    set(TIFFTAG_ROWSPERSTRIP, TIFFDefaultStripSize(tiff_.get(), 0));
    line_.resize(header_.stride());
    return {};
  }
  Result<void> write(std::span<const std::uint8_t> row) override {
    // The library's predictor works in place.
    std::copy(row.begin(), row.end(), line_.begin());
    if (TIFFWriteScanline(tiff_.get(), line_.data(), row_++, 0) != 1) return failed(system_words());
    return {};
  }
  Result<void> finish() override {
    const bool flushed = TIFFFlush(tiff_.get()) == 1;
    tiff_.reset();
    if (!flushed) return failed(system_words());
    return out_.finish();
  }

 private:
  std::unique_ptr<TIFF, CloseTiff> tiff_;
  std::vector<std::uint8_t> line_;
  std::uint32_t row_ = 0;
};

class WebpSink : public FileSink {
 public:
  using FileSink::FileSink;
  Result<void> open() {
    if (out_.file() == nullptr) return failed(system_words());
    if (header_.width > WEBP_MAX_DIMENSION || header_.height > WEBP_MAX_DIMENSION)
      return fail(Error::Kind::usage,
                  path_.string() + ": no side of a WebP is longer than 16383 pixels", "output",
                  path_.string(), "name the output .png or .jpg");
    return {};
  }
  Result<void> write(std::span<const std::uint8_t> row) override {
    const std::size_t codes = header_.channels() * static_cast<std::size_t>(header_.width);
    pixels_.resize(pixels_.size() + codes);
    plain_row(row, header_, header_.channels(), std::span(pixels_).last(codes));
    return {};
  }
  Result<void> finish() override {
    std::uint8_t* encoded = nullptr;
    const int stride = header_.width * static_cast<int>(header_.channels());
    const std::size_t size = header_.has_alpha
                                 ? WebPEncodeRGBA(pixels_.data(), header_.width, header_.height,
                                                  stride, lossy_quality, &encoded)
                                 : WebPEncodeRGB(pixels_.data(), header_.width, header_.height,
                                                 stride, lossy_quality, &encoded);
    if (size == 0) return failed("the picture could not be encoded");
    WebPData whole{nullptr, 0};
    WebPMux* mux = WebPMuxNew();
    const WebPData picture{encoded, size};
    bool good = WebPMuxSetImage(mux, &picture, 0) == WEBP_MUX_OK;
    if (!profile_.empty()) {
      const WebPData icc{reinterpret_cast<const std::uint8_t*>(profile_.data()), profile_.size()};
      good = good && WebPMuxSetChunk(mux, "ICCP", &icc, 0) == WEBP_MUX_OK;
    }
    good = good && WebPMuxAssemble(mux, &whole) == WEBP_MUX_OK;
    const bool written = good && std::fwrite(whole.bytes, 1, whole.size, out_.file()) == whole.size;
    const std::string why = good ? system_words() : "the picture could not be put together";
    WebPDataClear(&whole);
    WebPMuxDelete(mux);
    WebPFree(encoded);
    if (!written) return failed(why);
    return out_.finish();
  }

 private:
  std::vector<std::uint8_t> pixels_;
};

template <class Sink>
Result<std::unique_ptr<PictureSink>> opened(const fs::path& file, const PictureHeader& header,
                                            std::string_view profile) {
  auto sink = std::make_unique<Sink>(file, header, profile);
  COPUNCTAL_TRY_VOID(sink->open());
  return sink;
}

}  // namespace

Result<PictureFormat> format_for(const fs::path& file) {
  std::string ending = file.extension().string();
  for (char& c : ending)
    if (c >= 'A' && c <= 'Z') c = static_cast<char>(c - 'A' + 'a');
  if (ending == ".png") return PictureFormat::png;
  if (ending == ".jpg" || ending == ".jpeg") return PictureFormat::jpeg;
  if (ending == ".tif" || ending == ".tiff") return PictureFormat::tiff;
  if (ending == ".webp") return PictureFormat::webp;
  return fail(Error::Kind::usage, file.string() + ": no picture is written in this format",
              "output", file.string(), "name the output .png, .jpg, .tif or .webp");
}

std::string_view lost_in(PictureFormat format, const PictureHeader& header) {
  const bool deep = header.bits == 16;
  if (format == PictureFormat::jpeg && header.has_alpha)
    return deep ? "JPEG keeps neither transparency nor 16 bits" : "JPEG keeps no transparency";
  if (format == PictureFormat::jpeg && deep) return "JPEG keeps 8 of 16 bits";
  if (format == PictureFormat::webp && deep) return "WebP keeps 8 of 16 bits";
  return {};
}

Result<std::unique_ptr<PictureSink>> open_sink(const fs::path& file, const PictureHeader& header,
                                               std::string_view profile) {
  COPUNCTAL_TRY(const PictureFormat format, format_for(file));
  switch (format) {
    case PictureFormat::jpeg:
      return opened<JpegSink>(file, header, profile);
    case PictureFormat::tiff:
      return opened<TiffSink>(file, header, profile);
    case PictureFormat::webp:
      expects(header.orientation == 1);
      return opened<WebpSink>(file, header, profile);
    default:
      return open_png(file, header, profile);
  }
}

Result<std::unique_ptr<PictureSink>> open_png(const fs::path& file, const PictureHeader& header,
                                              std::string_view profile,
                                              std::span<const PngText> texts) {
  expects(header.orientation == 1);
  auto sink = std::make_unique<PngSink>(file, header, profile);
  COPUNCTAL_TRY_VOID(sink->open(texts));
  return sink;
}

std::vector<std::uint8_t> upright(const std::vector<std::uint8_t>& pixels, PictureHeader& header) {
  const auto width = static_cast<std::size_t>(header.width),
             height = static_cast<std::size_t>(header.height);
  const std::size_t bytes = header.stride() / width;
  const int o = header.orientation;
  const bool turned = o >= 5;
  const std::size_t to_width = turned ? height : width, to_height = turned ? width : height;
  std::vector<std::uint8_t> result(pixels.size());
  for (std::size_t y = 0; y < to_height; ++y)
    for (std::size_t x = 0; x < to_width; ++x) {
      // Where the upright pixel is stored: 2 mirrored, 3 turned by 180, 4 upside down, 5 over the
      // falling diagonal, 6 turned by 90, 7 over the rising diagonal, 8 turned by 270 degrees.
      std::size_t from_x = turned ? y : x, from_y = turned ? x : y;
      if (o == 2 || o == 3 || o == 7 || o == 8) from_x = width - 1 - from_x;
      if (o == 3 || o == 4 || o == 6 || o == 7) from_y = height - 1 - from_y;
      std::memcpy(&result[(y * to_width + x) * bytes], &pixels[(from_y * width + from_x) * bytes],
                  bytes);
    }
  header.width = static_cast<int>(to_width);
  header.height = static_cast<int>(to_height);
  header.orientation = 1;
  return result;
}

}  // namespace copunctal
