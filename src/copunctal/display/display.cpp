#include "copunctal/display/display.h"

#include <algorithm>
#include <cmath>

#include <Eigen/Dense>

namespace copunctal {
namespace {

struct PrimarySet {
  std::string_view name;
  std::array<Chromaticity, 3> primaries;
  Chromaticity white;
  std::string_view source;
};

// D65 white for both.
constexpr std::array<PrimarySet, 2> primary_sets = {{
    {"srgb", {{{0.64, 0.33}, {0.30, 0.60}, {0.15, 0.06}}}, {0.3127, 0.3290}, "IEC 61966-2-1"},
    {"display-p3",
     {{{0.680, 0.320}, {0.265, 0.690}, {0.150, 0.060}}},
     {0.3127, 0.3290},
     "SMPTE RP 431-2 primaries, D65 white"},
}};

struct Panel {
  std::string_view name, table;
  std::string_view words;
};

constexpr std::array<Panel, 4> panels = {{
    {"oled", "template_oled", "template spectra of an organic LED panel (synthetic)"},
    {"wled", "template_wled", "template spectra of a white-LED-lit panel (synthetic)"},
    {"qd", "template_qd", "template spectra of a quantum-dot panel (synthetic)"},
    {"crt", "monitor_crt_basis", "spectra of one measured cathode-ray tube"},
}};

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

Eigen::Vector3d tristimulus(const Power& power) {
  const auto& f = cie_1931();
  return {integral(power, f.x), integral(power, f.y), integral(power, f.z)};
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

}  // namespace

std::array<Power, 3> primaries_from(const std::array<Power, 3>& shapes,
                                    const std::array<Xyz, 3>& targets) {
  Eigen::Matrix3d of_shapes;
  for (int k = 0; k < 3; ++k) of_shapes.col(k) = tristimulus(shapes[static_cast<std::size_t>(k)]);
  const Eigen::Matrix3d mix_from_xyz = of_shapes.inverse();
  std::array<Power, 3> primaries;
  for (std::size_t p = 0; p < 3; ++p) {
    const Eigen::Vector3d target(targets[p].x, targets[p].y, targets[p].z);
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

std::vector<std::string> display_names() {
  std::vector<std::string> names;
  for (const PrimarySet& set : primary_sets)
    for (const Panel& panel : panels)
      names.push_back(std::string(set.name) + "/" + std::string(panel.name));
  return names;
}

Result<Display> display_from(std::string_view name) {
  const auto slash = name.find('/');
  const std::string_view set_name = name.substr(0, slash);
  const std::string_view panel_name =
      slash == std::string_view::npos ? "oled" : name.substr(slash + 1);
  const auto* const set = std::find_if(primary_sets.begin(), primary_sets.end(),
                                       [&](const PrimarySet& s) { return s.name == set_name; });
  const auto* const panel = std::find_if(panels.begin(), panels.end(),
                                         [&](const Panel& p) { return p.name == panel_name; });
  if (set == primary_sets.end() || panel == panels.end()) {
    std::string known;
    for (const std::string& one : display_names()) known += (known.empty() ? "" : ", ") + one;
    return fail(Error::Kind::usage, "no display named '" + std::string(name) + "'; known: " + known,
                "display", std::string(name), "use one of " + known + "; srgb alone is srgb/oled");
  }

  Display display;
  display.name = std::string(set->name) + "/" + std::string(panel->name);
  display.chromaticities = set->primaries;
  display.white = set->white;
  display.status = "assumed: chromaticities of " + std::string(set->source) + ", " +
                   std::string(panel->words) + "; the screen itself was not measured";

  // Luminances of the primaries: those that add to the white with Y = 1.
  Eigen::Matrix3d unit;
  for (std::size_t p = 0; p < 3; ++p) {
    const Xyz c = xyz_of(set->primaries[p]);
    unit.col(static_cast<Eigen::Index>(p)) = Eigen::Vector3d(c.x, c.y, c.z);
  }
  const Xyz white = xyz_of(set->white);
  const Eigen::Vector3d luminance = unit.inverse() * Eigen::Vector3d(white.x, white.y, white.z);
  std::array<Xyz, 3> targets;
  for (std::size_t p = 0; p < 3; ++p)
    targets[p] = luminance[static_cast<Eigen::Index>(p)] * xyz_of(set->primaries[p]);

  const Table& shapes = table(panel->table);
  display.primaries =
      primaries_from({spectrum_from<PowerKind>(shapes, "R"), spectrum_from<PowerKind>(shapes, "G"),
                      spectrum_from<PowerKind>(shapes, "B")},
                     targets);
  return display;
}

LinearMap<LinearRgb, Xyz> xyz_from_linear_rgb(const Display& display) {
  LinearMap<LinearRgb, Xyz> map;
  for (std::size_t p = 0; p < 3; ++p) {
    const Eigen::Vector3d c = tristimulus(display.primaries[p]);
    for (std::size_t row = 0; row < 3; ++row) map.rows[row][p] = c[static_cast<Eigen::Index>(row)];
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

std::array<Chromaticity, 3> copunctal_points(const Display& display) {
  const auto xyz_from_lms = xyz_from_linear_rgb(display) *
                            inverse(lms_from_linear_rgb(fundamentals_of(Observer{}), display));
  return {chromaticity_of(xyz_from_lms({1, 0, 0})), chromaticity_of(xyz_from_lms({0, 1, 0})),
          chromaticity_of(xyz_from_lms({0, 0, 1}))};
}

}  // namespace copunctal
