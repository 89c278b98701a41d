#include "copunctal/display/display.h"

#include <algorithm>
#include <cctype>

#include "copunctal/base/files.h"
#include "copunctal/base/text.h"
#include "copunctal/display/read_description.h"
#include "copunctal/display/read_edid.h"
#include "copunctal/display/read_profile.h"
#include "copunctal/display/read_spectra.h"

namespace copunctal {
namespace {

namespace fs = std::filesystem;

struct NamedColours {
  std::string_view name;
  PrimaryColours colours;
  std::string_view source;
};

// D65 white for both.
constexpr std::array<NamedColours, 2> named_colours = {{
    {"srgb", {{{{0.64, 0.33}, {0.30, 0.60}, {0.15, 0.06}}}, {0.3127, 0.3290}}, "IEC 61966-2-1"},
    {"display-p3",
     {{{{0.680, 0.320}, {0.265, 0.690}, {0.150, 0.060}}}, {0.3127, 0.3290}},
     "SMPTE RP 431-2 primaries, D65 white"},
}};

constexpr std::string_view wide_name = "rec2020/lines";

// The primaries of ITU-R BT.2020 are single wavelengths, 630, 532 and 467 nm, and no panel's
// spectra: only lines make them.
Display display_of_lines() {
  std::array<Power, 3> lines;
  constexpr std::array<int, 3> nm = {630, 532, 467};
  for (std::size_t p = 0; p < 3; ++p) lines[p][static_cast<std::size_t>(nm[p] - first_nm)] = 1;
  const Xyz white = xyz_of({0.3127, 0.3290});
  LinearMap<LinearRgb, Xyz> unit;
  for (std::size_t p = 0; p < 3; ++p) {
    const Xyz c = tristimulus_values(lines[p]);
    unit.rows[0][p] = c.x;
    unit.rows[1][p] = c.y;
    unit.rows[2][p] = c.z;
  }
  const LinearRgb drive = inverse(unit)(white);
  Display display;
  for (std::size_t p = 0; p < 3; ++p) {
    const double power = p == 0 ? drive.r : p == 1 ? drive.g : drive.b;
    for (double& value : lines[p].values) value *= power;
    display.chromaticities[p] = chromaticity_of(tristimulus_values(lines[p]));
  }
  display.primaries = lines;
  display.white = {0.3127, 0.3290};
  display.name = wide_name;
  const ToneCurve curve = *ToneCurve::power(2.4);
  display.curves = {curve, curve, curve};
  display.status =
      "assumed: single wavelengths of ITU-R BT.2020 (630, 532, 467 nm), gamma 2.4 (BT.1886); no "
      "panel "
      "has such spectra, and observers differ most where lights are narrow";
  return display;
}

tl::unexpected<Error> unknown_display(std::string_view name) {
  const std::string known = joined(display_names(), ", ");
  return fail(Error::Kind::usage, "no display or file named '" + std::string(name) + "'", "display",
              std::string(name),
              "use one of " + known +
                  " (srgb alone is srgb/oled), or a file .icc, .edid, .csv, .sp, "
                  ".ti3 or .toml");
}

Result<Display> built_in(std::string_view name) {
  if (name == wide_name || name == "rec2020") return display_of_lines();
  const auto slash = name.find('/');
  const std::string_view colours_name = name.substr(0, slash);
  const std::string_view panel = slash == std::string_view::npos ? "oled" : name.substr(slash + 1);
  const auto* const named =
      std::find_if(named_colours.begin(), named_colours.end(),
                   [&](const NamedColours& one) { return one.name == colours_name; });
  const auto panels = panel_names();
  if (named == named_colours.end() ||
      std::find(panels.begin(), panels.end(), panel) == panels.end())
    return unknown_display(name);
  COPUNCTAL_TRY(Display display, display_of(named->colours, panel));
  display.name = std::string(named->name) + "/" + std::string(panel);
  display.status = "assumed: chromaticities of " + std::string(named->source) + ", " +
                   display.status + "; the screen itself was not measured";
  return display;
}

// An extension in lower case, with its dot.
std::string extension_of(const fs::path& file) {
  std::string extension = file.extension().string();
  for (char& c : extension) c = static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
  return extension;
}

Result<Display> display_from_file(const fs::path& file, std::string_view panel) {
  constexpr std::size_t most_bytes = std::size_t{16} << 20;
  COPUNCTAL_TRY(const std::string bytes, read_file(file, most_bytes));
  const std::string name = file.filename().string(), extension = extension_of(file);
  if (extension == ".icc" || extension == ".icm") return display_from_profile(bytes, name, panel);
  if (extension == ".edid" || extension == ".bin") return display_from_edid(bytes, name, panel);
  if (extension == ".toml") return display_from_description(bytes, name, file.parent_path());
  return display_from_spectra(bytes, name);
}

bool looks_like_file(std::string_view name) {
  static const std::vector<std::string> extensions = {".icc", ".icm", ".edid", ".bin", ".csv",
                                                      ".sp",  ".ti3", ".txt",  ".toml"};
  const std::string extension = extension_of(fs::path(name));
  return std::find(extensions.begin(), extensions.end(), extension) != extensions.end();
}

struct Setting {
  std::string key, value;
};

// "name,key=value,key=value": the name may hold commas, so the settings are taken from the end.
std::vector<Setting> take_settings(std::string_view& text) {
  std::vector<Setting> settings;
  const auto in_order = [&] {
    std::reverse(settings.begin(), settings.end());
    return settings;
  };
  while (true) {
    const auto comma = text.rfind(',');
    if (comma == std::string_view::npos) return in_order();
    const std::string_view part = text.substr(comma + 1);
    const auto equals = part.find('=');
    if (equals == std::string_view::npos || equals == 0 ||
        part.find_first_not_of("abcdefghijklmnopqrstuvwxyz") != equals)
      return in_order();
    settings.push_back({std::string(part.substr(0, equals)), std::string(part.substr(equals + 1))});
    text = text.substr(0, comma);
  }
}

Result<void> apply(Display& display, const Setting& setting) {
  const auto value = number_from(setting.value);
  const std::string said = setting.key + "=" + setting.value;
  if (!value)
    return fail(Error::Kind::usage, "display setting '" + said + "' is not a number", "display",
                said, "write it as " + setting.key + "=2.2");
  if (setting.key == "gamma") {
    auto curve = ToneCurve::power(*value);
    if (!curve) return tl::unexpected(std::move(curve).error());
    display.curves = {*curve, *curve, *curve};
  } else if (setting.key == "peak") {
    display.black_cd_m2 *= *value / display.peak_cd_m2;
    display.peak_cd_m2 = *value;
    display.peak_known = true;
  } else if (setting.key == "black") {
    display.black_cd_m2 = *value;
  } else if (setting.key == "lux") {
    display.ambient_lux = *value;
  } else if (setting.key == "reflectance") {
    display.reflectance = *value;
  } else if (setting.key == "bits") {
    display.bits = *value == 10 ? 10 : *value == 8 ? 8 : 0;
  } else {
    return fail(Error::Kind::usage, "a display has no setting '" + setting.key + "'", "display",
                said, "use gamma, peak, black, lux, reflectance, bits or panel");
  }
  display.name += "," + said;
  return {};
}

}  // namespace

std::string_view name_of(DisplayStatus status) {
  switch (status) {
    case DisplayStatus::measured:
      return "measured";
    case DisplayStatus::profile:
      return "profile";
    case DisplayStatus::assumed:
      return "assumed";
  }
  return "assumed";
}

std::vector<std::string> display_names() {
  std::vector<std::string> names;
  for (const NamedColours& one : named_colours)
    for (const std::string& panel : panel_names())
      names.push_back(std::string(one.name) + "/" + panel);
  names.emplace_back(wide_name);
  return names;
}

namespace {

Result<Display> described(std::string_view description, bool files_allowed) {
  std::string_view name = description;
  std::vector<Setting> settings = take_settings(name);
  std::string panel;
  for (const Setting& setting : settings)
    if (setting.key == "panel") panel = setting.value;
  std::erase_if(settings, [](const Setting& setting) { return setting.key == "panel"; });
  const bool is_file = files_allowed && looks_like_file(name);
  if (!panel.empty() && !is_file)
    return fail(Error::Kind::usage, "the panel of '" + std::string(name) + "' stands in its name",
                "display", std::string(description), "write srgb/" + panel);
  auto display =
      is_file ? display_from_file(fs::path(name), panel.empty() ? "oled" : panel) : built_in(name);
  if (!display) return display;
  if (!panel.empty()) display->name += ",panel=" + panel;
  for (const Setting& setting : settings) COPUNCTAL_TRY_VOID(apply(*display, setting));
  COPUNCTAL_TRY_VOID(check_display(*display));
  return display;
}

}  // namespace

Result<Display> display_from(std::string_view description) {
  return described(description, true);
}

Result<Display> named_display(std::string_view description) {
  return described(description, false);
}

}  // namespace copunctal
