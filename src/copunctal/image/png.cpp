#include "copunctal/image/png.h"

#include <array>
#include <cerrno>
#include <csetjmp>
#include <cstdio>
#include <string>
#include <string_view>
#include <system_error>
#include <vector>

#include <png.h>

#include "copunctal/base/files.h"

namespace copunctal {
namespace {

// libpng reports through longjmp. The message is kept here, and every object that needs destroying
// lives outside the functions that longjmp may leave.
struct Report {
  std::string message;
};

void on_error(png_structp png, png_const_charp message) {
  // A write that failed says more through the system than libpng does.
  static_cast<Report*>(png_get_error_ptr(png))->message =
      std::string_view(message) == "Write Error" ? std::generic_category().message(errno) : message;
  std::longjmp(*png_set_longjmp_fn(png, std::longjmp, sizeof(jmp_buf)), 1);
}
void on_warning(png_structp, png_const_charp) {}

// libpng's two structs, for reading or for writing.
template <bool reads>
struct Codec {
  Report report;
  png_structp png = nullptr;
  png_infop info = nullptr;
  Codec() {
    constexpr auto create = reads ? png_create_read_struct : png_create_write_struct;
    png = create(PNG_LIBPNG_VER_STRING, &report, on_error, on_warning);
    if (png) info = png_create_info_struct(png);
  }
  Codec(const Codec&) = delete;
  Codec& operator=(const Codec&) = delete;
  ~Codec() {
    if constexpr (reads)
      png_destroy_read_struct(&png, &info, nullptr);
    else
      png_destroy_write_struct(&png, &info);
  }
};
using Reader = Codec<true>;
using Writer = Codec<false>;

struct Shape {
  png_uint_32 width = 0, height = 0;
  int channels = 3, passes = 1;
  bool has_alpha = false, has_profile = false;
  int bits = 8;
  std::string_view profile;  // to embed; empty: sRGB
};

// A 747-byte file can make libpng hold 2 GB in an ancillary chunk: only the chunks named here are
// kept.
void keep_few_chunks(png_structp png) {
  png_set_keep_unknown_chunks(png, PNG_HANDLE_CHUNK_NEVER, nullptr, -1);
  static const png_byte kept[] =  // NOLINT(modernize-avoid-c-arrays): what libpng takes
      "sRGB\0gAMA\0cHRM\0tRNS\0iCCP";
  png_set_keep_unknown_chunks(png, PNG_HANDLE_CHUNK_AS_DEFAULT, kept, 5);
  png_set_chunk_malloc_max(png, 4U << 20);
  png_set_user_limits(png, 1'000'000, 1'000'000);
}

bool read_header(Reader& reader, std::FILE* file, Shape& shape) {
  if (setjmp(png_jmpbuf(reader.png))) return false;
  keep_few_chunks(reader.png);
  png_init_io(reader.png, file);
  png_read_info(reader.png, reader.info);
  shape.width = png_get_image_width(reader.png, reader.info);
  shape.height = png_get_image_height(reader.png, reader.info);
  const int type = png_get_color_type(reader.png, reader.info);
  shape.has_alpha = (type & PNG_COLOR_MASK_ALPHA) != 0 ||
                    png_get_valid(reader.png, reader.info, PNG_INFO_tRNS) != 0;
  shape.has_profile = png_get_valid(reader.png, reader.info, PNG_INFO_iCCP) != 0;
  png_set_expand(reader.png);
  png_set_scale_16(reader.png);
  if ((type & PNG_COLOR_MASK_COLOR) == 0) png_set_gray_to_rgb(reader.png);
  shape.passes = png_set_interlace_handling(reader.png);
  png_read_update_info(reader.png, reader.info);
  shape.channels = png_get_channels(reader.png, reader.info);
  return true;
}

bool read_row(Reader& reader, std::uint8_t* row) {
  if (setjmp(png_jmpbuf(reader.png))) return false;
  png_read_row(reader.png, row, nullptr);
  return true;
}

bool read_end(Reader& reader) {
  if (setjmp(png_jmpbuf(reader.png))) return false;
  png_read_end(reader.png, nullptr);
  return true;
}

bool write_header(Writer& writer, std::FILE* file, const Shape& shape) {
  if (setjmp(png_jmpbuf(writer.png))) return false;
  png_init_io(writer.png, file);
  png_set_IHDR(writer.png, writer.info, shape.width, shape.height, shape.bits,
               shape.has_alpha ? PNG_COLOR_TYPE_RGBA : PNG_COLOR_TYPE_RGB, PNG_INTERLACE_NONE,
               PNG_COMPRESSION_TYPE_DEFAULT, PNG_FILTER_TYPE_DEFAULT);
  if (shape.profile.empty())
    png_set_sRGB_gAMA_and_cHRM(writer.png, writer.info, PNG_sRGB_INTENT_RELATIVE);
  else
    png_set_iCCP(writer.png, writer.info, "display", PNG_COMPRESSION_TYPE_BASE,
                 reinterpret_cast<png_const_bytep>(shape.profile.data()),
                 static_cast<png_uint_32>(shape.profile.size()));
  png_set_compression_level(writer.png, 3);
  png_write_info(writer.png, writer.info);
  return true;
}

bool write_row(Writer& writer, const std::uint8_t* row) {
  if (setjmp(png_jmpbuf(writer.png))) return false;
  png_write_row(writer.png, row);
  return true;
}

bool write_end(Writer& writer) {
  if (setjmp(png_jmpbuf(writer.png))) return false;
  png_write_end(writer.png, nullptr);
  return true;
}

tl::unexpected<Error> unreadable(const std::filesystem::path& file, const std::string& why) {
  return fail(Error::Kind::bad_input, file.string() + ": " + why, "picture", file.string(),
              "give an existing, undamaged PNG of at most 200 megapixels");
}

tl::unexpected<Error> unwritable(const std::filesystem::path& file, const std::string& why) {
  return fail(Error::Kind::io, file.string() + ": cannot be written: " + why, "picture",
              file.string(), "choose a directory that exists, is writable and has space");
}

// libpng's words, but for those that say nothing.
tl::unexpected<Error> damaged(const std::filesystem::path& path, const Report& report,
                              std::FILE* file) {
  return unreadable(path, std::feof(file) != 0 ? "ends before its picture does" : report.message);
}

// Whether the file begins as every PNG does; libpng would say "Read Error" to a short text.
Result<void> begins_as_png(std::FILE* file, const std::filesystem::path& path) {
  constexpr std::size_t signature = 8;
  std::array<png_byte, signature> bytes{};
  const std::size_t got = std::fread(bytes.data(), 1, signature, file);
  if (std::ferror(file) != 0) return unreadable(path, std::generic_category().message(errno));
  if (got < signature || png_sig_cmp(bytes.data(), 0, signature) != 0)
    return fail(Error::Kind::bad_input, path.string() + ": is not a PNG picture", "picture",
                path.string(), "open it in the program that made it and save it as PNG");
  std::rewind(file);
  return {};
}

// Opens a PNG and checks its header against the limits.
Result<Shape> opened(Reader& reader, File& file, const std::filesystem::path& path) {
  file.reset(std::fopen(path.c_str(), "rb"));
  if (!file) return unreadable(path, std::generic_category().message(errno));
  COPUNCTAL_TRY_VOID(begins_as_png(file.get(), path));
  Shape shape;
  if (!read_header(reader, file.get(), shape)) return damaged(path, reader.report, file.get());
  if (static_cast<std::int64_t>(shape.width) * shape.height > most_pixels)
    return unreadable(path, std::to_string(shape.width) + " x " + std::to_string(shape.height) +
                                " pixels are more than 200 megapixels");
  return shape;
}

// Rows of a PNG, one at a time; an interlaced file is read whole first.
class Rows {
 public:
  Rows(Reader& reader, const Shape& shape)
      : reader_(reader),
        stride_(static_cast<std::size_t>(shape.width) * static_cast<std::size_t>(shape.channels)),
        whole_(shape.passes > 1),
        height_(shape.height) {
    buffer_.resize(whole_ ? stride_ * height_ : stride_);
    if (!whole_) return;
    for (int pass = 0; pass < shape.passes && good_; ++pass)
      for (std::size_t y = 0; y < height_ && good_; ++y)
        good_ = read_row(reader_, &buffer_[y * stride_]);
  }
  // The next row's bytes, or nothing when the file is damaged.
  std::span<std::uint8_t> next() {
    if (!whole_) good_ = good_ && read_row(reader_, buffer_.data());
    if (!good_) return {};
    const std::size_t at = whole_ ? stride_ * row_++ : 0;
    return {&buffer_[at], stride_};
  }

