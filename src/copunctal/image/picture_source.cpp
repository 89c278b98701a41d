#include "copunctal/image/picture_source.h"

#include <array>
#include <cerrno>
#include <cmath>
#include <cstring>
#include <system_error>
#include <vector>

#include <lcms2.h>

#include "copunctal/base/expects.h"
#include "copunctal/image/decoders.h"

namespace copunctal {
namespace {

struct CloseProfile {
  void operator()(void* profile) const { cmsCloseProfile(profile); }
};
using Profile = std::unique_ptr<void, CloseProfile>;
struct DeleteTransform {
  void operator()(void* transform) const { cmsDeleteTransform(transform); }
};

}  // namespace

std::string_view name_of(PictureFormat format) {
  switch (format) {
    case PictureFormat::png:
      return "PNG";
    case PictureFormat::jpeg:
      return "JPEG";
    case PictureFormat::tiff:
      return "TIFF";
    case PictureFormat::webp:
      return "WebP";
    case PictureFormat::svg:
      return "SVG";
  }
  return "PNG";
}

void plain_row(std::span<const std::uint8_t> row, const PictureHeader& header, std::size_t channels,
               std::span<std::uint8_t> codes) {
  const std::size_t from = header.channels();
  for (std::size_t x = 0; x < static_cast<std::size_t>(header.width); ++x)
    for (std::size_t c = 0; c < channels; ++c) {
      if (header.bits == 8) {
        codes[channels * x + c] = row[from * x + c];
        continue;
      }
      std::uint16_t deep = 0;
      std::memcpy(&deep, &row[2 * (from * x + c)], 2);
      codes[channels * x + c] = static_cast<std::uint8_t>((deep * 255U + 32767U) / 65535U);
    }
}

void deep_row(std::span<const std::uint8_t> row, const PictureHeader& header,
              std::span<std::uint16_t> codes) {
  constexpr unsigned widened = 257;  // 255 to 65,535
  const std::size_t from = header.channels();
  for (std::size_t x = 0; x < static_cast<std::size_t>(header.width); ++x)
    for (std::size_t c = 0; c < 3; ++c)
      if (header.bits == 8)
        codes[3 * x + c] = static_cast<std::uint16_t>(widened * row[from * x + c]);
      else
        std::memcpy(&codes[3 * x + c], &row[2 * (from * x + c)], 2);
}

std::string srgb_profile() {
  const Profile profile(cmsCreate_sRGBProfile());
  cmsUInt32Number length = 0;
  cmsSaveProfileToMem(profile.get(), nullptr, &length);
  std::string bytes(length, '\0');
  cmsSaveProfileToMem(profile.get(), bytes.data(), &length);
  return bytes;
}

tl::unexpected<Error> unreadable_picture(const std::string& name, const std::string& why) {
  return fail(Error::Kind::bad_input, name + ": " + why, "picture", name,
              "give an existing, undamaged PNG, JPEG, TIFF, WebP or SVG of at most 200 megapixels");
}

Result<void> check_limits(const std::string& name, std::int64_t width, std::int64_t height,
                          const PictureLimits& limits) {
  const std::string size = std::to_string(width) + " x " + std::to_string(height) + " pixels";
  if (width <= 0 || height <= 0) return unreadable_picture(name, size + " are no picture");
  if (width > limits.side || height > limits.side)
    return unreadable_picture(name,
                              size + ": a side is longer than " + std::to_string(limits.side));
  // Both are below 2^31 here: no overflow.
  if (width * height > limits.pixels)
    return unreadable_picture(
        name, size + " are more than " + std::to_string(limits.pixels / 1'000'000) + " megapixels");
  return {};
}

Result<PictureFormat> format_of(std::string_view first, const std::string& name) {
  using namespace std::string_view_literals;
  if (first.starts_with("\x89PNG\r\n\x1a\n"sv)) return PictureFormat::png;
  if (first.starts_with("\xff\xd8\xff"sv)) return PictureFormat::jpeg;
  if (first.starts_with("II*\0"sv) || first.starts_with("MM\0*"sv)) return PictureFormat::tiff;
  if (first.starts_with("RIFF"sv) &&
      first.substr(std::min<std::size_t>(8, first.size())).starts_with("WEBP"sv))
    return PictureFormat::webp;
  const std::size_t text = first.find_first_not_of("\xef\xbb\xbf \t\r\n");
  if (text != std::string_view::npos && first[text] == '<') return PictureFormat::svg;
  return fail(Error::Kind::bad_input, name + ": is no PNG, JPEG, TIFF, WebP or SVG picture",
              "picture", name, "open it in the program that made it and save it as one of these");
}

Result<std::unique_ptr<PictureSource>> decode_picture(std::FILE* file, const std::string& name,
                                                      const PictureLimits& limits, int page) {
  std::array<char, 64> first{};
  const std::size_t got = std::fread(first.data(), 1, first.size(), file);
  if (std::ferror(file) != 0)
    return unreadable_picture(name, std::generic_category().message(errno));
  std::rewind(file);
  COPUNCTAL_TRY(const PictureFormat format, format_of({first.data(), got}, name));
  if (page != 0 && format != PictureFormat::tiff)
    return unreadable_picture(name, "a " + std::string(name_of(format)) + " has one page");
  switch (format) {
    case PictureFormat::png:
      return decode_png(file, name, limits);
    case PictureFormat::jpeg:
      return decode_jpeg(file, name, limits);
    case PictureFormat::tiff:
      return decode_tiff(file, name, limits, page);
    case PictureFormat::webp:
      return decode_webp(file, name, limits);
    case PictureFormat::svg:
      return unreadable_picture(name, "an SVG is drawn by the program for pages only");
  }
  return unreadable_picture(name, "is of no known format");
}

namespace {

Profile profile_from(std::string_view bytes) {
  return Profile(cmsOpenProfileFromMem(bytes.data(), static_cast<cmsUInt32Number>(bytes.size())));
}

class InProfile : public PictureSource {
 public:
  InProfile(std::unique_ptr<PictureSource> inner, void* transform)
      : inner_(std::move(inner)), transform_(transform) {
    header_ = inner_->header();
    if (header_.has_alpha) colours_.resize(header_.stride() / 4 * 3);
  }
  Result<void> read(std::span<std::uint8_t> row) override {
    COPUNCTAL_TRY_VOID(inner_->read(row));
    const auto width = static_cast<cmsUInt32Number>(header_.width);
    if (!header_.has_alpha) {
      cmsDoTransform(transform_.get(), row.data(), row.data(), width);
      return {};
    }
    // Alpha is nobody's business here.
    const std::size_t code = header_.bits == 16 ? 2 : 1;
    for (std::size_t x = 0; x < width; ++x)
      std::memcpy(&colours_[3 * code * x], &row[4 * code * x], 3 * code);
    cmsDoTransform(transform_.get(), colours_.data(), colours_.data(), width);
    for (std::size_t x = 0; x < width; ++x)
      std::memcpy(&row[4 * code * x], &colours_[3 * code * x], 3 * code);
    return {};
  }

