#include <array>
#include <csetjmp>
#include <cstdio>
#include <cstdlib>
#include <cstring>
#include <string_view>
#include <vector>

#include <jpeglib.h>
// After it.
#include <jerror.h>

#include "copunctal/image/decoders.h"
#include "copunctal/image/exif.h"

namespace copunctal {
namespace {

class JpegSource : public PictureSource {
 public:
  JpegSource(std::FILE* file, std::string name) : name_(std::move(name)) {
    jpeg_.err = jpeg_std_error(&errors_.manager);
    errors_.manager.error_exit = on_error;
    errors_.manager.emit_message = on_message;
    errors_.manager.output_message = on_output;
    jpeg_create_decompress(&jpeg_);
    input_.file = file;
    input_.manager.init_source = on_start;
    input_.manager.fill_input_buffer = on_empty;
    input_.manager.skip_input_data = on_skip;
    input_.manager.resync_to_restart = jpeg_resync_to_restart;
    input_.manager.term_source = on_start;
  }
  JpegSource(const JpegSource&) = delete;
  JpegSource& operator=(const JpegSource&) = delete;
  ~JpegSource() override { jpeg_destroy_decompress(&jpeg_); }

  Result<void> open(const PictureLimits& limits) {
    if (!read_header()) return damaged();
    COPUNCTAL_TRY_VOID(check_limits(name_, jpeg_.image_width, jpeg_.image_height, limits));
    header_.format = PictureFormat::jpeg;
    header_.width = static_cast<int>(jpeg_.image_width);
    header_.height = static_cast<int>(jpeg_.image_height);
    is_ink_ = jpeg_.jpeg_color_space == JCS_CMYK || jpeg_.jpeg_color_space == JCS_YCCK;
    if (is_ink_) header_.note = "inks were turned to red, green and blue without a profile";
    for (jpeg_saved_marker_ptr marker = jpeg_.marker_list; marker != nullptr;
         marker = marker->next) {
      const std::string_view bytes(reinterpret_cast<const char*>(marker->data),
                                   marker->data_length);
      if (marker->marker == JPEG_APP0 + 1) header_.orientation = exif_orientation(bytes);
      if (marker->marker == JPEG_APP0 + 14) is_inverted_ = is_inverted_ || says_inverted(bytes);
    }
    if (!is_ink_) take_profile();
    if (!start()) return damaged();
    if (is_ink_) inks_.resize(4 * static_cast<std::size_t>(header_.width));
    return {};
  }

  Result<void> read(std::span<std::uint8_t> row) override {
    if (!read_row(is_ink_ ? inks_.data() : row.data())) return damaged();
    if (!is_ink_) return {};
    for (std::size_t x = 0; x < static_cast<std::size_t>(header_.width); ++x)
      for (std::size_t c = 0; c < 3; ++c) {
        const unsigned ink = inks_[4 * x + c], key = inks_[4 * x + 3];
        row[3 * x + c] =
            static_cast<std::uint8_t>((is_inverted_ ? ink * key : (255 - ink) * (255 - key)) / 255);
      }
    return {};
  }

