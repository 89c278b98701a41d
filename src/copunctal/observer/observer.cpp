#include "copunctal/observer/observer.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

#include "copunctal/base/expects.h"
#include "copunctal/base/text.h"
#include "copunctal/observer/codons.h"
#include "copunctal/observer/formulae.h"
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

// A number an observer can be given by name.
struct Setting {
  std::string_view key;
  double least, most;
  void (*put)(Observer&, double);
  double (*taken)(const Observer&);  ///< NaN: not set.

  bool takes(double value) const { return value >= least && value <= most; }
};

constexpr double not_set = std::numeric_limits<double>::quiet_NaN();
double or_not_set(const std::optional<Density>& density) {
  return density ? density->log10 : not_set;
}

constexpr std::array<Setting, 12> settings = {{
    {"age", 0, 120, [](Observer& o, double v) { o.age = {v}; },
     [](const Observer& o) { return o.age.years; }},
    {"field", 0.1, 90, [](Observer& o, double v) { o.field = {v}; },
     [](const Observer& o) { return o.field.deg; }},
    {"pupil", 1, 9, [](Observer& o, double v) { o.pupil = {v}; },
     [](const Observer& o) { return o.pupil.mm; }},
    {"s-density", 0, 2, [](Observer& o, double v) { o.s_density_factor = v; },
     [](const Observer& o) { return o.s_density_factor; }},
    {"density-l", 0.01, 3, [](Observer& o, double v) { o.density_l = Density{v}; },
     [](const Observer& o) { return or_not_set(o.density_l); }},
    {"density-m", 0.01, 3, [](Observer& o, double v) { o.density_m = Density{v}; },
     [](const Observer& o) { return or_not_set(o.density_m); }},
    {"density-s", 0.01, 3, [](Observer& o, double v) { o.density_s = Density{v}; },
     [](const Observer& o) { return or_not_set(o.density_s); }},
    {"lens", 0, 3, [](Observer& o, double v) { o.lens_factor = v; },
     [](const Observer& o) { return o.lens_factor; }},
    {"macula", 0, 5, [](Observer& o, double v) { o.macula_factor = v; },
     [](const Observer& o) { return o.macula_factor; }},
    {"shift-l", -15, 15, [](Observer& o, double v) { o.shift_l = {v}; },
     [](const Observer& o) { return o.shift_l.nm; }},
    {"shift-m", -15, 15, [](Observer& o, double v) { o.shift_m = {v}; },
     [](const Observer& o) { return o.shift_m.nm; }},
    {"shift-s", -15, 15, [](Observer& o, double v) { o.shift_s = {v}; },
     [](const Observer& o) { return o.shift_s.nm; }},
}};

constexpr std::array kinds = {ObserverKind::normal,
                              ObserverKind::protan,
                              ObserverKind::deutan,
                              ObserverKind::tritan,
                              ObserverKind::s_cone_monochromat,
                              ObserverKind::rod_monochromat};