 private:
  Reader& reader_;
  std::size_t stride_;
  bool whole_, good_ = true;
  std::size_t height_, row_ = 0;
  std::vector<std::uint8_t> buffer_;
};

// A file that only takes its name once it is complete.
class Replacement {
 public:
  explicit Replacement(std::filesystem::path target)
      : target_(std::move(target)), draft_(target_.string() + ".part") {
    file_.reset(std::fopen(draft_.c_str(), "wb"));
  }
  Replacement(const Replacement&) = delete;
  Replacement& operator=(const Replacement&) = delete;
  ~Replacement() {
    if (draft_.empty()) return;
    file_.reset();
    std::error_code ignored;
    std::filesystem::remove(draft_, ignored);
  }
  std::FILE* file() const { return file_.get(); }
  Result<void> finish() {
    if (std::FILE* file = file_.release(); std::fclose(file) != 0)
      return unwritable(target_, std::generic_category().message(errno));
    std::error_code error;
    std::filesystem::rename(draft_, target_, error);
    if (error) return unwritable(target_, error.message());
    draft_.clear();
    return {};
  }

 private:
  std::filesystem::path target_, draft_;
  File file_;
};

}  // namespace

namespace {

// `bytes_of_row` gives row y as PNG has it: big-endian.
Result<void> write_rows(Shape shape, const std::filesystem::path& path,
                        const std::function<const std::uint8_t*(std::size_t y)>& bytes_of_row) {
  Replacement out(path);
  if (!out.file()) return unwritable(path, std::generic_category().message(errno));
  Writer writer;
  bool good = write_header(writer, out.file(), shape);
  for (std::size_t y = 0; y < shape.height && good; ++y) good = write_row(writer, bytes_of_row(y));
  if (!good || !write_end(writer)) return unwritable(path, writer.report.message);
  return out.finish();
}

}  // namespace

Result<void> write_png(const Picture& picture, const std::filesystem::path& path,
                       std::string_view profile) {
  Shape shape;
  shape.width = static_cast<png_uint_32>(picture.width);
  shape.height = static_cast<png_uint_32>(picture.height);
  shape.profile = profile;
  const std::size_t stride = 3 * static_cast<std::size_t>(picture.width);
  return write_rows(shape, path, [&](std::size_t y) { return &picture.rgb[y * stride]; });
}

Result<void> write_png(const DeepPicture& picture, const std::filesystem::path& path,
                       std::string_view profile) {
  Shape shape;
  shape.width = static_cast<png_uint_32>(picture.width);
  shape.height = static_cast<png_uint_32>(picture.height);
  shape.bits = 16;
  shape.profile = profile;
  const std::size_t stride = 3 * static_cast<std::size_t>(picture.width);
  std::vector<std::uint8_t> row(2 * stride);
  return write_rows(shape, path, [&](std::size_t y) {
    for (std::size_t i = 0; i < stride; ++i) {
      const std::uint16_t code = picture.rgb[y * stride + i];
      row[2 * i] = static_cast<std::uint8_t>(code >> 8);
      row[2 * i + 1] = static_cast<std::uint8_t>(code & 0xff);
    }
    return row.data();
  });
}

Result<PngHeader> transform_png(const std::filesystem::path& in, const std::filesystem::path& out,
                                const std::function<void(std::span<std::uint8_t> row)>& change) {
  Reader reader;
  File file;
  COPUNCTAL_TRY(const Shape shape, opened(reader, file, in));
  Replacement target(out);
  if (!target.file()) return unwritable(out, std::generic_category().message(errno));
  Writer writer;
  if (!write_header(writer, target.file(), shape)) return unwritable(out, writer.report.message);
  Rows rows(reader, shape);
  std::vector<std::uint8_t> colours(3 * static_cast<std::size_t>(shape.width));
  for (png_uint_32 y = 0; y < shape.height; ++y) {
    const std::span<std::uint8_t> row = rows.next();
    if (row.empty()) return damaged(in, reader.report, file.get());
    if (shape.has_alpha) {
      for (std::size_t x = 0; x < shape.width; ++x)
        for (std::size_t c = 0; c < 3; ++c) colours[3 * x + c] = row[4 * x + c];
      change(colours);
      for (std::size_t x = 0; x < shape.width; ++x)
        for (std::size_t c = 0; c < 3; ++c) row[4 * x + c] = colours[3 * x + c];
    } else {
      change(row);
    }
    if (!write_row(writer, row.data())) return unwritable(out, writer.report.message);
  }
  if (!read_end(reader)) return damaged(in, reader.report, file.get());
  if (!write_end(writer)) return unwritable(out, writer.report.message);
  COPUNCTAL_TRY_VOID(target.finish());
  return PngHeader{static_cast<int>(shape.width), static_cast<int>(shape.height), shape.has_alpha,
                   shape.has_profile};
}

Result<Picture> read_png(const std::filesystem::path& path) {
  Reader reader;
  File file;
  COPUNCTAL_TRY(const Shape shape, opened(reader, file, path));
  Picture picture(static_cast<int>(shape.width), static_cast<int>(shape.height));
  Rows rows(reader, shape);
  const auto channels = static_cast<std::size_t>(shape.channels);
  std::size_t at = 0;
  for (png_uint_32 y = 0; y < shape.height; ++y) {
    const std::span<std::uint8_t> row = rows.next();
    if (row.empty()) return damaged(path, reader.report, file.get());
    for (std::size_t x = 0; x < shape.width; ++x)
      for (std::size_t c = 0; c < 3; ++c) picture.rgb[at++] = row[channels * x + c];
  }
  return picture;
}

}  // namespace copunctal
