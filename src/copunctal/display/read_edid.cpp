#include "copunctal/display/read_edid.h"

#include "copunctal/base/text.h"

namespace copunctal {
namespace {

constexpr std::size_t block_size = 128;
constexpr std::string_view header("\x00\xff\xff\xff\xff\xff\xff\x00", 8);

tl::unexpected<Error> edid_error(const std::string& name, const std::string& what,
                                 const std::string& remedy) {
  return fail(Error::Kind::bad_input, name + ": " + what, "display data block", name, remedy);
}

}  // namespace

Result<Display> display_from_edid(std::string_view bytes, const std::string& name,
                                  std::string_view panel) {
  if (bytes.size() < block_size || !bytes.starts_with(header))
    return edid_error(name, "this is no display data block (EDID)",
                      "on Linux take /sys/class/drm/card*-*/edid of the connected screen");
  const auto byte = [&](std::size_t i) {
    return static_cast<unsigned>(static_cast<unsigned char>(bytes[i]));
  };
  unsigned sum = 0;
  for (std::size_t i = 0; i < block_size; ++i) sum += byte(i);
  if (sum % 256 != 0)
    return edid_error(name, "the data block's checksum is wrong", "read it from the display again");

  // Eight high bits each in bytes 27 to 34, the two low bits packed in 25 and 26.
  const auto coordinate = [&](std::size_t high, std::size_t low_byte, unsigned shift) {
    return ((byte(high) << 2) | ((byte(low_byte) >> shift) & 3U)) / 1024.0;
  };
  const PrimaryColours colours{{{{coordinate(27, 25, 6), coordinate(28, 25, 4)},
                                 {coordinate(29, 25, 2), coordinate(30, 25, 0)},
                                 {coordinate(31, 26, 6), coordinate(32, 26, 4)}}},
                               {coordinate(33, 26, 2), coordinate(34, 26, 0)}};
  auto display = display_of(colours, panel);
  if (!display) return while_doing(name, std::move(display).error());
  constexpr unsigned not_told = 255;
  std::string curve = "sRGB curve assumed";
  if (byte(23) != not_told) {
    const double gamma = 1 + byte(23) / 100.0;
    COPUNCTAL_TRY(const ToneCurve power, ToneCurve::power(gamma));
    display->curves = {power, power, power};
    curve = "gamma " + shortest(gamma);
  }
  display->name = name;
  display->known = DisplayStatus::profile;
  display->status = "profile: chromaticities of the display's own data block, " + curve + ", " +
                    display->status + "; neither was measured";
  return display;
}

}  // namespace copunctal
