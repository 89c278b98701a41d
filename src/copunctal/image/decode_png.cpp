#include <csetjmp>
#include <vector>

#include <png.h>

#include "copunctal/image/decoders.h"

namespace copunctal {
namespace {

// libpng reports through longjmp; everything that needs destroying lives in the object, and no
// function that is left that way has anything of its own.
class PngSource : public PictureSource {
 public:
  PngSource(std::FILE* file, std::string name) : file_(file), name_(std::move(name)) {
    png_ = png_create_read_struct(PNG_LIBPNG_VER_STRING, this, on_error, on_warning);
    if (png_) info_ = png_create_info_struct(png_);
  }
  PngSource(const PngSource&) = delete;
  PngSource& operator=(const PngSource&) = delete;
  ~PngSource() override { png_destroy_read_struct(&png_, &info_, nullptr); }

  Result<void> open(const PictureLimits& limits) {
    if (info_ == nullptr) return unreadable_picture(name_, "there is no memory to read it");
    if (!read_info()) return damaged();
    COPUNCTAL_TRY_VOID(check_limits(name_, png_get_image_width(png_, info_),
                                    png_get_image_height(png_, info_), limits));
    if (!prepare()) return damaged();
    png_charp profile_name = nullptr;
    int compression = 0;
    png_bytep bytes = nullptr;
    png_uint_32 length = 0;
    if (png_get_iCCP(png_, info_, &profile_name, &compression, &bytes, &length) != 0)
      header_.profile.assign(reinterpret_cast<const char*>(bytes), length);
    else if (png_get_valid(png_, info_, PNG_INFO_sRGB) != 0)
      header_.profile = srgb_profile();
    if (passes_ > 1) {
      whole_.resize(header_.stride() * static_cast<std::size_t>(header_.height));
      for (int pass = 0; pass < passes_; ++pass)
        for (int y = 0; y < header_.height; ++y)
          if (!read_row(&whole_[header_.stride() * static_cast<std::size_t>(y)])) return damaged();
    }
    return {};
  }

  Result<void> read(std::span<std::uint8_t> row) override {
    if (passes_ > 1) {
      const auto at = whole_.begin() + static_cast<std::ptrdiff_t>(
                                           header_.stride() * static_cast<std::size_t>(row_++));
      std::copy_n(at, header_.stride(), row.begin());
      return {};
    }
    if (!read_row(row.data())) return damaged();
    // What follows the last row is read too: a file that ends early is damaged.
    if (++row_ == header_.height && !read_end()) return damaged();
    return {};
  }

 private:
  static void on_error(png_structp png, png_const_charp message) {
    static_cast<PngSource*>(png_get_error_ptr(png))->message_ = message;
    std::longjmp(*png_set_longjmp_fn(png, std::longjmp, sizeof(jmp_buf)), 1);
  }
  static void on_warning(png_structp, png_const_charp) {}

  bool read_info() {
    if (setjmp(png_jmpbuf(png_))) return false;
    // A 747-byte file can make libpng hold 2 GB in an ancillary chunk: only the chunks named here
    // are kept.
    png_set_keep_unknown_chunks(png_, PNG_HANDLE_CHUNK_NEVER, nullptr, -1);
    static const png_byte kept[] =  // NOLINT(modernize-avoid-c-arrays): what libpng takes
        "sRGB\0gAMA\0cHRM\0tRNS\0iCCP";
    png_set_keep_unknown_chunks(png_, PNG_HANDLE_CHUNK_AS_DEFAULT, kept, 5);
    png_set_chunk_malloc_max(png_, 4U << 20);
    png_set_user_limits(png_, 1'000'000, 1'000'000);
    png_init_io(png_, file_);
    png_read_info(png_, info_);
    return true;
  }
  bool prepare() {
    if (setjmp(png_jmpbuf(png_))) return false;
    const int type = png_get_color_type(png_, info_);
    header_.format = PictureFormat::png;
    header_.width = static_cast<int>(png_get_image_width(png_, info_));
    header_.height = static_cast<int>(png_get_image_height(png_, info_));
    header_.bits = png_get_bit_depth(png_, info_) == 16 ? 16 : 8;
    header_.has_alpha =
        (type & PNG_COLOR_MASK_ALPHA) != 0 || png_get_valid(png_, info_, PNG_INFO_tRNS) != 0;
    png_set_expand(png_);
    if (header_.bits == 16) png_set_swap(png_);
    if ((type & PNG_COLOR_MASK_COLOR) == 0) png_set_gray_to_rgb(png_);
    passes_ = png_set_interlace_handling(png_);
    png_read_update_info(png_, info_);
    return png_get_rowbytes(png_, info_) == header_.stride();
  }
  bool read_row(std::uint8_t* row) {
    if (setjmp(png_jmpbuf(png_))) return false;
    png_read_row(png_, row, nullptr);
    return true;
  }
  bool read_end() {
    if (setjmp(png_jmpbuf(png_))) return false;
    png_read_end(png_, nullptr);
    return true;
  }
  // libpng's words, but for those that say nothing.
  tl::unexpected<Error> damaged() const {
    return unreadable_picture(name_, std::feof(file_) != 0
                                         ? "ends before its picture does"
                                         : (message_.empty() ? "is a damaged PNG" : message_));
  }

  std::FILE* file_;
  std::string name_, message_;
  png_structp png_ = nullptr;
  png_infop info_ = nullptr;
  int passes_ = 1, row_ = 0;
  std::vector<std::uint8_t> whole_;  // of an interlaced file
};

}  // namespace

Result<std::unique_ptr<PictureSource>> decode_png(std::FILE* file, const std::string& name,
                                                  const PictureLimits& limits) {
  auto source = std::make_unique<PngSource>(file, name);
  COPUNCTAL_TRY_VOID(source->open(limits));
  return source;
}

}  // namespace copunctal
