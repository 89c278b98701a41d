#include "copunctal/spectrum/spectral_file.h"

#include <cmath>

#include <gtest/gtest.h>

#include "copunctal/base/files.h"
#include "copunctal/base/random.h"
#include "copunctal/base/text.h"

namespace copunctal {
namespace {

std::string text_of(const char* file) {
  const auto text = read_file(file);
  EXPECT_TRUE(text.has_value()) << file;
  return text.value_or("");
}

// The colour-matching functions of CIE 1931 in Debian's colord-data (CGATS.17, 5 nm) against our
// table of the same standard: equal at every multiple of 5 nm to the printed digits.
TEST(SpectralFile, ReadsColordsMatchingFunctions) {
  const auto file =
      read_spectral_text(text_of("/usr/share/colord/cmf/CIE1931-2deg-XYZ.cmf"), "cmf");
  ASSERT_TRUE(file.has_value()) << file.error().message;
  ASSERT_EQ(file->samples.size(), 3U);
  ASSERT_EQ(file->nm.size(), 95U);
  const Table& ours = table("xyz1931");
  constexpr std::array columns = {"x", "y", "z"};
  for (std::size_t k = 0; k < 3; ++k)
    for (std::size_t i = 0; i < file->nm.size(); ++i) {
      const auto row = static_cast<std::size_t>(file->nm[i] - ours.columns.front().front());
      EXPECT_NEAR(file->samples[k].values[i], ours.column(columns[k])[row], 1.1e-5)
          << columns[k] << " at " << file->nm[i];
    }
}

// CIE illuminant A in the same package: its formula (ISO/CIE 11664-2), exact to the printed digits.
TEST(SpectralFile, ReadsAnIlluminant) {
  const auto file = read_spectral_text(text_of("/usr/share/colord/illuminant/CIE-A.sp"), "A.sp");
  ASSERT_TRUE(file.has_value()) << file.error().message;
  std::vector<std::string> notes;
  const auto power = power_on_grid(*file, file->samples.front(), "A.sp", notes);
  ASSERT_TRUE(power.has_value()) << power.error().message;
  const auto planck = [](double nm) {
    return std::pow(nm, -5) / std::expm1(1.435e7 / (2848 * nm));
  };
  for (const int nm : {400, 450, 560, 633, 700})
    EXPECT_NEAR(power->at(nm) / power->at(560), planck(nm) / planck(560), 2e-5) << nm;
}

std::string csv_of(double first, double step, int rows, double (*value)(double)) {
  std::string csv = "nm,R\n";
  for (int i = 0; i < rows; ++i)
    csv += shortest(first + step * i) + "," + shortest(value(first + step * i)) + "\n";
  return csv;
}

Result<Power> power_of(const std::string& csv, std::vector<std::string>& notes) {
  COPUNCTAL_TRY(const SpectralFile file, read_spectral_text(csv, "screen.csv"));
  return power_on_grid(file, file.samples.front(), "screen.csv", notes);
}

TEST(SpectralFile, OneNanometreStepsPassUnchanged) {
  std::vector<std::string> notes;
  const auto power = power_of(csv_of(390, 1, 441, [](double nm) { return nm * 0.25; }), notes);
  ASSERT_TRUE(power.has_value());
  EXPECT_TRUE(notes.empty());
  for (std::size_t i = 0; i < spectrum_size; ++i) EXPECT_EQ((*power)[i], nm_at(i) * 0.25);
}

TEST(SpectralFile, WhatIsDoneIsSaid) {
  std::vector<std::string> notes;
  const auto power =
      power_of(csv_of(380, 5, 81, [](double nm) { return nm == 500 ? -1e-7 : 1.0; }), notes);
  ASSERT_TRUE(power.has_value()) << power.error().message;
  ASSERT_EQ(notes.size(), 3U);  // noise below 0, steps of 5 nm, nothing beyond 780 nm
  EXPECT_NE(notes[0].find("1 values of noise"), std::string::npos);
  EXPECT_NE(notes[1].find("steps of up to 5 nm"), std::string::npos);
  EXPECT_NE(notes[2].find("380 to 780 nm"), std::string::npos);
  EXPECT_NEAR(power->at(600), 1, 1e-9);
  EXPECT_EQ(power->at(790), 0);
}

TEST(SpectralFile, RefusesWhatCannotBe) {
  const auto refused = [](const std::string& csv, std::string_view part) {
    std::vector<std::string> notes;
    const auto power = power_of(csv, notes);
    return !power && power.error().kind == Error::Kind::bad_input &&
           power.error().message.find(part) != std::string::npos && !power.error().remedy.empty();
  };
  const auto flat = [](double) { return 1.0; };
  EXPECT_TRUE(refused(csv_of(0.39, 0.001, 441, flat), "micrometres"));
  EXPECT_TRUE(refused(csv_of(3900, 10, 441, flat), "angstroms"));
  EXPECT_TRUE(refused(csv_of(420, 1, 400, flat), "does not hold 400 to 700"));
  EXPECT_TRUE(refused(csv_of(380, 1, 5, flat), "5 wavelengths"));
  EXPECT_TRUE(refused(csv_of(360, 40, 12, flat), "too coarse"));
  EXPECT_TRUE(refused(csv_of(830, -1, 441, flat), "follows"));
  EXPECT_TRUE(refused(csv_of(390, 0, 441, flat), "follows"));
  EXPECT_TRUE(refused(csv_of(390, 1, 441, [](double) { return 0.0; }), "no light"));
  EXPECT_TRUE(refused(csv_of(390, 1, 441, [](double nm) { return nm == 500 ? -0.1 : 1.0; }),
                      "negative power"));
  EXPECT_TRUE(refused("nm,R\n400,inf\n", "not a number"));
  EXPECT_TRUE(refused("nm,R\n400,nan\n", "not a number"));
  EXPECT_TRUE(refused("nm,R\n400,0,5\n", "3 cells"));
  EXPECT_TRUE(refused("nm;R\n400;0\n", "not a number"));
  EXPECT_TRUE(refused("R,G,B\n1,2,3\n", "not nm"));
  EXPECT_TRUE(refused("", "no rows"));
}

TEST(SpectralFile, ReadsATableOfMeasurements) {
  std::string fields, values;
  for (int nm = 380; nm <= 730; nm += 10) {
    fields += " SPEC_" + std::to_string(nm);
    values += " 0.5";
  }
  const std::string head =
      "CTI3\nORIGINATOR \"a lecture hall\"\nNUMBER_OF_FIELDS 40\n"
      "BEGIN_DATA_FORMAT\nSAMPLE_ID RGB_R RGB_G RGB_B" +
      fields + "\nEND_DATA_FORMAT\nNUMBER_OF_SETS 2\nBEGIN_DATA\n";
  const auto file = read_spectral_text(
      head + "1 100 0 0" + values + "\n2 0 \"50\" 0" + values + "\nEND_DATA\n", "hall.ti3");
  ASSERT_TRUE(file.has_value()) << file.error().message;
  ASSERT_EQ(file->samples.size(), 2U);
  EXPECT_EQ((*file->samples[0].rgb)[0], 1);
  EXPECT_EQ((*file->samples[1].rgb)[1], 0.5);
  EXPECT_EQ(file->nm.front(), 380);
  const auto message_of = [&](const std::string& text) {
    const auto bad = read_spectral_text(text, "hall.ti3");
    return bad ? std::string("read") : bad.error().message;
  };
  EXPECT_NE(message_of(head + "1 100 0 0" + values + "\n").find("END_DATA is missing"),
            std::string::npos);
  EXPECT_NE(message_of(head + "1 100 0 0 0.1 0.2\nEND_DATA\n").find("short"), std::string::npos);
  EXPECT_NE(message_of(head + "1 100 0 x" + values + "\nEND_DATA\n").find("RGB drive"),
            std::string::npos);
  EXPECT_NE(
      message_of("CGATS.17\nBEGIN_DATA_FORMAT\nLAB_L\nEND_DATA_FORMAT\nBEGIN_DATA\n1\nEND_DATA")
          .find("no spectra"),
      std::string::npos);
}

// Property: 1e5 texts with one value spoilt are refused by name, or read without a NaN.
TEST(SpectralFile, SpoiltTextsNeverGiveNonsense) {
  RandomStream random(3, 5);
  const std::vector<std::string> spoilt = {"nan",      "inf",      "-inf", "1e308", "-0",
                                           "4.9e-324", "",         "1,0",  "--1",   "0x10",
                                           "1e999",    "\xC2\xB5", "500"};
  const std::string whole = csv_of(390, 10, 33, [](double nm) { return 1 + nm / 1000; });
  for (int i = 0; i < 100'000; ++i) {
    std::string csv = whole;
    const auto from = random.below(static_cast<std::uint32_t>(csv.size()));
    const auto size = random.below(8);
    csv.replace(from, size, spoilt[random.below(static_cast<std::uint32_t>(spoilt.size()))]);
    std::vector<std::string> notes;
    const auto power = power_of(csv, notes);
    if (!power) {
      ASSERT_FALSE(power.error().message.empty() || power.error().remedy.empty()) << csv;
      continue;
    }
    for (const double value : power->values) ASSERT_TRUE(std::isfinite(value) && value >= 0) << csv;
  }
}

}  // namespace
}  // namespace copunctal
