#include "copunctal/judge/screen.h"

#include <cmath>
#include <string>

#include <Eigen/Dense>

#include "copunctal/base/expects.h"

namespace copunctal {
namespace {

// IEC 61966-2-1, from a code's share of the largest to light.
double srgb_light(double encoded) {
  return encoded <= 0.04045 ? encoded / 12.92 : std::pow((encoded + 0.055) / 1.055, 2.4);
}

// Judd-Vos tristimulus values of a CIE 1931 chromaticity, up to a factor.
Eigen::Vector3d direction_of(JudgeXy cie_1931) {
  const auto [x, y] = judd_vos_xy(cie_1931);
  return {x, y, 1 - x - y};
}

}  // namespace

Result<JudgeScreen> standard_screen(std::string_view name) {
  JudgeScreen screen;
  if (name == "srgb")
    screen.primaries = {{{0.64, 0.33}, {0.30, 0.60}, {0.15, 0.06}}};
  else if (name == "display-p3")
    screen.primaries = {{{0.680, 0.320}, {0.265, 0.690}, {0.150, 0.060}}};
  else if (name == "rec2020")
    screen.primaries = {{{0.708, 0.292}, {0.170, 0.797}, {0.131, 0.046}}};
  else
    return fail(Error::Kind::bad_input,
                "the second judge knows no screen named '" + std::string(name) + "'", "screen",
                std::string(name), "use srgb, display-p3 or rec2020");
  screen.white = {0.3127, 0.3290};
  for (auto& channel : screen.light)
    for (std::size_t code = 0; code < channel.size(); ++code)
      channel[code] = srgb_light(static_cast<double>(code) / 255);
  return screen;
}

JudgeLight::JudgeLight(const JudgeScreen& screen) : light_(screen.light), veil_(screen.veil) {
  Eigen::Matrix3d primaries;
  for (std::size_t p = 0; p < 3; ++p)
    primaries.col(static_cast<Eigen::Index>(p)) = direction_of(screen.primaries[p]);
  expects(std::abs(primaries.determinant()) > 1e-6);
  // How much of each primary makes the white: the usual construction, in Judd-Vos coordinates.
  const Eigen::Vector3d amounts = primaries.partialPivLu().solve(direction_of(screen.white));
  Eigen::Matrix3d lms;
  for (std::size_t cone = 0; cone < 3; ++cone)
    for (std::size_t k = 0; k < 3; ++k)
      lms(static_cast<Eigen::Index>(cone), static_cast<Eigen::Index>(k)) =
          lms_from_judd_vos()[cone][k];
  const Eigen::Matrix3d of_primaries = lms * primaries * amounts.asDiagonal();
  const Eigen::Vector3d white = of_primaries.rowwise().sum();
  for (std::size_t p = 0; p < 3; ++p)
    for (std::size_t cone = 0; cone < 3; ++cone) {
      const auto row = static_cast<Eigen::Index>(cone);
      of_primary_[p][cone] = of_primaries(row, static_cast<Eigen::Index>(p)) / white(row);
    }
  for (std::size_t cone = 0; cone < 3; ++cone)
    white_[cone] = white(static_cast<Eigen::Index>(cone)) / (white(0) + white(1));
}

JudgeCones JudgeLight::cones_of_drives(const std::array<double, 3>& drives) const {
  JudgeCones sum{};
  for (std::size_t p = 0; p < 3; ++p)
    for (std::size_t cone = 0; cone < 3; ++cone) sum[cone] += drives[p] * of_primary_[p][cone];
  return sum;
}

JudgeCones JudgeLight::cones(const JudgeCode& code) const {
  JudgeCones sum = cones_of_drives({light_[0][code[0]], light_[1][code[1]], light_[2][code[2]]});
  for (double& cone : sum) cone += veil_;
  return sum;
}

}  // namespace copunctal
