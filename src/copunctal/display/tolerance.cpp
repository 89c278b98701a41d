#include "copunctal/display/tolerance.h"

#include <algorithm>
#include <cmath>
#include <span>

#include "copunctal/base/expects.h"

namespace copunctal {
namespace {

Spread spread_of(const std::vector<double>& values) {
  const auto [least, most] = std::minmax_element(values.begin(), values.end());
  return {values.front(), *least, *most};
}

struct Variation {
  std::string_view name;
  double kelvin;  ///< 0: the display's own white.
  double gamma;   ///< 0: its own curves.
  std::string_view panel;
  bool other_primaries;
  double lux;
};

// What is left open by each status. Combinations at the corners: what holds there holds between.
constexpr std::array<Variation, 5> corners = {{
    {"9300 K, gamma 2.0, crt", 9300, 2.0, "crt", false, 0},
    {"9300 K, gamma 2.4, other primaries unmanaged", 9300, 2.4, "wled", true, 0},
    {"5000 K, gamma 2.0, other primaries unmanaged", 5000, 2.0, "qd", true, 0},
    {"5000 K, gamma 2.4, wled", 5000, 2.4, "wled", false, 0},
    {"light in the room", 0, 0, "wled", false, 300},
}};
constexpr std::array<Variation, 4> unseen_corners = {{
    {"crt", 0, 0, "crt", false, 0},
    {"5500 K, gamma 2.3, crt", 5500, 2.3, "crt", false, 0},
    {"6500 K, gamma 2.2, other primaries unmanaged", 6504, 2.2, "oled", true, 0},
    {"9300 K, gamma 2.0, qd, light in the room", 9300, 2.0, "qd", false, 150},
}};

const std::array<Chromaticity, 3> narrow = {{{.64, .33}, {.30, .60}, {.15, .06}}},
                                  wide = {{{.680, .320}, {.265, .690}, {.150, .060}}};

Display varied(const Display& display, const Variation& v) {
  Display other = display;
  const bool may_change_colours = display.known == DisplayStatus::assumed && !display.panel.empty();
  const bool may_change_panel = !display.panel.empty();
  PrimaryColours colours{display.chromaticities, display.white};
  if (may_change_colours) {
    if (v.kelvin > 0) colours.white = daylight(v.kelvin);
    if (v.other_primaries)
      colours.primaries = std::abs(display.chromaticities[0].x - wide[0].x) < 0.02 ? narrow : wide;
    if (v.gamma > 0) {
      const ToneCurve curve = *ToneCurve::power(v.gamma);
      other.curves = {curve, curve, curve};
    }
  }
  if (may_change_panel)
    if (const auto rebuilt = display_of(colours, v.panel)) {
      other.primaries = rebuilt->primaries;
      other.chromaticities = rebuilt->chromaticities;
      other.white = rebuilt->white;
      other.panel = v.panel;
    }
  if (v.lux > 0) {
    other.ambient_lux = std::max(other.ambient_lux, v.lux);
    other.black_cd_m2 = std::max(other.black_cd_m2, 0.001 * other.peak_cd_m2);
  }
  other.name = display.name + " as if " + std::string(v.name);
  return other;
}

std::vector<Display> variations(const Display& display, std::span<const Variation> all) {
  std::vector<Display> displays;
  for (const Variation& v : all) {
    const bool has_effect = v.lux > 0 || !display.panel.empty();
    if (has_effect) displays.push_back(varied(display, v));
  }
  return displays;
}

}  // namespace

Chromaticity daylight(double kelvin) {
  expects(kelvin >= 4000 && kelvin <= 25000);
  const double t = 1000 / kelvin;
  const double x = kelvin <= 7000 ? ((-4.6070 * t + 2.9678) * t + 0.09911) * t + 0.244063
                                  : ((-2.0064 * t + 1.9018) * t + 0.24748) * t + 0.237040;
  return {x, (-3 * x + 2.870) * x - 0.275};
}

std::vector<Display> tolerance_displays(const Display& display) {
  std::vector<Display> displays = {display};
  for (Display& other : variations(display, corners)) displays.push_back(std::move(other));
  return displays;
}

std::vector<Display> unseen_displays(const Display& display) {
  return variations(display, unseen_corners);
}

std::vector<Display> plausible_displays(const Display& display) {
  std::vector<Display> all = {display};
  if (display.panel.empty()) return all;
  for (const std::string& panel : panel_names()) {
    if (panel == display.panel) continue;
    const auto rebuilt = display_of({display.chromaticities, display.white}, panel);
    if (!rebuilt) continue;
    Display other = display;
    other.primaries = rebuilt->primaries;
    other.panel = panel;
    all.push_back(std::move(other));
  }
  return all;
}

std::array<double, 3> rod_weights(const Display& display) {
  Observer rods;
  rods.kind = ObserverKind::rod_monochromat;
  return lms_from_linear_rgb(fundamentals_of(rods), display).rows[0];
}

DisplaySpread spread_over_spectra(const Display& display, const Observer& observer) {
  const std::vector<Display> displays = plausible_displays(display);
  const Fundamentals fundamentals = fundamentals_of(observer);
  std::vector<LinearMap<LinearRgb, ConeExcitation>> maps;
  std::vector<std::array<double, 3>> rods;
  for (const Display& one : displays) {
    maps.push_back(lms_from_linear_rgb(fundamentals, one));
    rods.push_back(rod_weights(one));
  }
  DisplaySpread spread;
  spread.displays = displays.size();
  for (std::size_t p = 0; p < 3; ++p) {
    std::vector<double> values;
    values.reserve(displays.size());
    for (const auto& weights : rods) values.push_back(weights[p]);
    spread.rod_weights[p] = spread_of(values);
    spread.largest_rod_weight =
        std::max(spread.largest_rod_weight, spread.rod_weights[p].half_width());
    for (std::size_t row = 0; row < 3; ++row) {
      values.clear();
      for (const auto& map : maps) values.push_back(map.rows[row][p]);
      spread.lms[row][p] = spread_of(values);
      spread.largest_cone_entry =
          std::max(spread.largest_cone_entry, spread.lms[row][p].half_width());
    }
  }
  return spread;
}

}  // namespace copunctal
