#include "copunctal/display/read_description.h"

#include <algorithm>
#include <cmath>

#include <toml++/toml.h>

#include "copunctal/base/files.h"
#include "copunctal/base/text.h"
#include "copunctal/data/table.h"
#include "copunctal/display/read_spectra.h"
#include "copunctal/spectrum/spectral_file.h"

namespace copunctal {
namespace {

tl::unexpected<Error> wrong(const std::string& name, const std::string& what,
                            const std::string& remedy) {
  return fail(Error::Kind::bad_input, name + ": " + what, "display description", name, remedy);
}

Result<void> only(const toml::table& given, std::initializer_list<std::string_view> known,
                  const std::string& name, const std::string& where) {
  for (const auto& [key, value] : given)
    if (std::find(known.begin(), known.end(), key.str()) == known.end()) {
      std::string list;
      for (const std::string_view one : known)
        list += (list.empty() ? "" : ", ") + std::string(one);
      return wrong(name + ":" + std::to_string(value.source().begin.line),
                   where + " has no '" + std::string(key.str()) + "'", "use " + list);
    }
  return {};
}

// Numbers of a list, or the one number there is.
std::vector<double> numbers(const toml::node_view<const toml::node>& node) {
  std::vector<double> values;
  if (const toml::array* list = node.as_array()) {
    for (const auto& item : *list) {
      const auto value = item.value<double>();
      if (!value) return {};
      values.push_back(*value);
    }
  } else if (const auto value = node.value<double>()) {
    values.push_back(*value);
  }
  return values;
}

Result<Display> typed_display(const toml::table& given, const std::string& name) {
  COPUNCTAL_TRY_VOID(
      only(given, {"red", "green", "blue", "white", "panel"}, name, "[chromaticities]"));
  constexpr std::array<const char*, 3> channels = {"red", "green", "blue"};
  PrimaryColours colours;
  std::array<double, 3> luminance{};
  std::size_t luminances = 0;
  for (std::size_t p = 0; p < 3; ++p) {
    const auto values = numbers(given[channels[p]]);
    if (values.size() != 2 && values.size() != 3)
      return wrong(
          name, std::string(channels[p]) + " is not a pair x, y",
          "write " + std::string(channels[p]) + " = [0.64, 0.33], with luminance as a third");
    colours.primaries[p] = {values[0], values[1]};
    if (values.size() == 3) {
      if (!(values[2] > 0) || !std::isfinite(values[2]))
        return wrong(name, std::string(channels[p]) + " has no luminance above 0",
                     "give cd/m2 above 0");
      luminance[p] = values[2];
      ++luminances;
    }
  }
  if (luminances != 0 && luminances != 3)
    return wrong(name, "luminances are given for some primaries only", "give all three or none");
  const auto white = numbers(given["white"]);
  if (luminances == 3) {
    if (!white.empty())
      return wrong(name, "white is given beside three luminances, which make it already",
                   "give one of the two");
    Xyz sum;
    for (std::size_t p = 0; p < 3; ++p) {
      if (colours.primaries[p].y <= 0)
        return wrong(name, std::string(channels[p]) + " has y of 0 or less",
                     "chromaticities of light have y above 0");
      sum = sum + luminance[p] * xyz_of(colours.primaries[p]);
    }
    colours.white = chromaticity_of(sum);
  } else {
    if (white.size() != 2)
      return wrong(name, "white is not a pair x, y", "write white = [0.3127, 0.3290]");
    colours.white = {white[0], white[1]};
  }
  const std::string panel = given["panel"].value_or(std::string("oled"));
  auto display = display_of(colours, panel);
  if (!display) return while_doing(name, std::move(display).error());
  if (luminances == 3) {
    display->peak_cd_m2 = luminance[0] + luminance[1] + luminance[2];
    display->peak_known = true;
  }
  display->status = "assumed: typed chromaticities, " + display->status +
                    "; the screen itself was not measured here";
  return display;
}

Result<std::string> text_beside(const std::filesystem::path& folder, const std::string& file) {
  return read_file(folder / file, std::size_t{8} << 20);
}

Result<Display> measured_display(const toml::table& given, const std::string& name,
                                 const std::filesystem::path& folder) {
  COPUNCTAL_TRY_VOID(only(given, {"file", "red", "green", "blue", "black"}, name, "[spectra]"));
  if (const auto file = given["file"].value<std::string>()) {
    COPUNCTAL_TRY(const std::string text, text_beside(folder, *file));
    return display_from_spectra(text, *file);
  }
  // One file each, its first spectrum: written as one CSV on our grid and read as such.
  std::vector<Power> columns;
  std::vector<std::string> notes, names;
  for (const char* channel : {"red", "green", "blue", "black"}) {
    const auto file = given[channel].value<std::string>();
    if (!file) {
      if (std::string_view(channel) == "black") continue;
      return wrong(name, "[spectra] names no file for " + std::string(channel),
                   "give file, or red, green and blue");
    }
    COPUNCTAL_TRY(const std::string text, text_beside(folder, *file));
    COPUNCTAL_TRY(const SpectralFile spectra, read_spectral_text(text, *file));
    COPUNCTAL_TRY(const Power power, power_on_grid(spectra, spectra.samples.front(), *file, notes));
    columns.push_back(power);
    names.emplace_back(channel);
  }
  std::string csv = "nm," + joined(names, ",") + "\n";
  for (std::size_t i = 0; i < spectrum_size; ++i) {
    csv += shortest(nm_at(i));
    for (const Power& column : columns) csv += "," + shortest(column[i]);
    csv += "\n";
  }
  auto display = display_from_spectra(csv, name);
  if (display) display->notes.insert(display->notes.end(), notes.begin(), notes.end());
  return display;
}

}  // namespace

Result<std::array<ToneCurve, 3>> curves_from_csv(std::string_view text, const std::string& name) {
  COPUNCTAL_TRY(const Table read, read_table(text, name));
  if (read.column_names.front() != "code" || (read.columns.size() != 2 && read.columns.size() != 4))
    return wrong(name, "the columns are not code,R,G,B", "name them code,R,G,B or code,light");
  std::vector<double> encoded = read.columns.front();
  const double full = encoded.empty() ? 0 : encoded.back();
  for (double& code : encoded) code /= full;
  std::array<ToneCurve, 3> curves;
  for (std::size_t p = 0; p < 3; ++p) {
    auto curve = ToneCurve::sampled(encoded, read.columns[read.columns.size() == 2 ? 1 : p + 1]);
    if (!curve) return while_doing(name, std::move(curve).error());
    curves[p] = *std::move(curve);
  }
  return curves;
}

Result<Display> display_from_description(std::string_view text, const std::string& name,
                                         const std::filesystem::path& folder) {
  toml::table root;
  try {
    root = toml::parse(text);
  } catch (const toml::parse_error& error) {
    return wrong(name + ":" + std::to_string(error.source().begin.line),
                 std::string(error.description()), "correct the TOML");
  }
  COPUNCTAL_TRY_VOID(
      only(root, {"name", "chromaticities", "spectra", "curve", "light"}, name, "a description"));
  const toml::table* typed = root["chromaticities"].as_table();
  const toml::table* spectra = root["spectra"].as_table();
  if ((typed == nullptr) == (spectra == nullptr))
    return wrong(name, "it needs [chromaticities] or [spectra], one of the two",
                 "give chromaticities or spectra");
  COPUNCTAL_TRY(Display display, typed != nullptr ? typed_display(*typed, name)
                                                  : measured_display(*spectra, name, folder));
  if (const toml::table* curve = root["curve"].as_table()) {
    COPUNCTAL_TRY_VOID(only(*curve, {"gamma", "file"}, name, "[curve]"));
    if (const auto file = (*curve)["file"].value<std::string>()) {
      COPUNCTAL_TRY(const std::string ramp, text_beside(folder, *file));
      COPUNCTAL_TRY(display.curves, curves_from_csv(ramp, *file));
      display.status += "; tone curves measured";
    } else {
      const auto gamma = numbers((*curve)["gamma"]);
      if (gamma.size() != 1 && gamma.size() != 3)
        return wrong(name, "gamma is neither a number nor three", "write gamma = 2.2");
      for (std::size_t p = 0; p < 3; ++p) {
        auto power = ToneCurve::power(gamma[gamma.size() == 3 ? p : 0]);
        if (!power) return while_doing(name, std::move(power).error());
        display.curves[p] = *std::move(power);
      }
      display.status += "; gamma as typed";
    }
  }
  if (const toml::table* light = root["light"].as_table()) {
    COPUNCTAL_TRY_VOID(
        only(*light, {"peak", "black", "lux", "reflectance", "bits"}, name, "[light]"));
    for (const auto& [key, value] : *light) {
      const auto number = value.value<double>();
      if (!number) return wrong(name, std::string(key.str()) + " is not a number", "give a number");
      if (key == "peak") {
        // A black measured with the spectra is a share of white and keeps it.
        display.black_cd_m2 *= *number / display.peak_cd_m2;
        display.peak_cd_m2 = *number;
        display.peak_known = true;
      }
    }
    display.black_cd_m2 = (*light)["black"].value<double>().value_or(display.black_cd_m2);
    display.ambient_lux = (*light)["lux"].value<double>().value_or(display.ambient_lux);
    display.reflectance = (*light)["reflectance"].value<double>().value_or(display.reflectance);
    display.bits =
        static_cast<int>(std::clamp((*light)["bits"].value<double>().value_or(8), 0.0, 99.0));
  }
  display.name = root["name"].value_or(name);
  return display;
}

}  // namespace copunctal
