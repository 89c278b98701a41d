#include "copunctal/app/describe_display.h"

#include <algorithm>
#include <cmath>

#include <nlohmann/json.hpp>

#include "copunctal/app/debrief.h"
#include "copunctal/base/text.h"
#include "copunctal/display/confusion.h"

namespace copunctal {
namespace {

using Json = nlohmann::ordered_json;

// McCamy's cubic (1992, Color Res. Appl. 17:142; from memory): within a few kelvin of 2800..6500 K,
// within 1 % to 12500 K.
double correlated_temperature(Chromaticity c) {
  const double n = (c.x - 0.3320) / (0.1858 - c.y);
  return ((449 * n + 3525) * n + 6823.3) * n + 5520.33;
}

double area_in_uv(const std::array<Chromaticity, 3>& primaries) {
  const Place2 a = uv_of(primaries[0]), b = uv_of(primaries[1]), c = uv_of(primaries[2]);
  return std::abs((b.x - a.x) * (c.y - a.y) - (b.y - a.y) * (c.x - a.x)) / 2;
}

template <class Map>
Json rows_json(const Map& map) {
  Json rows = Json::array();
  for (const auto& row : map.rows)
    rows.push_back({rounded(row[0], 9), rounded(row[1], 9), rounded(row[2], 9)});
  return rows;
}

Json three(const std::array<double, 3>& values) {
  return {{"r", rounded(values[0], 6)}, {"g", rounded(values[1], 6)}, {"b", rounded(values[2], 6)}};
}

Json pair(Chromaticity c) {
  return {rounded(c.x, 6), rounded(c.y, 6)};
}

std::string three_words(const std::array<double, 3>& values) {
  return "R " + decimals(values[0], 4) + "  G " + decimals(values[1], 4) + "  B " +
         decimals(values[2], 4);
}

}  // namespace

DisplayDescription describe_display(const Display& display) {
  DisplayDescription d;
  d.display = display;
  d.xyz = xyz_from_linear_rgb(display);
  const Observer standard;
  d.lms = lms_from_linear_rgb(fundamentals_of(standard), display);
  d.luminance_weights = d.xyz.rows[1];
  d.rods = rod_weights(display);
  d.s_cones = d.lms.rows[2];
  d.veil = tristimulus_values(veil(display)).y;
  d.contrast = d.veil > 0 ? (1 + d.veil) / d.veil : 0;
  d.white_temperature_k = correlated_temperature(display.white);
  d.area_uv = area_in_uv(display.chromaticities);
  d.share_of_srgb = d.area_uv / area_in_uv({{{.64, .33}, {.30, .60}, {.15, .06}}});
  d.spread = spread_over_spectra(display, standard);
  return d;
}

std::string description_json(const DisplayDescription& d) {
  const Display& o = d.display;
  Json curves;
  constexpr std::array<const char*, 3> channels = {"r", "g", "b"};
  for (std::size_t p = 0; p < 3; ++p)
    curves[channels[p]] = {{"curve", o.curves[p].words()},
                           {"nearest_gamma", rounded(o.curves[p].nearest_exponent(), 3)},
                           {"step_at_middle", rounded(o.curves[p].step_at(0.5, o.bits), 5)}};
  const Json json = {
      {"display", o.name},
      {"status", name_of(o.known)},
      {"assumes", o.status},
      {"panel", o.panel.empty() ? Json(nullptr) : Json(o.panel)},
      {"primaries_xy",
       {{"r", pair(o.chromaticities[0])},
        {"g", pair(o.chromaticities[1])},
        {"b", pair(o.chromaticities[2])}}},
      {"white_xy", pair(o.white)},
      {"white_temperature_k", rounded(d.white_temperature_k, 0)},
      {"peak_cd_m2", o.peak_cd_m2},
      {"peak_known", o.peak_known},
      {"black_cd_m2", o.black_cd_m2},
      {"ambient_lux", o.ambient_lux},
      {"reflectance", o.reflectance},
      {"veil", rounded(d.veil, 6)},
      {"contrast", d.contrast > 0 ? Json(rounded(d.contrast, 1)) : Json(nullptr)},
      {"bits", o.bits},
      {"tone_curves", curves},
      {"xyz_from_linear_rgb", rows_json(d.xyz)},
      {"lms_from_linear_rgb", rows_json(d.lms)},
      {"luminance_weights", three(d.luminance_weights)},
      {"rod_weights", three(d.rods)},
      {"s_cone_weights", three(d.s_cones)},
      {"gamut",
       {{"area_uv", rounded(d.area_uv, 6)}, {"share_of_srgb", rounded(d.share_of_srgb, 4)}}},
      {"spread",
       {{"displays", d.spread.displays},
        {"largest_cone_entry", rounded(d.spread.largest_cone_entry, 6)},
        {"largest_rod_weight", rounded(d.spread.largest_rod_weight, 6)}}},
      {"notes", o.notes},
      {"intended_use", intended_use()}};
  return json.dump(1) + "\n";
}

std::string description_text(const DisplayDescription& d) {
  const Display& o = d.display;
  std::string text = "display " + o.name + "\n  " + o.status + "\n\n";
  constexpr std::array<const char*, 3> channels = {"red  ", "green", "blue "};
  for (std::size_t p = 0; p < 3; ++p)
    text += std::string("  ") + channels[p] + "  xy " + decimals(o.chromaticities[p].x, 4) + ", " +
            decimals(o.chromaticities[p].y, 4) + "   curve " + o.curves[p].words() + "\n";
  text += "  white  xy " + decimals(o.white.x, 4) + ", " + decimals(o.white.y, 4) + "   about " +
          decimals(d.white_temperature_k, 0) + " K\n";
  text +=
      "white " + shortest(o.peak_cd_m2) +
      (o.peak_known ? " cd/m2, black " : " cd/m2 (assumed), black ") + shortest(o.black_cd_m2) +
      " cd/m2, " + shortest(o.ambient_lux) + " lux on the screen: " +
      (d.contrast > 0 ? "contrast " + decimals(d.contrast, 0) : std::string("black not known")) +
      "; " + std::to_string(o.bits) + " bits per channel, a code in the middle is " +
      decimals(100 * o.curves[1].step_at(0.5, o.bits), 2) + " % of light\n";
  text += "luminance  " + three_words(d.luminance_weights) + "\n";
  text += "S cones    " + three_words(d.s_cones) + "\n";
  text += "rods       " + three_words(d.rods) + "\n";
  text += "triangle in u'v' " + decimals(100 * d.share_of_srgb, 1) + " % of sRGB's area\n";
  text += d.spread.displays > 1 ? "unknown spectra: over " + std::to_string(d.spread.displays) +
                                      " kinds of panel a cone's share of white moves by up to " +
                                      decimals(d.spread.largest_cone_entry, 4) + ", a rod's by " +
                                      decimals(d.spread.largest_rod_weight, 4) + "\n"
                                : std::string("the spectra are given, not guessed\n");
  for (const std::string& note : o.notes) text += "note: " + note + "\n";
  text += "\n" + std::string(intended_use()) + "\n";
  return text;
}

}  // namespace copunctal
