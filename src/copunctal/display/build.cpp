// A display from chromaticities or from spectra, and what cannot be one.
#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>

#include <Eigen/Dense>

#include "copunctal/base/text.h"
#include "copunctal/display/display.h"

namespace copunctal {
namespace {

struct MatchingFunctions {
  MatchingFunction x, y, z;
};

const MatchingFunctions& cie_1931() {
  static const MatchingFunctions functions = {
      spectrum_from<MatchingFunctionKind>(table("xyz1931"), "x"),
      spectrum_from<MatchingFunctionKind>(table("xyz1931"), "y"),
      spectrum_from<MatchingFunctionKind>(table("xyz1931"), "z")};
  return functions;
}

Eigen::Vector3d vector_of(const Xyz& c) {
  return {c.x, c.y, c.z};
}

// The non-negative spectrum nearest to `wanted` with tristimulus values `target`. The optimum has
// the form max(0, wanted + sum_k multiplier_k cmf_k / weight); Newton's method finds the
// multipliers. The slight softness lets targets no real spectrum reaches (z = 0) end at the nearest
// one.
Power nearest_non_negative(const Power& wanted, const Eigen::Vector3d& target) {
  const auto& f = cie_1931();
  const double top = *std::max_element(wanted.values.begin(), wanted.values.end());
  const auto weight = [&](std::size_t i) { return 1 / (std::max(wanted[i], 0.0) / top + 0.02); };
  constexpr double softness = 1e-9;
  Eigen::Vector3d multiplier = Eigen::Vector3d::Zero();
  Power best;
  for (int step = 0; step < 200; ++step) {
    Eigen::Vector3d miss = -target + softness * multiplier;
    Eigen::Matrix3d slope = softness * Eigen::Matrix3d::Identity();
    for (std::size_t i = 0; i < spectrum_size; ++i) {
      const Eigen::Vector3d c(f.x[i], f.y[i], f.z[i]);
      const double value = std::max(wanted[i], 0.0) + c.dot(multiplier) / weight(i);
      best[i] = std::max(0.0, value);
      miss += best[i] * c;
      if (value > 0) slope += c * c.transpose() / weight(i);
    }
    if (miss.norm() < 1e-13) break;
    // Damped: the set of positive entries may change between steps.
    multiplier -= (step < 20 ? 1.0 : 0.5) * slope.ldlt().solve(miss);
  }
  return best;
}

struct Panel {
  std::string_view name, table, words;
};

constexpr std::array<Panel, 4> panels = {{
    {"oled", "template_oled", "template spectra of an organic LED panel (synthetic)"},
    {"wled", "template_wled", "template spectra of a white-LED-lit panel (synthetic)"},
    {"qd", "template_qd", "template spectra of a quantum-dot panel (synthetic)"},
    {"crt", "monitor_crt_basis", "spectra of one measured cathode-ray tube"},
}};

tl::unexpected<Error> impossible(const std::string& what, const std::string& remedy) {
  return fail(Error::Kind::bad_input, "display: " + what, "display", "", remedy);
}

std::string in_words(Chromaticity c) {
  return "(" + shortest(c.x) + ", " + shortest(c.y) + ")";
}

constexpr std::array<const char*, 3> primary_names = {"red", "green", "blue"};

// Twice the signed area of the triangle a, b, c.
double turn(Chromaticity a, Chromaticity b, Chromaticity c) {
  return (b.x - a.x) * (c.y - a.y) - (b.y - a.y) * (c.x - a.x);
}

// Distance of p from the segment a, b.
double distance(Chromaticity p, Chromaticity a, Chromaticity b) {
  const double dx = b.x - a.x, dy = b.y - a.y, length = dx * dx + dy * dy;
  const double t =
      length > 0 ? std::clamp(((p.x - a.x) * dx + (p.y - a.y) * dy) / length, 0.0, 1.0) : 0;
  return std::hypot(p.x - a.x - t * dx, p.y - a.y - t * dy);
}

}  // namespace

Xyz tristimulus_values(const Power& power) {
  const auto& f = cie_1931();
  return {integral(power, f.x), integral(power, f.y), integral(power, f.z)};
}

std::vector<std::string> panel_names() {
  std::vector<std::string> names;
  names.reserve(panels.size());
  for (const Panel& panel : panels) names.emplace_back(panel.name);
  return names;
}

double outside_spectral_locus(Chromaticity c) {
  // Beyond 700 nm the locus stands still.
  static const std::vector<Chromaticity> locus = [] {
    std::vector<Chromaticity> points;
    const auto& f = cie_1931();
    for (std::size_t i = 0; nm_at(i) <= 700; ++i)
      points.push_back(chromaticity_of({f.x[i], f.y[i], f.z[i]}));
    return points;
  }();
  bool inside = false;
  double nearest = std::numeric_limits<double>::infinity();
  for (std::size_t i = 0, before = locus.size() - 1; i < locus.size(); before = i++) {
    const Chromaticity a = locus[before], b = locus[i];
    nearest = std::min(nearest, distance(c, a, b));
    if ((a.y > c.y) != (b.y > c.y) && c.x < (b.x - a.x) * (c.y - a.y) / (b.y - a.y) + a.x)
      inside = !inside;
  }
  return inside ? 0 : nearest;
}

Result<void> check_colours(const PrimaryColours& colours) {
  const auto& p = colours.primaries;
  for (std::size_t i = 0; i <= 3; ++i) {
    const Chromaticity c = i < 3 ? p[i] : colours.white;
    const std::string name = i < 3 ? primary_names[i] : "white";
    if (!std::isfinite(c.x) || !std::isfinite(c.y))
      return impossible(name + " is not a pair of numbers", "give x and y, as .64, .33");
    if (c.y <= 0)
      return impossible(name + " " + in_words(c) + " has y of 0 or less",
                        "chromaticities of light have y above 0");
    constexpr double slack = 0.001;
    if (outside_spectral_locus(c) > slack)
      return impossible(name + " " + in_words(c) + " lies " +
                            decimals(outside_spectral_locus(c), 3) +
                            " outside the spectral locus: no light looks so",
                        "correct it; imaginary primaries cannot be computed from spectra");
  }
  const double area = std::abs(turn(p[0], p[1], p[2]));
  constexpr double least_area = 1e-3;
  if (area < least_area)
    return impossible("the primaries lie on a line (area " + shortest(area / 2) + ")",
                      "check for two equal or exchanged primaries");
  const double side = turn(p[0], p[1], p[2]) > 0 ? 1 : -1;
  for (std::size_t i = 0; i < 3; ++i)
    if (side * turn(p[i], p[(i + 1) % 3], colours.white) <= 1e-6)
      return impossible(
          "the white " + in_words(colours.white) + " lies outside the primaries' triangle",
          "check the white, or the primaries' order red, green, blue");
  return {};
}

std::array<Power, 3> primaries_from(const std::array<Power, 3>& shapes,
                                    const std::array<Xyz, 3>& targets) {
  Eigen::Matrix3d of_shapes;
  for (int k = 0; k < 3; ++k)
    of_shapes.col(k) = vector_of(tristimulus_values(shapes[static_cast<std::size_t>(k)]));
  const Eigen::Matrix3d mix_from_xyz = of_shapes.inverse();
  std::array<Power, 3> primaries;
  for (std::size_t p = 0; p < 3; ++p) {
    const Eigen::Vector3d target = vector_of(targets[p]);
    const Eigen::Vector3d mix = mix_from_xyz * target;
    double least = 0, top = 0;
    for (std::size_t i = 0; i < spectrum_size; ++i) {
      primaries[p][i] = mix[0] * shapes[0][i] + mix[1] * shapes[1][i] + mix[2] * shapes[2][i];
      least = std::min(least, primaries[p][i]);
      top = std::max(top, primaries[p][i]);
    }
    if (least < -1e-12 * top) primaries[p] = nearest_non_negative(primaries[p], target);
  }
  return primaries;
}

Result<Display> display_of(const PrimaryColours& colours, std::string_view panel_name) {
  const auto* const panel = std::find_if(panels.begin(), panels.end(),
                                         [&](const Panel& p) { return p.name == panel_name; });
  if (panel == panels.end())
    return fail(Error::Kind::usage, "no panel named '" + std::string(panel_name) + "'", "panel",
                std::string(panel_name), "use one of " + joined(panel_names(), ", "));
  COPUNCTAL_TRY_VOID(check_colours(colours));
  Display display;
  display.chromaticities = colours.primaries;
  display.white = colours.white;
  display.panel = panel->name;
  display.status = std::string(panel->words);

  // Luminances of the primaries: those that add to the white with Y = 1.
  Eigen::Matrix3d unit;
  for (std::size_t p = 0; p < 3; ++p)
    unit.col(static_cast<Eigen::Index>(p)) = vector_of(xyz_of(colours.primaries[p]));
  const Eigen::Vector3d luminance = unit.inverse() * vector_of(xyz_of(colours.white));
  std::array<Xyz, 3> targets;
  for (std::size_t p = 0; p < 3; ++p)
    targets[p] = luminance[static_cast<Eigen::Index>(p)] * xyz_of(colours.primaries[p]);
  const Table& shapes = table(panel->table);
  display.primaries =
      primaries_from({spectrum_from<PowerKind>(shapes, "R"), spectrum_from<PowerKind>(shapes, "G"),
                      spectrum_from<PowerKind>(shapes, "B")},
                     targets);
  return display;
}

Result<Display> display_of_spectra(std::array<Power, 3> primaries) {
  double luminance = 0;
  for (std::size_t p = 0; p < 3; ++p) {
    for (std::size_t i = 0; i < spectrum_size; ++i)
      if (!(primaries[p][i] >= 0) || !std::isfinite(primaries[p][i]))
        return impossible(std::string(primary_names[p]) + " has power " +
                              shortest(primaries[p][i]) + " at " + shortest(nm_at(i)) + " nm",
                          "power is finite and not negative");
    const double y = tristimulus_values(primaries[p]).y;
    if (!(y > 0) || !std::isfinite(y))
      return impossible(std::string(primary_names[p]) + " gives no light", "measure at full drive");
    luminance += y;
  }
  Display display;
  Xyz white;
  for (std::size_t p = 0; p < 3; ++p) {
    for (double& value : primaries[p].values) value /= luminance;
    const Xyz c = tristimulus_values(primaries[p]);
    display.chromaticities[p] = chromaticity_of(c);
    white = white + c;
  }
  display.white = chromaticity_of(white);
  display.primaries = primaries;
  COPUNCTAL_TRY_VOID(check_colours({display.chromaticities, display.white}));
  return display;
}

Result<void> check_display(const Display& display) {
  // A red that no spectrum reaches (z = 0) is met by the nearest one, 2e-4 away; the chromaticities
  // themselves were checked on their way in.
  const auto finite_and_not_negative = [](double v) { return v >= 0 && std::isfinite(v); };
  for (std::size_t p = 0; p < 3; ++p)
    for (std::size_t i = 0; i < spectrum_size; ++i)
      if (!(display.primaries[p][i] >= -1e-12) || !std::isfinite(display.primaries[p][i]))
        return impossible(
            std::string(primary_names[p]) + " has negative power at " + shortest(nm_at(i)) + " nm",
            "correct the spectrum");
  if (!(display.peak_cd_m2 > 0) || !(display.peak_cd_m2 <= 20000))
    return impossible("white of " + shortest(display.peak_cd_m2) + " cd/m2 is impossible",
                      "give a luminance up to 20000 cd/m2");
  if (!finite_and_not_negative(display.black_cd_m2) || display.black_cd_m2 >= display.peak_cd_m2)
    return impossible("black of " + shortest(display.black_cd_m2) + " cd/m2 is not below white, " +
                          shortest(display.peak_cd_m2),
                      "give the luminance at code 0, in cd/m2");
  if (!finite_and_not_negative(display.ambient_lux) || display.ambient_lux > 200000)
    return impossible("ambient light of " + shortest(display.ambient_lux) + " lux is impossible",
                      "give lux on the screen, 0 to 200000");
  if (!finite_and_not_negative(display.reflectance) || display.reflectance > 1)
    return impossible("a reflectance of " + shortest(display.reflectance) + " is impossible",
                      "give a share from 0 to 1; screens send back .005 to .05");
  if (display.bits != 8 && display.bits != 10)
    return impossible(std::to_string(display.bits) + " bits per channel are not handled",
                      "use 8 or 10");
  const auto map = lms_from_linear_rgb(fundamentals_of(Observer{}), display);
  Eigen::Matrix3d matrix;
  for (std::size_t i = 0; i < 3; ++i)
    for (std::size_t j = 0; j < 3; ++j)
      matrix(static_cast<Eigen::Index>(i), static_cast<Eigen::Index>(j)) = map.rows[i][j];
  const Eigen::JacobiSVD<Eigen::Matrix3d> svd(matrix);
  const double condition = svd.singularValues()[0] / svd.singularValues()[2];
  if (!(condition <= 1e6))
    return impossible(
        "its three primaries are no three colours (condition number " + shortest(condition) + ")",
        "check for two equal primaries");
  return {};
}

LinearMap<LinearRgb, Xyz> xyz_from_linear_rgb(const Display& display) {
  LinearMap<LinearRgb, Xyz> map;
  for (std::size_t p = 0; p < 3; ++p) {
    const Xyz c = tristimulus_values(display.primaries[p]);
    map.rows[0][p] = c.x;
    map.rows[1][p] = c.y;
    map.rows[2][p] = c.z;
  }
  return map;
}

LinearMap<LinearRgb, ConeExcitation> lms_from_linear_rgb(const Fundamentals& f,
                                                         const Display& display) {
  LinearMap<LinearRgb, ConeExcitation> map;
  const std::array cones = {&f.l, &f.m, &f.s};
  for (std::size_t row = 0; row < 3; ++row) {
    double white = 0;
    for (std::size_t p = 0; p < 3; ++p) {
      map.rows[row][p] = integral(display.primaries[p], *cones[row]);
      white += map.rows[row][p];
    }
    if (white > 0)
      for (double& entry : map.rows[row]) entry /= white;
  }
  return map;
}

Power white_of(const Display& display) {
  Power white;
  for (const Power& primary : display.primaries)
    for (std::size_t i = 0; i < spectrum_size; ++i) white[i] += primary[i];
  return white;
}

Power veil(const Display& display) {
  Power added = white_of(display);
  const double black = display.black_cd_m2 / display.peak_cd_m2;
  for (double& value : added.values) value *= black;
  if (display.ambient_lux > 0) {
    const auto d65 = spectrum_from<PowerKind>(table("illum_D65"), "spd");
    const double ambient = display.ambient_lux * display.reflectance / std::numbers::pi;
    const double scale = ambient / display.peak_cd_m2 / tristimulus_values(d65).y;
    for (std::size_t i = 0; i < spectrum_size; ++i) added[i] += scale * d65[i];
  }
  return added;
}

ConeExcitation veil_excitation(const Fundamentals& f, const Display& display) {
  if (display.black_cd_m2 == 0 && display.ambient_lux == 0) return {0, 0, 0};
  const Power added = veil(display), white = white_of(display);
  const auto share = [&](const EnergySensitivity& cone) {
    const double by_white = integral(white, cone);
    return by_white > 0 ? integral(added, cone) / by_white : 0;
  };
  return {share(f.l), share(f.m), share(f.s)};
}

}  // namespace copunctal
