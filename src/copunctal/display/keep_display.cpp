#include "copunctal/display/keep_display.h"

#include <algorithm>

#include <nlohmann/json.hpp>

namespace copunctal {
namespace {

using Json = nlohmann::ordered_json;

Json json_of(const ToneCurve& curve) {
  if (curve.is_srgb()) return "srgb";
  if (const auto exponent = curve.exponent()) return {{"power", *exponent}};
  return {{"encoded", curve.sample_values()}, {"light", curve.sample_lights()}};
}

// Throws what nlohmann throws for anything json_of() does not write.
Result<ToneCurve> curve_from(const Json& json) {
  if (json == "srgb") return ToneCurve();
  if (json.contains("power")) return ToneCurve::power(json.at("power").get<double>());
  const auto encoded = json.at("encoded").get<std::vector<double>>(),
             light = json.at("light").get<std::vector<double>>();
  if (encoded.size() != light.size())
    return fail(Error::Kind::bad_input, "a tone curve has more codes than lights, or fewer",
                "display", "", "keep the display again");
  return ToneCurve::sampled(encoded, light);
}

Json json_of(Chromaticity c) {
  return {c.x, c.y};
}
Chromaticity chromaticity_from(const Json& json) {
  return {json.at(0).get<double>(), json.at(1).get<double>()};
}

}  // namespace

std::string kept_display(const Display& display) {
  Json primaries = Json::array(), chromaticities = Json::array(), curves = Json::array();
  for (std::size_t p = 0; p < 3; ++p) {
    primaries.push_back(display.primaries[p].values);
    chromaticities.push_back(json_of(display.chromaticities[p]));
    curves.push_back(json_of(display.curves[p]));
  }
  return Json{{"name", display.name},
              {"known", name_of(display.known)},
              {"status", display.status},
              {"primaries", primaries},
              {"chromaticities", chromaticities},
              {"white", json_of(display.white)},
              {"curves", curves},
              {"peak_cd_m2", display.peak_cd_m2},
              {"peak_known", display.peak_known},
              {"black_cd_m2", display.black_cd_m2},
              {"ambient_lux", display.ambient_lux},
              {"reflectance", display.reflectance},
              {"bits", display.bits},
              {"panel", display.panel},
              {"notes", display.notes}}
      .dump();
}

Result<Display> display_kept(std::string_view text) {
  Display display;
  try {
    const Json json = Json::parse(text);
    display.name = json.at("name").get<std::string>();
    const auto known = json.at("known").get<std::string>();
    constexpr std::array all = {DisplayStatus::measured, DisplayStatus::profile,
                                DisplayStatus::assumed};
    const auto* at = std::find_if(all.begin(), all.end(),
                                  [&](DisplayStatus status) { return name_of(status) == known; });
    if (at == all.end()) throw std::invalid_argument("unknown word '" + known + "'");
    display.known = *at;
    display.status = json.at("status").get<std::string>();
    for (std::size_t p = 0; p < 3; ++p) {
      display.primaries[p].values =
          json.at("primaries").at(p).get<std::array<double, spectrum_size>>();
      display.chromaticities[p] = chromaticity_from(json.at("chromaticities").at(p));
      COPUNCTAL_TRY(display.curves[p], curve_from(json.at("curves").at(p)));
    }
    display.white = chromaticity_from(json.at("white"));
    display.peak_cd_m2 = json.at("peak_cd_m2").get<double>();
    display.peak_known = json.at("peak_known").get<bool>();
    display.black_cd_m2 = json.at("black_cd_m2").get<double>();
    display.ambient_lux = json.at("ambient_lux").get<double>();
    display.reflectance = json.at("reflectance").get<double>();
    display.bits = json.at("bits").get<int>();
    display.panel = json.at("panel").get<std::string>();
    display.notes = json.at("notes").get<std::vector<std::string>>();
  } catch (const std::exception& error) {
    return fail(Error::Kind::bad_input, std::string("no display is kept here: ") + error.what(),
                "display", "", "make again what the display was kept with");
  }
  COPUNCTAL_TRY_VOID(check_display(display));
  return display;
}

std::string_view colour_space_of(const Display& display) {
  const std::string_view named = colour_space_of_named(display.name);
  return named == "srgb" || is_named(display) ? named : "srgb";
}

std::string_view colour_space_of_named(std::string_view name) {
  return name.starts_with("display-p3") ? "display-p3" : "srgb";
}

bool is_named(const Display& display) {
  const auto named = named_display(display.name);
  return named && kept_display(*named) == kept_display(display);
}

}  // namespace copunctal
