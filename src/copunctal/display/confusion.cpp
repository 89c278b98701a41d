#include "copunctal/display/confusion.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "copunctal/base/expects.h"
#include "copunctal/observer/pigment.h"

namespace copunctal {
namespace {

Observer normal_self(Observer observer) {
  observer.kind = ObserverKind::normal;
  observer.separation = {normal_separation_nm};
  observer.s_density_factor = 1;
  return observer;
}

ConeExcitation unit(MissingCone cone) {
  switch (cone) {
    case MissingCone::l:
      return {1, 0, 0};
    case MissingCone::m:
      return {0, 1, 0};
    case MissingCone::s:
      return {0, 0, 1};
  }
  return {1, 0, 0};
}

}  // namespace

std::string_view name_of(Diagram diagram) {
  switch (diagram) {
    case Diagram::xy:
      return "xy";
    case Diagram::uv:
      return "u'v'";
    case Diagram::macleod_boynton:
      return "macleod-boynton";
  }
  return "xy";
}

ObserverOnDisplay::ObserverOnDisplay(const Observer& observer, const Display& display)
    : observer_(observer),
      display_(display),
      own_(fundamentals_of(observer)),
      normal_(fundamentals_of(normal_self(observer))),
      lms_(lms_from_linear_rgb(own_, display)),
      normal_lms_(lms_from_linear_rgb(normal_, display)),
      xyz_(xyz_from_linear_rgb(display)) {
  const Power white = white_of(display);
  normal_white_ = {integral(white, normal_.l), integral(white, normal_.m),
                   integral(white, normal_.s)};
  const LuminanceWeights w = copunctal::luminance_weights(observer.field);
  const double l = w.l * normal_white_.l, m = w.m * normal_white_.m;
  l_weight_ = l / (l + m);
}

std::array<double, 3> ObserverOnDisplay::luminance_weights() const {
  std::array<double, 3> weights{};
  for (std::size_t p = 0; p < 3; ++p)
    weights[p] = l_weight_ * normal_lms_.rows[0][p] + (1 - l_weight_) * normal_lms_.rows[1][p];
  return weights;
}

Place2 ObserverOnDisplay::place_of_cones(const ConeExcitation& cones) const {
  const MacLeodBoynton p = macleod_boynton(cones, l_weight_);
  return {p.l, p.s};
}

std::optional<Place2> ObserverOnDisplay::copunctal(MissingCone cone, Diagram diagram) const {
  if (diagram == Diagram::macleod_boynton) {
    // An S-only light has no luminance: its point lies straight up, at infinity.
    if (cone == MissingCone::s) return std::nullopt;
    return place_of_cones(unit(cone));
  }
  const Chromaticity xy = chromaticity_of((xyz_ * inverse(normal_lms_))(unit(cone)));
  if (diagram == Diagram::uv) return uv_of(xy);
  return Place2{xy.x, xy.y};
}

Place2 ObserverOnDisplay::place_of(Chromaticity c, Diagram diagram) const {
  expects(c.y > 0);
  switch (diagram) {
    case Diagram::xy:
      return {c.x, c.y};
    case Diagram::uv:
      return uv_of(c);
    case Diagram::macleod_boynton:
      return place_of_cones(normal_lms_(inverse(xyz_)(xyz_of(c))));
  }
  return {c.x, c.y};
}

double ObserverOnDisplay::line_angle_deg(MissingCone cone, Diagram diagram) const {
  const auto point = copunctal(cone, diagram);
  if (!point) return 90;
  const Place2 white = place_of(display_.white, diagram);
  return std::atan2(point->y - white.y, point->x - white.x) * 180 / std::numbers::pi;
}

std::vector<Place2> ObserverOnDisplay::locus(const std::vector<double>& nm, Diagram diagram) const {
  static const auto x = spectrum_from<MatchingFunctionKind>(table("xyz1931"), "x");
  static const auto y = spectrum_from<MatchingFunctionKind>(table("xyz1931"), "y");
  static const auto z = spectrum_from<MatchingFunctionKind>(table("xyz1931"), "z");
  std::vector<Place2> places;
  for (const double at : nm) {
    expects(at >= first_nm && at <= last_nm);
    const auto i = static_cast<std::size_t>(std::lround(at - first_nm));
    if (diagram == Diagram::macleod_boynton) {
      places.push_back(
          place_of_cones({normal_.l[i] / normal_white_.l, normal_.m[i] / normal_white_.m,
                          normal_.s[i] / normal_white_.s}));
      continue;
    }
    const Chromaticity c = chromaticity_of({x[i], y[i], z[i]});
    places.push_back(diagram == Diagram::uv ? uv_of(c) : Place2{c.x, c.y});
  }
  return places;
}

std::optional<double> ObserverOnDisplay::neutral(const Power& white) const {
  const auto missing = missing_cone(observer_);
  if (!missing) return std::nullopt;
  return neutral_nm(normal_, *missing, white);
}

std::optional<std::array<Place2, 2>> clipped_line(Place2 through, std::optional<Place2> toward,
                                                  Place2 low, Place2 high) {
  const double dx = toward ? toward->x - through.x : 0, dy = toward ? toward->y - through.y : 1;
  if (dx == 0 && dy == 0) return std::nullopt;
  // Liang and Barsky's parameters of a line that runs both ways.
  double from = -1e12, to = 1e12;
  const auto clip = [&](double at, double step, double least, double most) {
    if (step == 0) return at >= least && at <= most;
    const double a = (least - at) / step, b = (most - at) / step;
    from = std::max(from, std::min(a, b));
    to = std::min(to, std::max(a, b));
    return true;
  };
  if (!clip(through.x, dx, low.x, high.x) || !clip(through.y, dy, low.y, high.y) || from >= to)
    return std::nullopt;
  return std::array<Place2, 2>{
      {{through.x + from * dx, through.y + from * dy}, {through.x + to * dx, through.y + to * dy}}};
}

}  // namespace copunctal
