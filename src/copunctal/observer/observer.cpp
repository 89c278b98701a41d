#include "copunctal/observer/observer.h"

#include <algorithm>
#include <cmath>

#include "copunctal/base/expects.h"
#include "copunctal/base/text.h"
#include "copunctal/observer/media.h"
#include "copunctal/observer/pigment.h"

namespace copunctal {
namespace {

EnergySensitivity energy_sensitivity(const LogAbsorbance& log_absorbance, double density,
                                     const DensitySpectrum& media) {
  EnergySensitivity result;
  double peak = 0;
  for (std::size_t i = 0; i < spectrum_size; ++i) {
    const double absorbance = std::pow(10, log_absorbance[i]);
    const double absorptance = 1 - std::pow(10, -density * absorbance);
    // One factor of wavelength turns quanta into energy.
    result[i] = nm_at(i) * absorptance * std::pow(10, -media[i]);
    peak = std::max(peak, result[i]);
  }
  if (peak > 0)
    for (double& value : result.values) value /= peak;
  return result;
}

EnergySensitivity rod_sensitivity() {
  // Interpolated in log10: V' falls over six decades.
  const Table& rods = table("scotopic_1951");
  std::vector<double> logs;
  for (const double value : rods.column("Vprime")) logs.push_back(std::log10(value));
  const CubicSpline spline(rods.columns.front(), logs);
  EnergySensitivity result;
  double peak = 0;
  for (std::size_t i = 0; i < spectrum_size; ++i) {
    result[i] = nm_at(i) <= rods.columns.front().back() ? std::pow(10, spline(nm_at(i))) : 0;
    peak = std::max(peak, result[i]);
  }
  for (double& value : result.values) value /= peak;
  return result;
}

}  // namespace

std::string_view name_of(ObserverKind kind) {
  switch (kind) {
    case ObserverKind::normal:
      return "normal";
    case ObserverKind::protan:
      return "protan";
    case ObserverKind::deutan:
      return "deutan";
    case ObserverKind::tritan:
      return "tritan";
    case ObserverKind::s_cone_monochromat:
      return "s-cone-monochromat";
    case ObserverKind::rod_monochromat:
      return "rod-monochromat";
  }
  return "normal";
}

Fundamentals fundamentals_of(const Observer& o) {
  if (o.kind == ObserverKind::rod_monochromat) {
    const EnergySensitivity rods = rod_sensitivity();
    return {rods, rods, rods};
  }
  DensitySpectrum media = lens_density(o.age);
  const DensitySpectrum macula = macular_density(o.field);
  for (std::size_t i = 0; i < spectrum_size; ++i)
    media[i] = o.lens_factor * media[i] + o.macula_factor * macula[i];

  const LogAbsorbance l_pigment = o.kind == ObserverKind::protan
                                      ? blended_pigment(PigmentClass::l, o.separation, o.shift_l)
                                      : pigment(PigmentClass::l, o.shift_l);
  const LogAbsorbance m_pigment = o.kind == ObserverKind::deutan
                                      ? blended_pigment(PigmentClass::m, o.separation, o.shift_m)
                                      : pigment(PigmentClass::m, o.shift_m);
  const double density_l = o.density_l.value_or(long_wave_pigment_density(o.field)).log10;
  const double density_m = o.density_m.value_or(long_wave_pigment_density(o.field)).log10;
  const double density_s =
      o.s_density_factor * o.density_s.value_or(short_wave_pigment_density(o.field)).log10;

  Fundamentals f;
  f.s = energy_sensitivity(pigment(PigmentClass::s, o.shift_s), density_s, media);
  if (o.kind == ObserverKind::s_cone_monochromat) return {f.s, f.s, f.s};
  f.l = energy_sensitivity(l_pigment, density_l, media);
  f.m = energy_sensitivity(m_pigment, density_m, media);
  return f;
}

Result<Observer> observer_from(std::string_view text) {
  const std::string whole(text);
  const auto wrong = [&](const std::string& what, const std::string& remedy) {
    return fail(Error::Kind::usage, "observer '" + whole + "': " + what + "; " + remedy, "observer",
                whole, remedy);
  };
  const auto parts = split(text, ',');
  const std::string_view head = parts.front();
  const auto colon = head.find(':');
  const std::string_view kind = head.substr(0, colon);

  Observer observer;
  constexpr std::array kinds = {ObserverKind::normal,
                                ObserverKind::protan,
                                ObserverKind::deutan,
                                ObserverKind::tritan,
                                ObserverKind::s_cone_monochromat,
                                ObserverKind::rod_monochromat};
  const auto* const found =
      std::find_if(kinds.begin(), kinds.end(), [&](ObserverKind k) { return name_of(k) == kind; });
  if (found == kinds.end())
    return wrong("'" + std::string(kind) + "' is not a kind of observer",
                 "use normal, protan, deutan, tritan, s-cone-monochromat or rod-monochromat");
  observer.kind = *found;
  const bool red_green =
      observer.kind == ObserverKind::protan || observer.kind == ObserverKind::deutan;
  if (red_green) observer.separation = {0};
  if (observer.kind == ObserverKind::tritan) observer.s_density_factor = 0;

  if (colon != std::string_view::npos) {
    const auto nm = number_from(head.substr(colon + 1));
    if (!red_green)
      return wrong("only protan and deutan take a separation", "leave out the part after ':'");
    if (!nm || *nm < 0 || *nm > normal_separation_nm)
      return wrong("'" + std::string(head.substr(colon + 1)) + "' is not a residual separation",
                   "give nm between 0 (dichromat) and 28 (normal)");
    observer.separation = {*nm};
  }
  for (std::size_t i = 1; i < parts.size(); ++i) {
    const auto equals = parts[i].find('=');
    const std::string key(parts[i].substr(0, equals));
    const auto value =
        equals == std::string_view::npos ? std::nullopt : number_from(parts[i].substr(equals + 1));
    if (!value) return wrong("'" + std::string(parts[i]) + "' is not a setting", "write age=45");
    if (key == "age" && *value >= 0 && *value <= 120)
      observer.age = {*value};
    else if (key == "field" && *value > 0 && *value <= 90)
      observer.field = {*value};
    else if (key == "s-density" && *value >= 0 && *value <= 2)
      observer.s_density_factor = *value;
    else
      return wrong("'" + std::string(parts[i]) + "' is unknown or out of range",
                   "use age=0..120, field=0..90 (degrees) or s-density=0..2");
  }
  return observer;
}

std::string name_of(const Observer& o) {
  const Observer standard;
  std::string name(name_of(o.kind));
  if (o.kind == ObserverKind::protan || o.kind == ObserverKind::deutan)
    name += ":" + shortest(o.separation.nm);
  const double usual_s = o.kind == ObserverKind::tritan ? 0 : 1;
  if (o.age.years != standard.age.years) name += ",age=" + shortest(o.age.years);
  if (o.field.deg != standard.field.deg) name += ",field=" + shortest(o.field.deg);
  if (o.s_density_factor != usual_s) name += ",s-density=" + shortest(o.s_density_factor);
  return name;
}

std::vector<std::string> notes_on(const Observer& o) {
  std::vector<std::string> notes;
  if (const double age = valid_age(o.age).years; age != o.age.years)
    notes.push_back("age " + shortest(o.age.years) + " is outside 20 to 80 years; computed at " +
                    shortest(age));
  if (const double field = valid_field(o.field).deg; field != o.field.deg)
    notes.push_back("field " + shortest(o.field.deg) + " is outside 1 to 10 degrees; computed at " +
                    shortest(field));
  if (o.s_density_factor != 1 && o.s_density_factor != 0)
    notes.emplace_back("s-density is illustrative: no published law for partial tritan loss");
  return notes;
}

}  // namespace copunctal