 private:
  std::unique_ptr<PictureSource> inner_;
  std::unique_ptr<void, DeleteTransform> transform_;
  std::vector<std::uint8_t> colours_;
};

void say_nothing(cmsContext, cmsUInt32Number, const char*) {}

// Whether two profiles mean the same but for what 8 bits could not show: then codes stay as they
// are.
bool mean_the_same(const Profile& from, const Profile& to) {
  void* exact = cmsCreateTransform(from.get(), TYPE_RGB_DBL, to.get(), TYPE_RGB_DBL,
                                   INTENT_RELATIVE_COLORIMETRIC, cmsFLAGS_NOCACHE);
  if (exact == nullptr) return false;
  const std::unique_ptr<void, DeleteTransform> owned(exact);
  constexpr int steps = 6;
  constexpr double least_seen = 0.6 / 255;
  for (int i = 0; i < steps * steps * steps; ++i) {
    const auto step = [](int k) { return static_cast<double>(k) / (steps - 1); };
    const int blue = i / steps / steps, green = i / steps % steps;
    const std::array<double, 3> code = {step(i % steps), step(green), step(blue)};
    std::array<double, 3> turned{};
    cmsDoTransform(exact, code.data(), turned.data(), 1);
    for (std::size_t c = 0; c < 3; ++c)
      if (std::abs(turned[c] - code[c]) > least_seen) return false;
  }
  return true;
}

// With a note of its own, and no profile that anybody would apply again.
class Noted : public PictureSource {
 public:
  Noted(std::unique_ptr<PictureSource> inner, const std::string& note) : inner_(std::move(inner)) {
    header_ = inner_->header();
    header_.note += (header_.note.empty() ? "" : "; ") + note;
    header_.profile.clear();
  }
  Result<void> read(std::span<std::uint8_t> row) override { return inner_->read(row); }

 private:
  std::unique_ptr<PictureSource> inner_;
};

}  // namespace

Result<std::span<std::uint8_t>> PictureSource::take(std::size_t /*most*/) {
  const std::size_t stride = header_.stride();
  taken_.resize(std::max(taken_.size(), stride));
  COPUNCTAL_TRY_VOID(read(std::span(taken_).first(stride)));
  return std::span(taken_).first(stride);
}

Result<std::unique_ptr<PictureSource>> in_profile(std::unique_ptr<PictureSource> inner,
                                                  std::string_view target) {
  const PictureHeader& header = inner->header();
  if (header.profile.empty())
    return std::make_unique<Noted>(
        std::move(inner), "no colour profile is embedded: codes were taken as the display's");
  cmsSetLogErrorHandler(say_nothing);
  const Profile from = profile_from(header.profile), to = profile_from(target);
  expects(to != nullptr);
  constexpr std::size_t most_bytes = 4U << 20;
  if (header.profile.size() > most_bytes || !from ||
      cmsGetColorSpace(from.get()) != cmsSigRgbData) {
    // A grey or ink profile was made for other codes than these rows have by now.
    return std::make_unique<Noted>(
        std::move(inner),
        "the embedded colour profile is not one for red, green and blue and was not applied");
  }
  if (mean_the_same(from, to))
    return std::make_unique<Noted>(std::move(inner),
                                   "the embedded colour profile is that of the display");
  const cmsUInt32Number layout = header.bits == 16 ? TYPE_RGB_16 : TYPE_RGB_8;
  void* transform = cmsCreateTransform(from.get(), layout, to.get(), layout,
                                       INTENT_RELATIVE_COLORIMETRIC, cmsFLAGS_NOCACHE);
  if (transform == nullptr)
    return std::make_unique<Noted>(std::move(inner),
                                   "the embedded colour profile is damaged and was not applied");
  std::unique_ptr<PictureSource> turned = std::make_unique<InProfile>(std::move(inner), transform);
  return std::make_unique<Noted>(std::move(turned), "the embedded colour profile was applied");
}

}  // namespace copunctal
