#include "copunctal/display/read_spectra.h"

#include <algorithm>
#include <cctype>
#include <optional>

#include "copunctal/base/text.h"
#include "copunctal/spectrum/spectral_file.h"

namespace copunctal {
namespace {

std::string lower(std::string text) {
  for (char& c : text) c = static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
  return text;
}

bool is_named(const SpectralSample& sample, std::initializer_list<std::string_view> names) {
  const std::string own = lower(sample.name);
  return std::find(names.begin(), names.end(), own) != names.end();
}

bool is_black(const SpectralSample& sample) {
  if (sample.rgb) return *sample.rgb == std::array<double, 3>{0, 0, 0};
  return is_named(sample, {"black", "k", "ambient"});
}

// Full in one channel, dark in the others.
bool is_primary(const SpectralSample& sample, std::size_t channel) {
  if (sample.rgb) {
    std::array<double, 3> wanted{};
    wanted[channel] = 1;
    return *sample.rgb == wanted;
  }
  if (channel == 0) return is_named(sample, {"r", "red"});
  if (channel == 1) return is_named(sample, {"g", "green"});
  return is_named(sample, {"b", "blue"});
}

// Alone in its channel, at whatever drive above 0.
bool is_on_ramp(const SpectralSample& sample, std::size_t channel) {
  if (!sample.rgb || !((*sample.rgb)[channel] > 0)) return false;
  for (std::size_t other = 0; other < 3; ++other)
    if (other != channel && (*sample.rgb)[other] != 0) return false;
  return true;
}

constexpr std::array<const char*, 3> channel_names = {"red", "green", "blue"};

// Luminance at each drive of a channel, black included; the curve they give.
Result<std::optional<ToneCurve>> ramp_of(const SpectralFile& file, std::size_t channel,
                                         const Power& black, const std::string& name) {
  std::vector<std::pair<double, double>> steps = {{0, tristimulus_values(black).y}};
  std::vector<std::string> unsaid;
  for (const SpectralSample& sample : file.samples) {
    if (!is_on_ramp(sample, channel)) continue;
    COPUNCTAL_TRY(const Power power, power_on_grid(file, sample, name, unsaid));
    steps.emplace_back((*sample.rgb)[channel], tristimulus_values(power).y);
  }
  constexpr std::size_t least_samples = 4;  // black, full and two between
  if (steps.size() < least_samples) return std::optional<ToneCurve>();
  std::sort(steps.begin(), steps.end());
  std::vector<double> encoded, light;
  for (const auto& [drive, luminance] : steps) {
    encoded.push_back(drive);
    light.push_back(luminance);
  }
  auto curve = ToneCurve::sampled(encoded, light);
  if (!curve) return while_doing(name + ", " + channel_names[channel], std::move(curve).error());
  return std::optional<ToneCurve>(*std::move(curve));
}

}  // namespace

Result<Display> display_from_spectra(std::string_view text, const std::string& name) {
  COPUNCTAL_TRY(SpectralFile file, read_spectral_text(text, name));
  const bool unnamed =
      std::all_of(file.samples.begin(), file.samples.end(),
                  [](const SpectralSample& s) { return !s.rgb && s.name.empty(); });
  if (unnamed && file.samples.size() == 3)
    for (std::size_t p = 0; p < 3; ++p) file.samples[p].name = channel_names[p];

  std::vector<std::string> notes;
  Power black;
  bool has_black = false;
  for (const SpectralSample& sample : file.samples)
    if (is_black(sample) && !has_black) {
      const bool is_dark =
          std::all_of(sample.values.begin(), sample.values.end(), [](double v) { return v == 0; });
      if (!is_dark) {
        COPUNCTAL_TRY(black, power_on_grid(file, sample, name, notes));
      }
      has_black = true;
    }
  std::array<Power, 3> primaries;
  for (std::size_t p = 0; p < 3; ++p) {
    const auto sample = std::find_if(file.samples.begin(), file.samples.end(),
                                     [&](const SpectralSample& s) { return is_primary(s, p); });
    if (sample == file.samples.end())
      return fail(Error::Kind::bad_input,
                  name + ": there is no spectrum of " + channel_names[p] + " at full drive",
                  "spectra", name,
                  "name the columns R, G, B, or give RGB_R, RGB_G, RGB_B for each set");
    COPUNCTAL_TRY(primaries[p], power_on_grid(file, *sample, name, notes));
    for (std::size_t i = 0; i < spectrum_size; ++i)
      primaries[p][i] = std::max(0.0, primaries[p][i] - black[i]);
  }
  double luminance = 0;
  for (const Power& primary : primaries) luminance += tristimulus_values(primary).y;
  auto display = display_of_spectra(primaries);
  if (!display) return while_doing(name, std::move(display).error());

  std::string curve = "sRGB curve assumed";
  std::size_t ramps = 0;
  for (std::size_t p = 0; p < 3; ++p) {
    COPUNCTAL_TRY(auto measured, ramp_of(file, p, black, name));
    if (!measured) continue;
    display->curves[p] = *std::move(measured);
    ++ramps;
  }
  if (ramps == 3)
    curve = "tone curves measured";
  else if (ramps > 0)
    curve =
        "tone curves measured for " + std::to_string(ramps) + " of 3 channels, sRGB for the rest";
  display->black_cd_m2 = display->peak_cd_m2 * tristimulus_values(black).y / luminance;
  // One sentence for what was done to all samples alike.
  for (std::string& note : notes) {
    if (const auto at = note.find(", spectrum "); at != std::string::npos) {
      const auto colon = note.find(": ", at);
      note = note.substr(0, at) + note.substr(colon);
    }
    if (std::find(display->notes.begin(), display->notes.end(), note) == display->notes.end())
      display->notes.push_back(note);
  }
  display->name = name;
  display->known = DisplayStatus::measured;
  display->status = "measured: spectra of the primaries, " + curve +
                    (has_black ? "" : "; black was not measured and is taken as 0");
  return display;
}

}  // namespace copunctal
