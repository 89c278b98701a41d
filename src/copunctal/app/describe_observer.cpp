#include "copunctal/app/describe_observer.h"

#include <algorithm>
#include <cmath>

#include <nlohmann/json.hpp>

#include "copunctal/app/debrief.h"
#include "copunctal/base/text.h"
#include "copunctal/observer/media.h"
#include "copunctal/observer/pigment.h"

namespace copunctal {
namespace {

using Json = nlohmann::ordered_json;

// Where a curve peaks, by a parabola through its largest entry and its neighbours.
std::optional<double> peak_of(const EnergySensitivity& cone) {
  const auto* const top = std::max_element(cone.values.begin(), cone.values.end());
  const auto i = static_cast<std::size_t>(top - cone.values.begin());
  if (!(*top > 0)) return std::nullopt;
  if (i == 0 || i + 1 == spectrum_size) return nm_at(i);
  const double before = cone[i - 1], here = cone[i], after = cone[i + 1];
  return nm_at(i) + (before - after) / (2 * (before - 2 * here + after));
}

Json number_or_null(const std::optional<double>& value, int places = 6) {
  return value ? Json(rounded(*value, places)) : Json(nullptr);
}

Json pair_or_null(const std::optional<Place2>& p) {
  return p ? Json{rounded(p->x, 6), rounded(p->y, 6)} : Json(nullptr);
}

template <class T, class Encode>
Json by_kind(const PerKind<T>& values, Encode encode) {
  Json json;
  for (std::size_t k = 0; k < kind_words.size(); ++k) json[kind_words[k]] = encode(values[k]);
  return json;
}

Json rows_json(const LinearMap<LinearRgb, ConeExcitation>& map) {
  Json rows = Json::array();
  for (const auto& row : map.rows)
    rows.push_back({rounded(row[0], 9), rounded(row[1], 9), rounded(row[2], 9)});
  return rows;
}

Json spread_json(const ObserverDescription& d) {
  Json least = Json::array(), most = Json::array();
  for (const auto& row : d.spread.lms) {
    least.push_back({rounded(row[0].least, 6), rounded(row[1].least, 6), rounded(row[2].least, 6)});
    most.push_back({rounded(row[0].most, 6), rounded(row[1].most, 6), rounded(row[2].most, 6)});
  }
  return {{"displays", d.spread.displays},
          {"largest_cone_entry", rounded(d.spread.largest_cone_entry, 6)},
          {"largest_rod_weight", rounded(d.spread.largest_rod_weight, 6)},
          {"lms_from_linear_rgb", {{"least", least}, {"most", most}}},
          {"line_angle_deg_xy", by_kind(d.line_angle_spread, [](const Spread& s) {
             return Json{rounded(s.least, 3), rounded(s.most, 3)};
           })}};
}

Json parameters_json(const ObserverDescription& d) {
  const Observer& o = d.observer;
  const auto density = [](const std::optional<Density>& own, Density usual) {
    return rounded(own.value_or(usual).log10, 6);
  };
  const Density long_wave = long_wave_pigment_density(o.field),
                short_wave = short_wave_pigment_density(o.field);
  const bool has_separation = o.kind == ObserverKind::protan || o.kind == ObserverKind::deutan;
  return {{"kind", name_of(o.kind)},
          {"separation_nm", has_separation ? Json(o.separation.nm) : Json(nullptr)},
          {"age", o.age.years},
          {"age_used", valid_age(o.age).years},
          {"field_deg", o.field.deg},
          {"field_used_deg", valid_field(o.field).deg},
          {"pupil_mm", o.pupil.mm},
          {"density",
           {{"l", density(o.density_l, long_wave)},
            {"m", density(o.density_m, long_wave)},
            {"s", rounded(o.s_density_factor * o.density_s.value_or(short_wave).log10, 6)}}},
          {"s_density_factor", o.s_density_factor},
          {"lens_factor", o.lens_factor},
          {"macula_factor", o.macula_factor},
          {"macula_at_460_nm", rounded(o.macula_factor * macular_peak(o.field).log10, 6)},
          {"lens_at_400_nm", rounded(o.lens_factor * lens_density(o.age, o.pupil).at(400), 6)},
          {"shift_nm", {{"l", o.shift_l.nm}, {"m", o.shift_m.nm}, {"s", o.shift_s.nm}}},
          {"peak_nm",
           {{"l", number_or_null(d.peak_nm[0], 2)},
            {"m", number_or_null(d.peak_nm[1], 2)},
            {"s", number_or_null(d.peak_nm[2], 2)}}},
          {"templates", o.by_formulae ? "formulae" : "tables"}};
}

std::string pair_words(const std::optional<Place2>& p) {
  return p ? decimals(p->x, 4) + ", " + decimals(p->y, 4) : "at infinity";
}

}  // namespace

std::string words_of(const RayleighMatch& match) {
  std::string words;
  if (match.accepts_all)
    words = "accepts every mixture of red and green with some yellow; no quotient can be given";
  else
    words = "accepts mixtures from " + decimals(match.low, 3) + " to " + decimals(match.high, 3) +
            " red, best " + decimals(match.x, 3);
  if (match.quotient)
    words += "; anomalous quotient " + decimals(*match.quotient, 2) +
             " (normal .7 to 1.4 as usually quoted, from memory)";
  return words;
}

ObserverDescription describe_observer(const Observer& observer, const Display& display) {
  ObserverDescription d;
  d.observer = observer;
  d.display = display;
  d.fundamentals = fundamentals_of(observer);
  d.peak_nm = {peak_of(d.fundamentals.l), peak_of(d.fundamentals.m), peak_of(d.fundamentals.s)};
  const ObserverOnDisplay on(observer, display);
  d.lms = on.lms();
  d.l_weight = on.l_weight();
  for (std::size_t k = 0; k < 3; ++k) {
    for (std::size_t g = 0; g < all_diagrams.size(); ++g)
      d.copunctal[g][k] = on.copunctal(kind_cones[k], all_diagrams[g]);
    d.line_angle_deg_xy[k] = on.line_angle_deg(kind_cones[k], Diagram::xy);
    d.line_angle_spread[k] = {d.line_angle_deg_xy[k], d.line_angle_deg_xy[k],
                              d.line_angle_deg_xy[k]};
  }
  for (const Display& plausible : plausible_displays(display)) {
    const ObserverOnDisplay there(observer, plausible);
    for (std::size_t k = 0; k < 3; ++k) {
      const double angle = there.line_angle_deg(kind_cones[k], Diagram::xy);
      d.line_angle_spread[k].least = std::min(d.line_angle_spread[k].least, angle);
      d.line_angle_spread[k].most = std::max(d.line_angle_spread[k].most, angle);
    }
  }
  d.neutral_display_white = on.neutral(white_of(display));
  d.neutral_d65 = on.neutral(illuminant("illum_D65"));
  for (std::size_t p = 0; p < 3; ++p)
    d.luminance_weights[p] = d.l_weight * d.lms.rows[0][p] + (1 - d.l_weight) * d.lms.rows[1][p];
  d.rayleigh = rayleigh_match(d.fundamentals);
  d.spread = spread_over_spectra(display, observer);
  d.notes = notes_on(observer);
  if (observer.kind == ObserverKind::rod_monochromat && !display.panel.empty())
    d.notes.push_back(
        "rods on a display whose spectra are guessed: weights of the primaries may be "
        "off by " +
        decimals(d.spread.largest_rod_weight, 2) + " of white");
  d.notes.insert(d.notes.end(), display.notes.begin(), display.notes.end());
  d.sources = {"CIE 170-1:2006 (lens, macula, pigment densities, absorbance tables)",
               "CIE 170-2:2015 (luminance weights)",
               "Stockman & Rider 2023, doi 10.1002/col.22879 (peaks, formulae, codons)",
               "CIE 1931 colour-matching functions, ISO/CIE 11664-1",
               "docs/science/observer.md, display.md, confusion.md, rayleigh.md"};
  return d;
}

std::string description_json(const ObserverDescription& d) {
  const RayleighMatch& r = d.rayleigh;
  const Json json = {
      {"observer", name_of(d.observer)},
      {"display", d.display.name},
      {"display_status", name_of(d.display.known)},
      {"assumes", d.display.status},
      {"lms_from_linear_rgb", rows_json(d.lms)},
      {"copunctal_xy", by_kind(d.copunctal[0], pair_or_null)},
      {"copunctal_uv", by_kind(d.copunctal[1], pair_or_null)},
      {"copunctal_macleod_boynton", by_kind(d.copunctal[2], pair_or_null)},
      {"line_angle_deg_xy", by_kind(d.line_angle_deg_xy, [](double v) { return rounded(v, 3); })},
      {"neutral_nm",
       {{"display_white", number_or_null(d.neutral_display_white, 2)},
        {"d65", number_or_null(d.neutral_d65, 2)}}},
      {"luminance_weights",
       {{"r", rounded(d.luminance_weights[0], 6)},
        {"g", rounded(d.luminance_weights[1], 6)},
        {"b", rounded(d.luminance_weights[2], 6)},
        {"l", rounded(d.l_weight, 6)},
        {"m", rounded(1 - d.l_weight, 6)}}},
      {"rayleigh",
       {{"x", rounded(r.x, 6)},
        {"y", rounded(r.y, 6)},
        {"range", {rounded(r.low, 6), rounded(r.high, 6)}},
        {"quotient", number_or_null(r.quotient)}}},
      {"spread", spread_json(d)},
      {"parameters", parameters_json(d)},
      {"sources", d.sources},
      {"notes", d.notes},
      {"intended_use", intended_use()}};
  return json.dump(1) + "\n";
}

std::string description_text(const ObserverDescription& d) {
  std::string text = "observer " + name_of(d.observer) + " on display " + d.display.name + "\n  " +
                     d.display.status + "\n\n";
  text += "cone excitations per linear R, G, B (white 1)\n";
  constexpr std::array<const char*, 3> cones = {"L", "M", "S"};
  for (std::size_t i = 0; i < 3; ++i) {
    text += std::string("  ") + cones[i];
    for (const double entry : d.lms.rows[i]) text += "  " + decimals(entry, 5);
    text += d.peak_nm[i] ? "   peak " + decimals(*d.peak_nm[i], 1) + " nm\n" : "   no pigment\n";
  }
  text += "  unknown spectra move an entry by up to " + decimals(d.spread.largest_cone_entry, 4) +
          " (" + std::to_string(d.spread.displays) + " kinds of panel)\n";
  text += "luminance  R " + decimals(d.luminance_weights[0], 4) + "  G " +
          decimals(d.luminance_weights[1], 4) + "  B " + decimals(d.luminance_weights[2], 4) +
          "  (L " + decimals(d.l_weight, 3) + " of white)\n";
  text += "copunctal points, CIE 1931 xy, and direction from white\n";
  for (std::size_t k = 0; k < 3; ++k)
    text += std::string("  ") + kind_words[k] + "  " + pair_words(d.copunctal[0][k]) + "   " +
            decimals(d.line_angle_deg_xy[k], 2) + " degrees (" +
            decimals(d.line_angle_spread[k].least, 2) + " to " +
            decimals(d.line_angle_spread[k].most, 2) + " over panels)\n";
  if (d.neutral_display_white || d.neutral_d65)
    text +=
        "neutral point  " +
        (d.neutral_display_white
             ? decimals(*d.neutral_display_white, 1) + " nm against the display's white"
             : std::string("none against the display's white")) +
        (d.neutral_d65 ? ", " + decimals(*d.neutral_d65, 1) + " nm against D65" : std::string()) +
        "\n";
  text += "Rayleigh match  " + words_of(d.rayleigh) + "\n";
  for (const std::string& note : d.notes) text += "note: " + note + "\n";
  text += "\n" + std::string(intended_use()) + "\n";
  return text;
}

}  // namespace copunctal
