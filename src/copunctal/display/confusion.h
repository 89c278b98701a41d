// What an observer confuses on a display: copunctal points, confusion lines, neutral points.
#pragma once

#include <array>
#include <optional>
#include <string>
#include <vector>

#include "copunctal/display/display.h"
#include "copunctal/observer/luminance.h"
#include "copunctal/observer/neutral.h"

namespace copunctal {

/// The diagrams a confusion line can be drawn in.
enum class Diagram {
  xy,               ///< CIE 1931, as the display makes it.
  uv,               ///< CIE 1976 u'v'.
  macleod_boynton,  ///< The observer's own cones: l = share of L in luminance, s = S / luminance.
};
inline constexpr std::array<Diagram, 3> all_diagrams = {Diagram::xy, Diagram::uv,
                                                        Diagram::macleod_boynton};
/// "xy", "u'v'", "macleod-boynton".
std::string_view name_of(Diagram diagram);

/// A place in a diagram.
struct Place2 {
  double x = 0, y = 0;
};

/// An observer's normal self on a display: the trichromat of the same age, field and media, whose
/// missing-cone directions give the confusion lines, and the maps between light and diagrams.
class ObserverOnDisplay {
 public:
  ObserverOnDisplay(const Observer& observer, const Display& display);

  const Display& display() const { return display_; }
  const Observer& observer() const { return observer_; }
  /// The observer's own cones; the normal self's.
  const LinearMap<LinearRgb, ConeExcitation>& lms() const { return lms_; }
  const LinearMap<LinearRgb, ConeExcitation>& normal_lms() const { return normal_lms_; }
  /// Share of L in the luminance of the display's white, by V_F.
  double l_weight() const { return l_weight_; }
  /// Luminance (V_F of the normal self) of each primary, white 1.
  std::array<double, 3> luminance_weights() const;

  /// Where the colours meet that an observer without that cone (L, M, S) confuses; nothing where it
  /// lies at infinity (S in MacLeod-Boynton). Exact for everything the display can show: the
  /// chromaticity of the column of XYZ per cone.
  std::optional<Place2> copunctal(MissingCone cone, Diagram diagram) const;
  /// Direction from the display's white toward the copunctal point, degrees, atan2.
  double line_angle_deg(MissingCone cone, Diagram diagram) const;
  /// Where light of a CIE 1931 chromaticity, made by this display, lies in a diagram.
  Place2 place_of(Chromaticity c, Diagram diagram) const;
  /// The spectral locus, one place per wavelength of `nm`.
  std::vector<Place2> locus(const std::vector<double>& nm, Diagram diagram) const;
  /// Neutral point in nm against a white, for the cone this observer lacks.
  std::optional<double> neutral(const Power& white) const;

 private:
  Place2 place_of_cones(const ConeExcitation& cones) const;

  Observer observer_;
  Display display_;
  Fundamentals own_, normal_;
  LinearMap<LinearRgb, ConeExcitation> lms_, normal_lms_;
  LinearMap<LinearRgb, Xyz> xyz_;
  ConeExcitation normal_white_;  ///< Of the normal self, before division by white.
  double l_weight_ = 0.7;
};

/// The part of the line through `through` in direction toward `toward` (or straight up, where there
/// is none) that lies in the rectangle; nothing where it misses it.
std::optional<std::array<Place2, 2>> clipped_line(Place2 through, std::optional<Place2> toward,
                                                  Place2 low, Place2 high);

/// u' = 4 x / (-2 x + 12 y + 3), v' = 9 y / (-2 x + 12 y + 3) (CIE 1976).
constexpr Place2 uv_of(Chromaticity c) {
  const double d = -2 * c.x + 12 * c.y + 3;
  return {4 * c.x / d, 9 * c.y / d};
}

}  // namespace copunctal