 private:
  struct Errors {
    jpeg_error_mgr manager{};
    jmp_buf back{};
    std::string message;
    long warnings = 0;
  };
  static Errors& errors_of(j_common_ptr jpeg) {
    return *reinterpret_cast<Errors*>(jpeg->err);  // the manager is its first member
  }
  static void on_error(j_common_ptr jpeg) {
    std::array<char, JMSG_LENGTH_MAX> words{};
    jpeg->err->format_message(jpeg, words.data());
    errors_of(jpeg).message = words.data();
    std::longjmp(errors_of(jpeg).back, 1);
  }
  static void on_message(j_common_ptr jpeg, int level) {
    if (level < 0) ++errors_of(jpeg).warnings;
  }
  static void on_output(j_common_ptr) {}
  // The library's own buffer holds 4 KiB, and so near to an end its decoder goes a slower way.
  struct Input {
    jpeg_source_mgr manager{};
    std::FILE* file = nullptr;
    std::array<JOCTET, std::size_t{1} << 16> bytes{};
  };
  static void on_start(j_decompress_ptr) {}
  static boolean on_empty(j_decompress_ptr jpeg) {
    auto& input = *reinterpret_cast<Input*>(jpeg->src);  // the manager is its first member
    std::size_t got = std::fread(input.bytes.data(), 1, input.bytes.size(), input.file);
    if (got == 0) {
      // Told to be at its end, the decoder fills up what is missing.
      WARNMS(jpeg, JWRN_JPEG_EOF);
      input.bytes[0] = 0xff;
      input.bytes[1] = JPEG_EOI;
      got = 2;
    }
    input.manager.next_input_byte = input.bytes.data();
    input.manager.bytes_in_buffer = got;
    return TRUE;
  }
  static void on_skip(j_decompress_ptr jpeg, long count) {
    if (count <= 0) return;
    auto left = static_cast<std::size_t>(count);
    while (left > jpeg->src->bytes_in_buffer) {
      left -= jpeg->src->bytes_in_buffer;
      on_empty(jpeg);
    }
    jpeg->src->next_input_byte += left;
    jpeg->src->bytes_in_buffer -= left;
  }
  // A progressive picture may have any number of scans over the same pixels.
  static void on_progress(j_common_ptr jpeg) {
    constexpr int most_scans = 200;
    if (reinterpret_cast<j_decompress_ptr>(jpeg)->input_scan_number <= most_scans) return;
    errors_of(jpeg).message = "has more scans than any camera makes";
    std::longjmp(errors_of(jpeg).back, 1);
  }

  // The segment by which inks are stored inverted, 255 being no ink: 12 bytes or more, which begin
  // with an identifier of five (ITU-T T.872, from memory).
  static bool says_inverted(std::string_view segment) {
    constexpr std::array<unsigned char, 5> identifier = {0x41, 0x64, 0x6f, 0x62, 0x65};
    return segment.size() >= 12 &&
           std::memcmp(segment.data(), identifier.data(), identifier.size()) == 0;
  }
  bool read_header() {
    if (setjmp(errors_.back)) return false;
    jpeg_.src = &input_.manager;
    constexpr unsigned longest_marker = 0xffff;
    jpeg_save_markers(&jpeg_, JPEG_APP0 + 1, longest_marker);
    jpeg_save_markers(&jpeg_, JPEG_APP0 + 2, longest_marker);
    jpeg_save_markers(&jpeg_, JPEG_APP0 + 14, longest_marker);
    jpeg_read_header(&jpeg_, TRUE);
    return true;
  }
  bool start() {
    if (setjmp(errors_.back)) return false;
    jpeg_.out_color_space = is_ink_ ? JCS_CMYK : JCS_RGB;
    progress_.progress_monitor = on_progress;
    jpeg_.progress = &progress_;
    jpeg_start_decompress(&jpeg_);
    return true;
  }
  bool read_row(std::uint8_t* row) {
    if (setjmp(errors_.back)) return false;
    JSAMPROW rows = row;
    if (jpeg_read_scanlines(&jpeg_, &rows, 1) != 1) return false;
    if (jpeg_.output_scanline == jpeg_.output_height) {
      // The decoder fills what is missing with grey and only warns.
      if (errors_.warnings > 0) {
        errors_.message = "ends before its picture does, or is damaged within";
        return false;
      }
    }
    return true;
  }
  void take_profile() {
    JOCTET* bytes = nullptr;
    unsigned length = 0;
    if (jpeg_read_icc_profile(&jpeg_, &bytes, &length) == 0) return;
    header_.profile.assign(reinterpret_cast<const char*>(bytes), length);
    std::free(bytes);  // NOLINT(cppcoreguidelines-no-malloc): the library's own
  }
  tl::unexpected<Error> damaged() const {
    return unreadable_picture(name_,
                              errors_.message.empty() ? "is a damaged JPEG" : errors_.message);
  }

  std::string name_;
  Errors errors_;
  Input input_;
  jpeg_decompress_struct jpeg_{};
  jpeg_progress_mgr progress_{};
  bool is_ink_ = false, is_inverted_ = false;
  std::vector<std::uint8_t> inks_;
};

}  // namespace

Result<std::unique_ptr<PictureSource>> decode_jpeg(std::FILE* file, const std::string& name,
                                                   const PictureLimits& limits) {
  auto source = std::make_unique<JpegSource>(file, name);
  COPUNCTAL_TRY_VOID(source->open(limits));
  return source;
}

}  // namespace copunctal
