#include "copunctal/display/tolerance.h"

#include <algorithm>

namespace copunctal {
namespace {

Spread spread_of(const std::vector<double>& values) {
  const auto [least, most] = std::minmax_element(values.begin(), values.end());
  return {values.front(), *least, *most};
}

}  // namespace

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