std::optional<ObserverKind> observer_kind_from(std::string_view name) {
  for (const ObserverKind kind : kinds)
    if (name_of(kind) == name) return kind;
  return std::nullopt;
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

DensitySpectrum media_density(const Observer& o) {
  DensitySpectrum lens = lens_density(o.age, o.pupil);
  DensitySpectrum macula = macular_density(o.field);
  if (o.by_formulae) {
    // The formulae give one lens, of 32 years, and one macula, of 2 degrees: age, pupil and field
    // move them as they move the tables.
    const double older = lens_ageing_factor(valid_age(o.age)) - 1;
    const double open = pupil_factor(o.pupil);
    const double peak = macular_peak(o.field).log10 / macular_peak({2}).log10;
    lens = lens_by_formula();
    macula = macula_by_formula();
    for (std::size_t i = 0; i < spectrum_size; ++i) {
      lens[i] = open * (lens[i] + older * lens_parts().ageing[i]);
      macula[i] *= peak;
    }
  }
  DensitySpectrum media;
  for (std::size_t i = 0; i < spectrum_size; ++i)
    media[i] = o.lens_factor * lens[i] + o.macula_factor * macula[i];
  return media;
}

Fundamentals fundamentals_of(const Observer& o) {
  if (o.kind == ObserverKind::rod_monochromat) {
    const EnergySensitivity rods = rod_sensitivity();
    return {rods, rods, rods};
  }
  const DensitySpectrum media = media_density(o);
  const auto pigment_of = [&](PigmentClass which, Nanometres shift) {
    const bool affected = (which == PigmentClass::l && o.kind == ObserverKind::protan) ||
                          (which == PigmentClass::m && o.kind == ObserverKind::deutan);
    if (o.by_formulae)
      return affected ? blended_pigment_by_formula(which, o.separation, shift)
                      : pigment_by_formula(which, shift);
    return affected ? blended_pigment(which, o.separation, shift) : pigment(which, shift);
  };
  const double density_l = o.density_l.value_or(long_wave_pigment_density(o.field)).log10;
  const double density_m = o.density_m.value_or(long_wave_pigment_density(o.field)).log10;
  const double density_s =
      o.s_density_factor * o.density_s.value_or(short_wave_pigment_density(o.field)).log10;

  Fundamentals f;
  f.s = energy_sensitivity(pigment_of(PigmentClass::s, o.shift_s), density_s, media);
  if (o.kind == ObserverKind::s_cone_monochromat) return {f.s, f.s, f.s};
  f.l = energy_sensitivity(pigment_of(PigmentClass::l, o.shift_l), density_l, media);
  f.m = energy_sensitivity(pigment_of(PigmentClass::m, o.shift_m), density_m, media);
  return f;
}

Result<Observer> observer_from(std::string_view text) {
  const std::string whole(text);
  const auto wrong = [&](const std::string& what, const std::string& remedy) {
    return fail(Error::Kind::usage, "observer '" + whole + "': " + what, "observer", whole, remedy);
  };
  const auto parts = split(text, ',');
  const std::string_view head = parts.front();
  const auto colon = head.find(':');
  const std::string_view kind = head.substr(0, colon);

  Observer observer;
  const auto found = observer_kind_from(kind);
  if (!found)
    return wrong("'" + std::string(kind) + "' is not a kind of observer",
                 "use normal, protan, deutan, tritan, s-cone-monochromat or rod-monochromat");
  observer.kind = *found;
  const bool red_green =
      observer.kind == ObserverKind::protan || observer.kind == ObserverKind::deutan;
  if (red_green) observer.separation = {0};
  if (observer.kind == ObserverKind::tritan) observer.s_density_factor = 0;

  const bool has_separation = colon != std::string_view::npos;
  if (has_separation) {
    const auto nm = number_from(head.substr(colon + 1));
    if (!red_green)
      return wrong("only protan and deutan take a separation", "leave out the part after ':'");
    if (!nm || !(*nm >= 0 && *nm <= normal_separation_nm))
      return wrong("'" + std::string(head.substr(colon + 1)) + "' is not a residual separation",
                   "give nm between 0 (dichromat) and 28 (normal)");
    observer.separation = {*nm};
  }
  std::vector<std::string> seen;
  for (std::size_t i = 1; i < parts.size(); ++i) {
    const auto equals = parts[i].find('=');
    const std::string key(parts[i].substr(0, equals));
    if (equals == std::string_view::npos)
      return wrong("'" + std::string(parts[i]) + "' is not a setting", "write it as age=45");
    if (std::find(seen.begin(), seen.end(), key) != seen.end())
      return wrong("'" + key + "' is given twice", "give it once");
    seen.push_back(key);
    const std::string_view value = parts[i].substr(equals + 1);
    if (key == "templates" && (value == "tables" || value == "formulae")) {
      observer.by_formulae = value == "formulae";
      continue;
    }
    if (key == "codons") {
      if (has_separation) return wrong("a separation and codons", "give one of the two");
      std::vector<int> changed;
      for (const std::string_view one : split(value, '+')) {
        const auto number = whole_number_from(one);
        if (!number || *number > 1000)
          return wrong("'" + std::string(value) + "' are not codons", "write them as 180+230");
        changed.push_back(static_cast<int>(*number));
      }
      const auto separation = separation_by_codons(observer.kind, changed);
      if (!separation) return wrong(separation.error().message, separation.error().remedy);
      observer.separation = *separation;
      continue;
    }
    const auto* const setting = std::find_if(settings.begin(), settings.end(),
                                             [&](const Setting& one) { return one.key == key; });
    const auto number = number_from(value);
    if (setting == settings.end() || !number || !setting->takes(*number)) {
      std::string known;
      for (const Setting& one : settings)
        known +=
            std::string(one.key) + "=" + shortest(one.least) + ".." + shortest(one.most) + ", ";
      return wrong("'" + std::string(parts[i]) + "' is unknown or out of range",
                   "use " + known + "templates=tables|formulae or codons=180+230");
    }
    setting->put(observer, *number);
  }
  return observer;
}

std::string name_of(const Observer& o) {
  Observer standard;
  if (o.kind == ObserverKind::tritan) standard.s_density_factor = 0;
  std::string name(name_of(o.kind));
  if (o.kind == ObserverKind::protan || o.kind == ObserverKind::deutan)
    name += ":" + shortest(o.separation.nm);
  for (const Setting& setting : settings) {
    const double own = setting.taken(o), usual = setting.taken(standard);
    if (std::isnan(own) || own == usual) continue;
    name += "," + std::string(setting.key) + "=" + shortest(own);
  }
  if (o.by_formulae) name += ",templates=formulae";
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
  if (o.pupil.mm > 3 && o.pupil.mm < 7)
    notes.emplace_back(
        "pupils between 3 and 7 mm are not part of the standard; the lens is taken linearly "
        "between");
  if (o.pupil.mm > 7 || o.pupil.mm < 3)
    notes.push_back("pupil " + shortest(o.pupil.mm) + " mm is computed as " +
                    (o.pupil.mm > 7 ? "7" : "3") + " mm");
  if (o.s_density_factor != 1 && o.s_density_factor != 0)
    notes.emplace_back("s-density is illustrative: no published law for partial tritan loss");
  if (o.by_formulae)
    notes.emplace_back(
        "formulae of Stockman & Rider 2023: fundamentals depart from the CIE tables by up to .019 "
        "of "
        "the peak");
  if (o.kind == ObserverKind::s_cone_monochromat)
    notes.emplace_back("S cones alone, photopic: rods, which help in dim light, are left out");
  if (o.kind == ObserverKind::rod_monochromat)
    notes.emplace_back(
        "rods alone, CIE 1951 V': strongly dependent on the display's spectra; age, field and "
        "densities do not act");
  return notes;
}

}  // namespace copunctal
