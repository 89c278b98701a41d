// An eye and the displays as JSON.
#include <cmath>

#include <nlohmann/json.hpp>

#include "copunctal/app/debrief.h"
#include "copunctal/base/expects.h"
#include "copunctal/base/text.h"
#include "copunctal/observer/media.h"
#include "copunctal/server/encode.h"

namespace copunctal {
namespace {

using Json = nlohmann::ordered_json;

double short_number(double number) {
  expects(std::isfinite(number));
  return rounded(number, 5);
}

Json number_or_null(const std::optional<double>& value) {
  return value ? Json(rounded(*value, 2)) : Json(nullptr);
}

Json place_json(Place2 p) {
  return {short_number(p.x), short_number(p.y)};
}

constexpr int curve_step_nm = 5, curve_last_nm = 730;

Json curve_json(const EnergySensitivity& cone) {
  Json values = Json::array();
  for (int nm = first_nm; nm <= curve_last_nm; nm += curve_step_nm)
    values.push_back(short_number(cone.at(nm)));
  return values;
}

Json curves_json(const Fundamentals& f) {
  return {{"l", curve_json(f.l)}, {"m", curve_json(f.m)}, {"s", curve_json(f.s)}};
}

Json diagram_json(const EyeDiagram& d, const PerKind<std::optional<Place2>>& copunctal) {
  Json locus = Json::array(), triangle = Json::array(), lines = Json::array(),
       meets = Json::array();
  for (const auto& [nm, place] : d.locus)
    locus.push_back({nm, short_number(place.x), short_number(place.y)});
  for (const Place2& corner : d.triangle) triangle.push_back(place_json(corner));
  for (const EyeDiagram::Line& line : d.lines)
    lines.push_back({{"kind", kind_words[line.kind]},
                     {"own", line.own},
                     {"points", {place_json(line.points[0]), place_json(line.points[1])}},
                     {"angle_deg", rounded(line.angle_deg, 2)}});
  for (std::size_t k = 0; k < kind_words.size(); ++k) {
    const auto& p = copunctal[k];
    const bool inside =
        p && p->x >= d.low.x && p->x <= d.high.x && p->y >= d.low.y && p->y <= d.high.y;
    meets.push_back({{"kind", kind_words[k]},
                     {"point", p ? place_json(*p) : Json(nullptr)},
                     {"inside", inside}});
  }
  const bool cones = d.diagram == Diagram::macleod_boynton;
  return {{"name", name_of(d.diagram)},
          {"axes", cones                      ? Json{"l", "s"}
                   : d.diagram == Diagram::uv ? Json{"u'", "v'"}
                                              : Json{"x", "y"}},
          {"range", {{d.low.x, d.high.x}, {d.low.y, d.high.y}}},
          {"locus", locus},
          {"triangle", triangle},
          {"white", place_json(d.white)},
          {"at", place_json(d.at)},
          {"lines", lines},
          {"copunctal", meets}};
}

}  // namespace

std::string json_of(const EyeView& view) {
  const ObserverDescription& d = view.description;
  const Observer& o = d.observer;
  Json nm = Json::array(), diagrams = Json::array();
  for (int at = first_nm; at <= curve_last_nm; at += curve_step_nm) nm.push_back(at);
  for (std::size_t g = 0; g < view.diagrams.size(); ++g)
    diagrams.push_back(diagram_json(view.diagrams[g], d.copunctal[g]));
  const auto density = [](const std::optional<Density>& own, Density usual) {
    return rounded(own.value_or(usual).log10, 4);
  };
  const Density long_wave = long_wave_pigment_density(o.field),
                short_wave = short_wave_pigment_density(o.field);
  const RayleighMatch& r = d.rayleigh;
  const Json json = {
      {"observer", name_of(o)},
      {"kind", name_of(o.kind)},
      {"separation_nm", o.separation.nm},
      {"s_density", o.s_density_factor},
      {"age", o.age.years},
      {"field", o.field.deg},
      {"density",
       {{"l", density(o.density_l, long_wave)},
        {"m", density(o.density_m, long_wave)},
        {"s", density(o.density_s, short_wave)}}},
      {"display", d.display.name},
      {"display_status", name_of(d.display.known)},
      {"display_words", d.display.status},
      {"notes", d.notes},
      {"nm", nm},
      {"curves", curves_json(d.fundamentals)},
      {"normal", curves_json(view.normal)},
      {"peaks_nm",
       {{"l", number_or_null(d.peak_nm[0])},
        {"m", number_or_null(d.peak_nm[1])},
        {"s", number_or_null(d.peak_nm[2])}}},
      {"diagrams", diagrams},
      {"neutral_nm",
       {{"display_white", number_or_null(d.neutral_display_white)},
        {"d65", number_or_null(d.neutral_d65)}}},
      {"rayleigh",
       {{"x", short_number(r.x)},
        {"y", short_number(r.y)},
        {"range", {short_number(r.low), short_number(r.high)}},
        {"quotient", r.quotient ? Json(short_number(*r.quotient)) : Json(nullptr)},
        {"normal",
         {{"x", short_number(view.normal_match.x)}, {"y", short_number(view.normal_match.y)}}},
        {"mixture", {{"code", view.mixture}, {"in_gamut", view.mixture_in_gamut}}},
        {"words", words_of(r)}}},
      {"intended_use", intended_use()}};
  return json.dump();
}

std::string json_of(const std::vector<Display>& displays) {
  Json all = Json::array();
  for (const Display& display : displays)
    all.push_back(
        {{"name", display.name}, {"status", name_of(display.known)}, {"words", display.status}});
  return Json{{"displays", all}}.dump();
}

}  // namespace copunctal
