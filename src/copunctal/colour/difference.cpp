#include "copunctal/colour/difference.h"

#include <cmath>
#include <numbers>

namespace copunctal {
namespace {

double lab_curve(double t) {
  constexpr double delta = 6.0 / 29;
  return t > delta * delta * delta ? std::cbrt(t) : t / (3 * delta * delta) + 4.0 / 29;
}

constexpr double degree = std::numbers::pi / 180;

double hue_degrees(double a, double b) {
  if (a == 0 && b == 0) return 0;
  const double h = std::atan2(b, a) / degree;
  return h < 0 ? h + 360 : h;
}

double pow7(double x) {
  return x * x * x * x * x * x * x;
}

}  // namespace

Lab lab_from(const Xyz& colour, const Xyz& white) {
  const double x = lab_curve(colour.x / white.x), y = lab_curve(colour.y / white.y),
               z = lab_curve(colour.z / white.z);
  return {116 * y - 16, 500 * (x - y), 200 * (y - z)};
}

double ciede2000(const Lab& p, const Lab& q) {
  // Equation numbers as in Sharma, Wu & Dalal (2005).
  const double mean_chroma = (std::hypot(p.a, p.b) + std::hypot(q.a, q.b)) / 2;  // (3)
  const double c7 = pow7(mean_chroma);
  const double g = 0.5 * (1 - std::sqrt(c7 / (c7 + pow7(25))));       // (4)
  const double a1 = (1 + g) * p.a, a2 = (1 + g) * q.a;                // (5)
  const double c1 = std::hypot(a1, p.b), c2 = std::hypot(a2, q.b);    // (6)
  const double h1 = hue_degrees(a1, p.b), h2 = hue_degrees(a2, q.b);  // (7)

  // Hues half a turn apart count as not wrapped: pairs 10 and 14 of the published data lie there,
  // and rounding must not decide.
  constexpr double half_turn = 180 + 1e-9;
  const bool grey = c1 * c2 == 0;
  double dh = 0, mean_hue = h1 + h2;  // (10), (14)
  if (!grey) {
    dh = h2 - h1;
    const bool wrapped = std::abs(dh) > half_turn;
    if (wrapped) dh += dh > 0 ? -360 : 360;
    mean_hue = wrapped ? (h1 + h2 + (h1 + h2 < 360 ? 360 : -360)) / 2 : (h1 + h2) / 2;
  }
  const double dl = q.l - p.l, dc = c2 - c1;                               // (8), (9)
  const double dhue = 2 * std::sqrt(c1 * c2) * std::sin(dh / 2 * degree);  // (11)
  const double l50 = (p.l + q.l) / 2 - 50, mean_c = (c1 + c2) / 2;         // (12), (13)
  const double t = 1 - 0.17 * std::cos((mean_hue - 30) * degree) +
                   0.24 * std::cos(2 * mean_hue * degree) +
                   0.32 * std::cos((3 * mean_hue + 6) * degree) -
                   0.20 * std::cos((4 * mean_hue - 63) * degree);  // (15)
  const double turn = (mean_hue - 275) / 25;
  const double dtheta = 30 * std::exp(-turn * turn);                          // (16)
  const double rc = 2 * std::sqrt(pow7(mean_c) / (pow7(mean_c) + pow7(25)));  // (17)
  const double sl = 1 + 0.015 * l50 * l50 / std::sqrt(20 + l50 * l50);        // (18)
  const double sc = 1 + 0.045 * mean_c, sh = 1 + 0.015 * mean_c * t;          // (19), (20)
  const double rt = -std::sin(2 * dtheta * degree) * rc;                      // (21)
  const double l = dl / sl, c = dc / sc, h = dhue / sh;
  return std::sqrt(l * l + c * c + h * h + rt * c * h);  // (22)
}

}  // namespace copunctal
