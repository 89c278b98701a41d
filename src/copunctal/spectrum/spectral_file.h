// Measured spectra from text: CSV with a wavelength column, or CGATS.17 / ISO 28178 tables.
#pragma once

#include <array>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "copunctal/base/result.h"
#include "copunctal/spectrum/spectrum.h"

namespace copunctal {

/// One measured spectrum: a value for each wavelength of its file.
struct SpectralSample {
  std::string name;                          ///< Column or sample name; may be empty.
  std::optional<std::array<double, 3>> rgb;  ///< Drive it was measured at, if the file says.
  std::vector<double> values;
};

struct SpectralFile {
  std::vector<double> nm;
  std::vector<SpectralSample> samples;
};

/// CSV: '#' comments, a header whose first column is nm (or wavelength), then one row per
/// wavelength. Errors (bad_input) name file, line and remedy.
Result<SpectralFile> read_spectral_csv(std::string_view text, const std::string& name);

/// CGATS.17 text (ISO 28178 exchange format) with one set per measurement and one field per
/// wavelength: SPEC_380, SPECTRAL_NM380, NM_380 or SPECTRAL_380. RGB_R, RGB_G, RGB_B (0..100 or
/// 0..255) and SAMPLE_ID, SAMPLE_NAME or SAMPLE_LOC are read where present; a file whose fields
/// give no wavelength needs SPECTRAL_START_NM and SPECTRAL_END_NM. Errors (bad_input) as above.
Result<SpectralFile> read_cgats(std::string_view text, const std::string& name);

/// The reader for a file's text, by its beginning: CGATS where a first word is CGATS.17, SPECT or
/// an identifier of capitals, else CSV.
Result<SpectralFile> read_spectral_text(std::string_view text, const std::string& name);

/// A sample on our grid, 390 to 830 nm in steps of 1 nm, by a cubic spline where the file is
/// coarser. `notes` gets a sentence for whatever was done: interpolation, noise below 0 set to 0
/// (down to -10^-6 of the largest), wavelengths the file does not reach taken as 0 with their
/// share of luminous efficiency. Errors (bad_input): fewer than 10 wavelengths, not rising, not
/// finite, negative power, steps above 20 nm, a range that does not hold 400..700 nm, wavelengths
/// that look like micrometres or angstroms, no light at all.
Result<Power> power_on_grid(const SpectralFile& file, const SpectralSample& sample,
                            const std::string& name, std::vector<std::string>& notes);

}  // namespace copunctal
