#include "copunctal/spectrum/spectral_file.h"

#include <algorithm>
#include <cctype>
#include <cmath>

#include "copunctal/base/text.h"
#include "copunctal/data/table.h"

namespace copunctal {
namespace {

tl::unexpected<Error> spectra_error(const std::string& place, const std::string& what,
                                    const std::string& remedy) {
  return fail(Error::Kind::bad_input, place + ": " + what, "spectra", place, remedy);
}

std::string lower(std::string_view text) {
  std::string result(text);
  for (char& c : result) c = static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
  return result;
}

struct Token {
  std::string text;
  std::size_t line;
};

// Words, and texts in quotes; '#' starts a comment.
std::vector<Token> tokens_of(std::string_view text) {
  std::vector<Token> tokens;
  std::size_t line = 1;
  for (std::size_t i = 0; i < text.size();) {
    const char c = text[i];
    if (c == '\n') ++line;
    if (std::isspace(static_cast<unsigned char>(c)) != 0 || c == '\0') {
      ++i;
    } else if (c == '#') {
      while (i < text.size() && text[i] != '\n') ++i;
    } else if (c == '"') {
      const std::size_t end = text.find('"', i + 1);
      const std::size_t to = end == std::string_view::npos ? text.size() : end;
      tokens.push_back({std::string(text.substr(i + 1, to - i - 1)), line});
      line += static_cast<std::size_t>(std::count(text.begin() + static_cast<std::ptrdiff_t>(i),
                                                  text.begin() + static_cast<std::ptrdiff_t>(to),
                                                  '\n'));
      i = to + 1;
    } else {
      std::size_t end = i;
      while (end < text.size() && std::isspace(static_cast<unsigned char>(text[end])) == 0) ++end;
      tokens.push_back({std::string(text.substr(i, end - i)), line});
      i = end;
    }
  }
  return tokens;
}

// The wavelength a field's name carries, or nothing.
std::optional<double> wavelength_in(std::string_view field) {
  for (const std::string_view prefix : {"SPECTRAL_NM_", "SPECTRAL_NM", "SPECTRAL_", "SPEC_", "NM_"})
    if (field.starts_with(prefix))
      if (const auto nm = number_from(field.substr(prefix.size()))) return nm;
  return std::nullopt;
}

// Where the wanted values stand among the fields of a set.
struct Fields {
  std::size_t count = 0;
  std::vector<std::size_t> spectral;
  std::vector<double> nm;
  std::optional<std::size_t> name;
  std::array<std::optional<std::size_t>, 3> rgb;
};

Fields fields_of(const std::vector<Token>& names) {
  Fields fields;
  fields.count = names.size();
  for (std::size_t i = 0; i < names.size(); ++i) {
    const std::string& field = names[i].text;
    if (const auto nm = wavelength_in(field)) {
      fields.spectral.push_back(i);
      fields.nm.push_back(*nm);
    }
    if (field == "SAMPLE_NAME" || ((field == "SAMPLE_ID" || field == "SAMPLE_LOC") && !fields.name))
      fields.name = i;
    if (field == "RGB_R") fields.rgb[0] = i;
    if (field == "RGB_G") fields.rgb[1] = i;
    if (field == "RGB_B") fields.rgb[2] = i;
  }
  return fields;
}

// Drive in 0..1: tables count to 100 or to 255.
void scale_drives(std::vector<SpectralSample>& samples) {
  double largest = 0;
  for (const auto& sample : samples)
    if (sample.rgb)
      largest = std::max(largest, *std::max_element(sample.rgb->begin(), sample.rgb->end()));
  const double full = largest <= 1 ? 1 : largest <= 100 ? 100 : 255;
  for (auto& sample : samples)
    if (sample.rgb)
      for (double& drive : *sample.rgb) drive /= full;
}

}  // namespace

Result<SpectralFile> read_spectral_csv(std::string_view text, const std::string& name) {
  COPUNCTAL_TRY(const Table read, read_table(text, name));
  if (read.columns.size() < 2)
    return spectra_error(name, "there is one column only", "give nm and one column per spectrum");
  const std::string first = lower(read.column_names.front());
  if (first != "nm" && !first.starts_with("wavelength") && first != "lambda")
    return spectra_error(name, "the first column is '" + read.column_names.front() + "', not nm",
                         "name the first column nm and give wavelengths in nanometres");
  SpectralFile file;
  file.nm = read.columns.front();
  for (std::size_t i = 1; i < read.columns.size(); ++i)
    file.samples.push_back({read.column_names[i], std::nullopt, read.columns[i]});
  return file;
}

Result<SpectralFile> read_cgats(std::string_view text, const std::string& name) {
  const std::vector<Token> tokens = tokens_of(text);
  const auto at = [&](std::size_t i) {
    return name + ":" + std::to_string(i < tokens.size() ? tokens[i].line : tokens.back().line);
  };
  std::vector<Token> names;
  std::optional<double> start, end;
  std::size_t i = 0;
  SpectralFile file;
  while (i < tokens.size()) {
    const std::string& word = tokens[i].text;
    if (word == "BEGIN_DATA_FORMAT") {
      names.clear();
      for (++i; i < tokens.size() && tokens[i].text != "END_DATA_FORMAT"; ++i)
        names.push_back(tokens[i]);
    } else if ((word == "SPECTRAL_START_NM" || word == "SPECTRAL_END_NM") &&
               i + 1 < tokens.size()) {
      (word == "SPECTRAL_START_NM" ? start : end) = number_from(tokens[i + 1].text);
      ++i;
    } else if (word == "BEGIN_DATA") {
      Fields fields = fields_of(names);
      if (fields.spectral.empty()) {
        // Another table of the same file may hold the spectra.
        while (i < tokens.size() && tokens[i].text != "END_DATA") ++i;
        continue;
      }
      // Some writers name the fields in thousandths of a nanometre: SPEC_380000.
      if (fields.nm.front() >= 100'000)
        for (double& nm : fields.nm) nm /= 1000;
      if (start && end && fields.nm.size() > 1 &&
          (fields.nm.front() != *start || fields.nm.back() != *end))
        return spectra_error(at(i),
                             "the fields run over other wavelengths than SPECTRAL_START_NM "
                             "and SPECTRAL_END_NM say",
                             "correct the header");
      file.nm = fields.nm;
      for (++i; i < tokens.size() && tokens[i].text != "END_DATA"; i += fields.count) {
        if (i + fields.count > tokens.size())
          return spectra_error(at(i), "the last set is short of values",
                               "give " + std::to_string(fields.count) + " values per set");
        SpectralSample sample;
        if (fields.name) sample.name = tokens[i + *fields.name].text;
        const auto value_at = [&](std::size_t field) {
          return number_from(tokens[i + field].text);
        };
        for (const std::size_t field : fields.spectral) {
          const auto value = value_at(field);
          if (!value)
            return spectra_error(at(i + field),
                                 "'" + tokens[i + field].text + "' is not a number (set " +
                                     std::to_string(file.samples.size() + 1) + ", field " +
                                     names[field].text + ")",
                                 "give one number per field");
          sample.values.push_back(*value);
        }
        if (fields.rgb[0] && fields.rgb[1] && fields.rgb[2]) {
          std::array<double, 3> drive{};
          for (std::size_t k = 0; k < 3; ++k) {
            const auto value = value_at(*fields.rgb[k]);
            if (!value || !(*value >= 0))
              return spectra_error(at(i), "an RGB drive is not a number from 0 up",
                                   "correct RGB_R, RGB_G, RGB_B");
            drive[k] = *value;
          }
          sample.rgb = drive;
        }
        file.samples.push_back(std::move(sample));
      }
      if (i >= tokens.size())
        return spectra_error(at(i), "END_DATA is missing", "check that the file is whole");
      break;
    }
    ++i;
  }
  if (file.samples.empty())
    return spectra_error(name, "no spectra found",
                         "give one field per wavelength, named SPEC_380 and so on");
  scale_drives(file.samples);
  return file;
}

Result<SpectralFile> read_spectral_text(std::string_view text, const std::string& name) {
  const auto start = text.find_first_not_of(" \t\r\n\xEF\xBB\xBF");
  const std::string_view rest = start == std::string_view::npos ? "" : text.substr(start);
  if (text.find("BEGIN_DATA_FORMAT") != std::string_view::npos || rest.starts_with("CGATS"))
    return read_cgats(text, name);
  return read_spectral_csv(text, name);
}

Result<Power> power_on_grid(const SpectralFile& file, const SpectralSample& sample,
                            const std::string& name, std::vector<std::string>& notes) {
  const std::string what = sample.name.empty() ? name : name + ", spectrum " + sample.name;
  const auto& nm = file.nm;
  if (nm.size() < 10 || nm.size() != sample.values.size())
    return spectra_error(what, "there are " + std::to_string(nm.size()) + " wavelengths",
                         "give at least 10, over 400 to 700 nm");
  double step = 0, top = 0;
  for (std::size_t i = 0; i < nm.size(); ++i) {
    const std::string row = what + ", row " + std::to_string(i + 1);
    if (!std::isfinite(nm[i]) || !std::isfinite(sample.values[i]))
      return spectra_error(row, "not a finite number", "correct or remove the row");
    if (i > 0 && nm[i] <= nm[i - 1])
      return spectra_error(
          row, "wavelength " + shortest(nm[i]) + " follows " + shortest(nm[i - 1]),
          nm[i] == nm[i - 1] ? "remove the double" : "sort the rows by rising wavelength");
    if (i > 0) step = std::max(step, nm[i] - nm[i - 1]);
    top = std::max(top, sample.values[i]);
  }
  if (nm.back() < 10)
    return spectra_error(what,
                         "wavelengths look like micrometres (" + shortest(nm.front()) + " to " +
                             shortest(nm.back()) + ")",
                         "give them in nanometres: multiply by 1000");
  if (nm.front() > 2000)
    return spectra_error(what,
                         "wavelengths look like angstroms (" + shortest(nm.front()) + " to " +
                             shortest(nm.back()) + ")",
                         "give them in nanometres: divide by 10");
  if (nm.front() > 400 || nm.back() < 700)
    return spectra_error(what,
                         "the range " + shortest(nm.front()) + " to " + shortest(nm.back()) +
                             " nm does not hold 400 to 700 nm",
                         "measure over 400 to 700 nm at least");
  if (step > 20)
    return spectra_error(what, "a step of " + shortest(step) + " nm is too coarse",
                         "measure in steps of 20 nm or less");
  if (!(top > 0)) return spectra_error(what, "there is no light", "measure at full drive");
  constexpr double most = 1e30;  // keeps every sum and product below finite
  if (top > most)
    return spectra_error(what, "a power of " + shortest(top) + " is impossible",
                         "correct the value, or choose another unit");

  std::vector<double> values = sample.values;
  std::size_t below = 0;
  for (std::size_t i = 0; i < values.size(); ++i) {
    if (values[i] >= 0) continue;
    if (values[i] < -1e-6 * top)
      return spectra_error(
          what + ", row " + std::to_string(i + 1),
          "negative power " + shortest(values[i]) + " at " + shortest(nm[i]) + " nm",
          "take the dark reading off, or correct the row");
    values[i] = 0;
    ++below;
  }
  if (below > 0)
    notes.push_back(what + ": " + std::to_string(below) + " values of noise below 0 set to 0");
  Power power;
  power.values = resampled(nm, values, 0);
  for (double& value : power.values) value = std::max(0.0, value);
  if (step != 1 || nm.front() != std::floor(nm.front()))
    notes.push_back(what + ": interpolated to 1 nm from steps of up to " + shortest(step) + " nm");
  if (nm.front() > first_nm || nm.back() < last_nm) {
    const auto y = spectrum_from<MatchingFunctionKind>(table("xyz1931"), "y");
    double missing = 0, all = 0;
    for (std::size_t i = 0; i < spectrum_size; ++i) {
      all += y[i];
      if (nm_at(i) < nm.front() || nm_at(i) > nm.back()) missing += y[i];
    }
    notes.push_back(what + ": nothing measured outside " + shortest(nm.front()) + " to " +
                    shortest(nm.back()) + " nm, taken as 0 (" + decimals(100 * missing / all, 4) +
                    " % of luminous efficiency)");
  }
  return power;
}

}  // namespace copunctal
