#include "copunctal/view/apart.h"

#include <cmath>

namespace copunctal {

ColoursApart::ColoursApart(const Observer& observer, const Display& display,
                           const AuditThresholds& thresholds)
    : cones_(lms_from_linear_rgb(fundamentals_of(observer), display)),
      has_s_(observer.kind != ObserverKind::tritan || observer.s_density_factor > 0),
      is_monochromat_(is_monochromat(observer)),
      flare_(flare_of(display)),
      thresholds_(thresholds) {}

double ColoursApart::operator()(const LinearRgb& a, const LinearRgb& b) const {
  const ConeExcitation p = cones_(a), q = cones_(b);
  const auto ratio = [&](double x, double y) { return std::log((y + flare_) / (x + flare_)); };
  const double l = ratio(p.l, q.l), m = ratio(p.m, q.m), s = has_s_ ? ratio(p.s, q.s) : l;
  const auto& [luminance, s_ratio, red_green] = thresholds_;
  if (is_monochromat_) return std::abs(l) / luminance;
  const double light = l / luminance, hue = (m - l) / red_green, violet = (s - l) / s_ratio;
  return std::sqrt(light * light + hue * hue + violet * violet);
}

}  // namespace copunctal
