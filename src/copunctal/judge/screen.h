// The screen as the second judge knows it: chromaticities and a curve, no spectra.
#pragma once

#include <array>
#include <cstdint>
#include <string_view>

#include "copunctal/base/result.h"
#include "copunctal/judge/cones.h"

namespace copunctal {

/// An 8-bit colour: R, G, B.
using JudgeCode = std::array<std::uint8_t, 3>;

struct JudgeScreen {
  std::array<JudgeXy, 3> primaries{};  ///< CIE 1931 x, y of R, G, B.
  JudgeXy white{};
  /// Light of each code of R, G, B; 1 at full drive.
  std::array<std::array<double, 256>, 3> light{};
  /// Light that adds to every colour, of the white's chromaticity; luminance relative to white.
  double veil = 0;
};

/// A standard's screen: "srgb" (IEC 61966-2-1), "display-p3" (SMPTE EG 432-1 primaries, D65) or
/// "rec2020" (ITU-R BT.2020), all with the sRGB curve. Error (bad_input): another name.
Result<JudgeScreen> standard_screen(std::string_view name);

/// Codes to cones on a screen.
class JudgeLight {
 public:
  /// Precondition: the primaries are no three points of a line, and no y is 0.
  explicit JudgeLight(const JudgeScreen& screen);
  /// L, M, S of a code, each relative to the white's (so the white is 1, 1, 1 without a veil).
  JudgeCones cones(const JudgeCode& code) const;
  /// The same of linear drives, without the veil.
  JudgeCones cones_of_drives(const std::array<double, 3>& drives) const;
  /// The white's own L, M, S, scaled so that its luminance L + M is 1.
  const JudgeCones& white() const { return white_; }

 private:
  std::array<std::array<double, 256>, 3> light_;
  double veil_;
  std::array<JudgeCones, 3> of_primary_{};
  JudgeCones white_{};
};

}  // namespace copunctal
