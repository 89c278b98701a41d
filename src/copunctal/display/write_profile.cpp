#include "copunctal/display/write_profile.h"

#include <array>
#include <cmath>
#include <memory>

#include <lcms2.h>

#include "copunctal/base/expects.h"

namespace copunctal {
namespace {

struct CloseProfile {
  void operator()(void* profile) const { cmsCloseProfile(profile); }
};
struct FreeCurve {
  void operator()(cmsToneCurve* curve) const { cmsFreeToneCurve(curve); }
};
struct FreeText {
  void operator()(cmsMLU* text) const { cmsMLUfree(text); }
};

cmsToneCurve* curve_of(const ToneCurve& curve) {
  if (curve.is_srgb()) {
    // IEC 61966-2-1 as parametric curve type 4 of the format.
    constexpr std::array<cmsFloat64Number, 5> srgb = {2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92,
                                                      0.04045};
    return cmsBuildParametricToneCurve(nullptr, 4, srgb.data());
  }
  if (const auto exponent = curve.exponent()) return cmsBuildGamma(nullptr, *exponent);
  constexpr std::size_t samples = 1024;
  std::array<cmsUInt16Number, samples> table{};
  for (std::size_t i = 0; i < samples; ++i)
    table[i] = static_cast<cmsUInt16Number>(
        std::lround(65535 * curve.decoded(static_cast<double>(i) / (samples - 1))));
  return cmsBuildTabulatedToneCurve16(nullptr, samples, table.data());
}

}  // namespace

std::string profile_of(const Display& display) {
  const auto xyy = [](Chromaticity c) { return cmsCIExyY{c.x, c.y, 1}; };
  const cmsCIExyY white = xyy(display.white);
  const cmsCIExyYTRIPLE primaries = {xyy(display.chromaticities[0]), xyy(display.chromaticities[1]),
                                     xyy(display.chromaticities[2])};
  std::array<std::unique_ptr<cmsToneCurve, FreeCurve>, 3> curves;
  std::array<cmsToneCurve*, 3> raw{};
  for (std::size_t p = 0; p < 3; ++p) {
    curves[p].reset(curve_of(display.curves[p]));
    raw[p] = curves[p].get();
  }
  const std::unique_ptr<void, CloseProfile> profile(
      cmsCreateRGBProfile(&white, &primaries, raw.data()));
  expects(profile != nullptr);
  const std::unique_ptr<cmsMLU, FreeText> name(cmsMLUalloc(nullptr, 1));
  cmsMLUsetASCII(name.get(), "en", "US", display.name.c_str());
  cmsWriteTag(profile.get(), cmsSigProfileDescriptionTag, name.get());
  cmsUInt32Number size = 0;
  cmsSaveProfileToMem(profile.get(), nullptr, &size);
  std::string bytes(size, '\0');
  cmsSaveProfileToMem(profile.get(), bytes.data(), &size);
  // The header's date and time, six big-endian numbers from byte 24.
  constexpr std::array<int, 6> date = {2022, 5, 1, 0, 0, 0};
  for (std::size_t i = 0; i < date.size(); ++i) {
    bytes[24 + 2 * i] = static_cast<char>(date[i] >> 8);
    bytes[25 + 2 * i] = static_cast<char>(date[i] & 0xff);
  }
  return bytes;
}

}  // namespace copunctal
