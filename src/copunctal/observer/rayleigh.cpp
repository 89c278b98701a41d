#include "copunctal/observer/rayleigh.h"

#include <algorithm>
#include <cmath>

#include "copunctal/base/expects.h"
#include "copunctal/observer/luminance.h"

namespace copunctal {
namespace {

// Sensitivity at a wavelength between whole nanometres, linear between neighbours.
double at(const EnergySensitivity& cone, double nm) {
  expects(nm >= first_nm && nm < last_nm);
  const double below = std::floor(nm);
  const auto i = static_cast<std::size_t>(below - first_nm);
  return cone[i] + (nm - below) * (cone[i + 1] - cone[i]);
}

const EnergySensitivity& luminous_efficiency() {
  static const EnergySensitivity efficiency = luminous_efficiency_of(Observer{});
  return efficiency;
}

const Fundamentals& standard() {
  static const Fundamentals fundamentals = fundamentals_of(Observer{});
  return fundamentals;
}

// A cone's excitation by each light, all three of equal luminance.
struct Three {
  double red, green, yellow;
};
Three excited(const EnergySensitivity& cone, const RayleighLights& lights) {
  const EnergySensitivity& v = luminous_efficiency();
  return {at(cone, lights.red_nm) / at(v, lights.red_nm),
          at(cone, lights.green_nm) / at(v, lights.green_nm),
          at(cone, lights.yellow_nm) / at(v, lights.yellow_nm)};
}

double mixed(const Three& cone, double x) {
  return x * cone.red + (1 - x) * cone.green;
}

double odds(double x) {
  return (1 - x) / x;
}

}  // namespace

double mixture_excitation(const EnergySensitivity& cone, double x, const RayleighLights& lights) {
  return mixed(excited(cone, lights), x);
}

double yellow_for(const EnergySensitivity& cone, double x, const RayleighLights& lights) {
  const Three lit = excited(cone, lights);
  return mixed(lit, x) / lit.yellow;
}

RayleighMatch rayleigh_match(const Fundamentals& f, const RayleighLights& lights) {
  const Three l = excited(f.l, lights), m = excited(f.m, lights);
  // ln(L/M) of the mixture less that of the yellow light; it rises or falls with x throughout.
  const auto redness = [&](double x) {
    return std::log(mixed(l, x) / mixed(m, x)) - std::log(l.yellow / m.yellow);
  };
  const double at_green = redness(0), at_red = redness(1);
  const double c = lights.criterion;
  RayleighMatch match;
  match.accepts_all = std::abs(at_green) <= c && std::abs(at_red) <= c;
  if (std::abs(at_red - at_green) < 1e-9) {
    // One pigment: every mixture matches. Shown at the normal's mixture.
    match.x = rayleigh_match(standard(), lights).x;
    match.y = mixed(m, match.x) / m.yellow;
    match.accepts_all = true;
    return match;
  }
  // mixed(l, x) / mixed(m, x) = k is linear in x once multiplied out.
  const auto mixture_of = [&](double redness_wanted) {
    const double k = std::exp(redness_wanted) * l.yellow / m.yellow;
    const double x = (k * m.green - l.green) / ((l.red - l.green) - k * (m.red - m.green));
    return x;
  };
  const auto on_scale = [&](double wanted) {
    if (wanted <= std::min(at_green, at_red)) return at_green < at_red ? 0.0 : 1.0;
    if (wanted >= std::max(at_green, at_red)) return at_green < at_red ? 1.0 : 0.0;
    return std::clamp(mixture_of(wanted), 0.0, 1.0);
  };
  match.x = on_scale(0);
  match.y = (mixed(l, match.x) / l.yellow + mixed(m, match.x) / m.yellow) / 2;
  const double one = on_scale(-c), other = on_scale(c);
  match.low = std::min(one, other);
  match.high = std::max(one, other);
  if (!match.accepts_all && match.x > 0 && match.x < 1) {
    const Fundamentals& normal = standard();
    const Three nl = excited(normal.l, lights), nm = excited(normal.m, lights);
    const double k = nl.yellow / nm.yellow;
    const double x = (k * nm.green - nl.green) / ((nl.red - nl.green) - k * (nm.red - nm.green));
    match.quotient = odds(match.x) / odds(x);
  }
  return match;
}

RayleighMatch rayleigh_match(const Observer& observer, const RayleighLights& lights) {
  return rayleigh_match(fundamentals_of(observer), lights);
}

}  // namespace copunctal
