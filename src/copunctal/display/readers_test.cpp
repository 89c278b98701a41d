// Displays from profiles, data blocks, spectra and descriptions, and what is refused.
#include <cmath>
#include <filesystem>
#include <limits>
#include <memory>

#include <gtest/gtest.h>
#include <lcms2.h>

#include "copunctal/base/files.h"
#include "copunctal/base/random.h"
#include "copunctal/base/text.h"
#include "copunctal/colour/encoding.h"
#include "copunctal/display/display.h"
#include "copunctal/display/read_description.h"
#include "copunctal/display/read_edid.h"
#include "copunctal/display/read_profile.h"
#include "copunctal/display/read_spectra.h"
#include "copunctal/display/tolerance.h"

namespace copunctal {
namespace {

namespace fs = std::filesystem;

void expect_colours(const Display& display, const PrimaryColours& wanted, double tolerance) {
  for (std::size_t p = 0; p < 3; ++p) {
    EXPECT_NEAR(display.chromaticities[p].x, wanted.primaries[p].x, tolerance) << display.name << p;
    EXPECT_NEAR(display.chromaticities[p].y, wanted.primaries[p].y, tolerance) << display.name << p;
  }
  EXPECT_NEAR(display.white.x, wanted.white.x, tolerance) << display.name;
  EXPECT_NEAR(display.white.y, wanted.white.y, tolerance) << display.name;
}

const PrimaryColours srgb{{{{.64, .33}, {.30, .60}, {.15, .06}}}, {.3127, .3290}};
const PrimaryColours p3{{{{.68, .32}, {.265, .69}, {.15, .06}}}, {.3127, .3290}};
const PrimaryColours pal{{{{.64, .33}, {.29, .60}, {.15, .06}}}, {.3127, .3290}};

// Profiles of open standards as shipped by Debian's colord-data (version 4, with chad) and
// argyll-ref (version 2, without), against the chromaticities of IEC 61966-2-1, ITU-R BT.709, EBU
// Tech. 3213 and SMPTE RP 431-2: 2e-4 in xy, what 16-bit colorants leave.
TEST(Profile, GivesTheStandardsChromaticities) {
  const std::string colord = "/usr/share/color/icc/colord/",
                    argyll = "/usr/share/color/argyll/ref/";
  const std::vector<std::pair<std::string, PrimaryColours>> profiles = {
      {colord + "sRGB.icc", srgb},       {colord + "Rec709.icc", srgb},
      {colord + "PAL-RGB.icc", pal},     {argyll + "sRGB.icm", srgb},
      {argyll + "Rec709.icm", srgb},     {argyll + "DisplayP3.icm", p3},
      {argyll + "EBU3213_PAL.icm", pal},
  };
  for (const auto& [file, wanted] : profiles) {
    const auto display = display_from(file);
    ASSERT_TRUE(display.has_value()) << file << ": " << display.error().message;
    expect_colours(*display, wanted, 2e-4);
    EXPECT_EQ(display->known, DisplayStatus::profile);
    EXPECT_TRUE(display->status.starts_with("profile:"));
  }
}

// The same package's sRGB profile has the curve of IEC 61966-2-1: half a code of 255 at most.
TEST(Profile, GivesTheToneCurve) {
  const auto display = display_from("/usr/share/color/icc/colord/sRGB.icc");
  ASSERT_TRUE(display.has_value());
  for (int code = 0; code < 256; ++code)
    EXPECT_NEAR(display->curves[1].decoded(code / 255.0), srgb_decoded(code / 255.0), 2e-4) << code;
  EXPECT_NEAR(display->curves[0].nearest_exponent(), 2.2, 0.05);
}

struct CloseProfile {
  void operator()(void* profile) const { cmsCloseProfile(profile); }
};

std::string bytes_of(void* profile) {
  cmsUInt32Number size = 0;
  cmsSaveProfileToMem(profile, nullptr, &size);
  std::string bytes(size, '\0');
  cmsSaveProfileToMem(profile, bytes.data(), &size);
  return bytes;
}

// A profile with tables only, made with Little CMS: gamma 2.2 curves, then sRGB's matrix to the
// connection space (D50). `mixing` adds a part of green to red's light when both are on.
std::string table_profile() {
  const std::unique_ptr<void, CloseProfile> profile(cmsCreateProfilePlaceholder(nullptr));
  cmsSetProfileVersion(profile.get(), 4.3);
  cmsSetDeviceClass(profile.get(), cmsSigDisplayClass);
  cmsSetColorSpace(profile.get(), cmsSigRgbData);
  cmsSetPCS(profile.get(), cmsSigXYZData);
  cmsToneCurve* curve = cmsBuildGamma(nullptr, 2.2);
  std::array<cmsToneCurve*, 3> curves = {curve, curve, curve};
  // sRGB colorants adapted to D50 (published with the standard's profiles).
  std::array<double, 9> matrix = {.4360747, .3850649, .1430804, .2225045, .7168786,
                                  .0606169, .0139322, .0971045, .7141733};
  constexpr double coded = 32768.0 / 65535.0;
  for (double& entry : matrix) entry *= coded;
  cmsPipeline* pipeline = cmsPipelineAlloc(nullptr, 3, 3);
  cmsPipelineInsertStage(pipeline, cmsAT_END, cmsStageAllocToneCurves(nullptr, 3, curves.data()));
  cmsPipelineInsertStage(pipeline, cmsAT_END,
                         cmsStageAllocMatrix(nullptr, 3, 3, matrix.data(), nullptr));
  std::array<cmsToneCurve*, 3> straight{};
  cmsToneCurve* line = cmsBuildGamma(nullptr, 1.0);
  straight.fill(line);
  cmsPipelineInsertStage(pipeline, cmsAT_END, cmsStageAllocToneCurves(nullptr, 3, straight.data()));
  cmsWriteTag(profile.get(), cmsSigAToB0Tag, pipeline);
  const cmsCIEXYZ d50 = *cmsD50_XYZ();
  cmsWriteTag(profile.get(), cmsSigMediaWhitePointTag, &d50);
  // Bradford from D65 to D50, as version 4 demands.
  const std::array<double, 9> chad = {1.0478112, .0228866,  -.0501270, .0295424, .9904844,
                                      -.0170491, -.0092345, .0150436,  .7521316};
  cmsWriteTag(profile.get(), cmsSigChromaticAdaptationTag, chad.data());
  const std::string bytes = bytes_of(profile.get());
  cmsPipelineFree(pipeline);
  cmsFreeToneCurve(curve);
  cmsFreeToneCurve(line);
  return bytes;
}

TEST(Profile, TablesAreLookedThrough) {
  const auto display = display_from_profile(table_profile(), "tables.icc", "oled");
  ASSERT_TRUE(display.has_value()) << display.error().message;
  expect_colours(*display, srgb, 1e-3);
  EXPECT_NE(display->status.find("tables"), std::string::npos);
  EXPECT_NEAR(display->curves[0].nearest_exponent(), 2.2, 0.02);
}

TEST(Profile, DamagedOnesAreRefused) {
  const std::string whole = *read_file("/usr/share/color/icc/colord/sRGB.icc");
  EXPECT_EQ(display_from_profile("", "x.icc", "oled").error().kind, Error::Kind::bad_input);
  EXPECT_EQ(display_from_profile(whole.substr(0, 200), "x.icc", "oled").error().kind,
            Error::Kind::bad_input);
  cmsToneCurve* curve = cmsBuildGamma(nullptr, 2.2);
  const std::unique_ptr<void, CloseProfile> grey(cmsCreateGrayProfile(cmsD50_xyY(), curve));
  cmsFreeToneCurve(curve);
  EXPECT_NE(
      display_from_profile(bytes_of(grey.get()), "grey.icc", "oled").error().message.find("RGB"),
      std::string::npos);
  // Every byte of the head and the tag table spoilt, one at a time: refused or read, never worse.
  for (std::size_t i = 0; i < 400 && i < whole.size(); ++i) {
    std::string spoilt = whole;
    spoilt[i] = static_cast<char>(~spoilt[i]);
    const auto display = display_from_profile(spoilt, "spoilt.icc", "oled");
    if (!display) continue;
    for (const Power& primary : display->primaries)
      for (const double value : primary.values) ASSERT_TRUE(std::isfinite(value)) << i;
  }
}

// A data block with sRGB's chromaticities in tenths of a per cent: 1/1024 steps leave 5e-4.
std::string edid(unsigned gamma_byte = 120) {
  std::string block(128, '\0');
  for (std::size_t i = 1; i < 7; ++i) block[i] = '\xff';
  block[23] = static_cast<char>(gamma_byte);
  const std::array<double, 8> xy = {.64, .33, .30, .60, .15, .06, .3127, .3290};
  std::array<unsigned, 8> tens{};
  for (std::size_t i = 0; i < 8; ++i) {
    tens[i] = static_cast<unsigned>(std::lround(xy[i] * 1024));
    block[27 + i] = static_cast<char>(tens[i] >> 2);
  }
  const auto low = [&](std::size_t i) { return tens[i] & 3U; };
  block[25] = static_cast<char>(low(0) << 6 | low(1) << 4 | low(2) << 2 | low(3));
  block[26] = static_cast<char>(low(4) << 6 | low(5) << 4 | low(6) << 2 | low(7));
  unsigned sum = 0;
  for (const char c : block) sum += static_cast<unsigned char>(c);
  block[127] = static_cast<char>((256 - sum % 256) % 256);
  return block;
}

// Layout of VESA E-EDID (from memory); the values are sRGB's.
TEST(DataBlock, GivesChromaticitiesAndGamma) {
  const auto display = display_from_edid(edid(), "screen.edid", "wled");
  ASSERT_TRUE(display.has_value()) << display.error().message;
  expect_colours(*display, srgb, 5e-4);
  EXPECT_NEAR(display->curves[2].decoded(0.5), std::pow(0.5, 2.2), 1e-12);
  EXPECT_EQ(display->panel, "wled");
  EXPECT_TRUE(display_from_edid(edid(255), "screen.edid", "wled")->curves[0].is_srgb());
  std::string spoilt = edid();
  spoilt[40] = '\x01';
  EXPECT_NE(display_from_edid(spoilt, "s", "oled").error().message.find("checksum"),
            std::string::npos);
  EXPECT_EQ(display_from_edid("short", "s", "oled").error().kind, Error::Kind::bad_input);
  EXPECT_EQ(display_from_edid(edid(), "s", "plasma").error().kind, Error::Kind::usage);
}

std::string csv_of(const Display& display, const std::string& names = "nm,R,G,B") {
  std::string csv = "# spectra\n" + names + "\n";
  for (std::size_t i = 0; i < spectrum_size; ++i) {
    csv += shortest(nm_at(i));
    for (const Power& primary : display.primaries) csv += "," + shortest(primary[i] * 7);
    csv += "\n";
  }
  return csv;
}

// Law: a display written as spectra and read back is the same display, whatever the unit.
TEST(Spectra, ReadBackAsTheSameDisplay) {
  const Display known = *display_from("srgb/qd");
  const auto read = display_from_spectra(csv_of(known), "hall.csv");
  ASSERT_TRUE(read.has_value()) << read.error().message;
  EXPECT_EQ(read->known, DisplayStatus::measured);
  expect_colours(*read, srgb, 1e-9);
  const auto a = lms_from_linear_rgb(fundamentals_of(Observer{}), known),
             b = lms_from_linear_rgb(fundamentals_of(Observer{}), *read);
  for (std::size_t i = 0; i < 3; ++i)
    for (std::size_t j = 0; j < 3; ++j) EXPECT_NEAR(a.rows[i][j], b.rows[i][j], 1e-12);
  EXPECT_EQ(plausible_displays(*read).size(), 1U) << "measured spectra are not guessed";
  EXPECT_EQ(plausible_displays(known).size(), panel_names().size());
}

TEST(Spectra, BlackIsTakenOff) {
  const Display known = *display_from("srgb/oled");
  std::string csv = "nm,red,green,blue,black\n";
  const Power white = white_of(known);
  for (std::size_t i = 0; i < spectrum_size; ++i) {
    csv += shortest(nm_at(i));
    for (const Power& primary : known.primaries)
      csv += "," + shortest(primary[i] + 0.01 * white[i]);
    csv += "," + shortest(0.01 * white[i]) + "\n";
  }
  const auto read = display_from_spectra(csv, "hall.csv");
  ASSERT_TRUE(read.has_value()) << read.error().message;
  expect_colours(*read, srgb, 1e-6);
  EXPECT_NEAR(read->black_cd_m2 / read->peak_cd_m2, 0.01, 1e-6);
}

TEST(Spectra, RampsGiveToneCurves) {
  const Display known = *display_from("srgb/oled");
  std::string fields, sets;
  int set = 0;
  for (int nm = 390; nm <= 830; ++nm) fields += " SPEC_" + std::to_string(nm);
  const auto add = [&](std::array<int, 3> drive) {
    sets += std::to_string(++set);
    for (const int d : drive) sets += " " + std::to_string(d);
    for (std::size_t i = 0; i < spectrum_size; ++i) {
      double power = 0;
      for (std::size_t p = 0; p < 3; ++p)
        power += known.primaries[p][i] * std::pow(drive[p] / 100.0, 2.4);
      sets += " " + shortest(power);
    }
    sets += "\n";
  };
  add({0, 0, 0});
  for (int channel = 0; channel < 3; ++channel)
    for (int d = 10; d <= 100; d += 10) {
      std::array<int, 3> drive{};
      drive[static_cast<std::size_t>(channel)] = d;
      add(drive);
    }
  const auto read =
      display_from_spectra("CTI3\nBEGIN_DATA_FORMAT\nSAMPLE_ID RGB_R RGB_G RGB_B" + fields +
                               "\nEND_DATA_FORMAT\nBEGIN_DATA\n" + sets + "END_DATA\n",
                           "hall.ti3");
  ASSERT_TRUE(read.has_value()) << read.error().message;
  EXPECT_NE(read->status.find("tone curves measured"), std::string::npos);
  for (const ToneCurve& curve : read->curves) {
    EXPECT_NEAR(curve.decoded(0.5), std::pow(0.5, 2.4), 1e-6);
    EXPECT_NEAR(curve.nearest_exponent(), 2.4, 0.05);
  }
}

TEST(Description, TypedChromaticitiesAndLight) {
  const auto read = display_from_description(
      "name = \"hall projector\"\n[chromaticities]\nred=[0.64,0.33]\ngreen=[0.30,0.60]\n"
      "blue=[0.15,0.06]\nwhite=[0.3127,0.3290]\npanel=\"qd\"\n[curve]\ngamma=2.4\n[light]\npeak="
      "250\n"
      "black=0.25\nlux=120\nreflectance=0.04\nbits=10\n",
      "hall.toml", ".");
  ASSERT_TRUE(read.has_value()) << read.error().message;
  expect_colours(*read, srgb, 1e-12);
  EXPECT_EQ(read->name, "hall projector");
  EXPECT_EQ(read->panel, "qd");
  EXPECT_EQ(read->bits, 10);
  EXPECT_NEAR(read->curves[0].decoded(0.5), std::pow(0.5, 2.4), 1e-12);
  // Law: the veil's luminance is black plus lux x reflectance / pi, over the peak.
  EXPECT_NEAR(tristimulus_values(veil(*read)).y, (0.25 + 120 * 0.04 / 3.14159265358979) / 250,
              1e-12);
}

// Luminances .2126, .7152, .0722 of sRGB's primaries make its white (IEC 61966-2-1).
TEST(Description, LuminancesGiveTheWhite) {
  const auto read = display_from_description(
      "[chromaticities]\nred=[0.64,0.33,21.26]\ngreen=[0.30,0.60,71.52]\nblue=[0.15,0.06,7.22]\n",
      "typed.toml", ".");
  ASSERT_TRUE(read.has_value()) << read.error().message;
  expect_colours(*read, srgb, 2e-4);
  EXPECT_NEAR(read->peak_cd_m2, 100, 1e-9);
}

TEST(Description, MistakesAreNamed) {
  const auto message_of = [](const std::string& text) {
    const auto read = display_from_description(text, "d.toml", "/nowhere");
    EXPECT_FALSE(!read && read.error().remedy.empty()) << text;
    return read ? std::string("read") : read.error().message;
  };
  const std::string colours =
      "[chromaticities]\nred=[0.64,0.33]\ngreen=[0.30,0.60]\nblue=[0.15,0.06]\nwhite=[0.3127,0."
      "3290]\n";
  EXPECT_NE(message_of("name = ").find("d.toml:1"), std::string::npos);
  EXPECT_NE(message_of("").find("one of the two"), std::string::npos);
  EXPECT_NE(message_of(colours + "colour=[1,2]\n").find("colour"), std::string::npos);
  EXPECT_NE(message_of(colours + "[curve]\ngamma=0\n").find("gamma 0"), std::string::npos);
  EXPECT_NE(message_of(colours + "[light]\npeak=\"bright\"\n").find("peak"), std::string::npos);
  EXPECT_NE(message_of("[chromaticities]\nred=[0.64]\n").find("red"), std::string::npos);
  EXPECT_NE(message_of("[spectra]\nfile=\"missing.csv\"\n").find("missing.csv"), std::string::npos);
}

TEST(Display, SettingsFollowTheName) {
  const auto dim =
      display_from("srgb/wled,lux=200,reflectance=.03,peak=120,black=.2,gamma=2.3,bits=10");
  ASSERT_TRUE(dim.has_value()) << dim.error().message;
  EXPECT_EQ(dim->name, "srgb/wled,lux=200,reflectance=.03,peak=120,black=.2,gamma=2.3,bits=10");
  EXPECT_EQ(dim->ambient_lux, 200);
  EXPECT_EQ(dim->peak_cd_m2, 120);
  EXPECT_FALSE(dim->curves[0].is_srgb());
  // Law: a veil moves every cone alike toward white, never away.
  const ConeExcitation v = veil_excitation(fundamentals_of(Observer{}), *dim);
  EXPECT_GT(v.l, 0.016);
  EXPECT_LT(v.l, 0.02);
  EXPECT_NEAR(v.m, v.l, 1e-3);
  EXPECT_NEAR(v.s, v.l, 1e-3);
  for (const char* wrong : {"srgb,lux=bright", "srgb,colour=1", "srgb,lux=", "srgb/oled,panel=qd"})
    EXPECT_EQ(display_from(wrong).error().kind, Error::Kind::usage) << wrong;
  for (const char* wrong : {"srgb,peak=0", "srgb,black=300", "srgb,lux=-1", "srgb,reflectance=2",
                            "srgb,bits=6", "srgb,gamma=0", "srgb,gamma=11", "srgb,peak=1e308"})
    EXPECT_EQ(display_from(wrong).error().kind, Error::Kind::bad_input) << wrong;
  EXPECT_EQ(display_from("/nowhere/screen.icc").error().kind, Error::Kind::bad_input);
  EXPECT_EQ(named_display("/usr/share/color/icc/colord/sRGB.icc").error().kind, Error::Kind::usage)
      << "a name from elsewhere opens no file";
}

// ITU-R BT.2020: 630, 532 and 467 nm have the printed chromaticities to three decimals.
TEST(Display, LinesHaveTheStandardsChromaticities) {
  const auto lines = display_from("rec2020/lines");
  ASSERT_TRUE(lines.has_value()) << lines.error().message;
  expect_colours(*lines, {{{{.708, .292}, {.170, .797}, {.131, .046}}}, {.3127, .3290}}, 1e-3);
  EXPECT_NE(lines->status.find("no panel"), std::string::npos);
}

TEST(Colours, ImpossibleOnesAreRefused) {
  constexpr double nan = std::numeric_limits<double>::quiet_NaN(),
                   inf = std::numeric_limits<double>::infinity();
  const auto refusal = [](std::array<Chromaticity, 3> primaries, Chromaticity white) {
    const auto checked = check_colours({primaries, white});
    return checked ? std::string("fine") : checked.error().message;
  };
  const auto& p = srgb.primaries;
  EXPECT_EQ(refusal(p, srgb.white), "fine");
  EXPECT_EQ(refusal(p3.primaries, p3.white), "fine");
  EXPECT_NE(refusal({p[0], p[0], p[2]}, srgb.white).find("on a line"), std::string::npos);
  EXPECT_NE(refusal({{{.64, .33}, {.395, .195}, {.15, .06}}}, srgb.white).find("on a line"),
            std::string::npos);
  EXPECT_NE(refusal(p, {.6, .38}).find("white"), std::string::npos);
  EXPECT_NE(refusal({{{.64, 0}, p[1], p[2]}}, srgb.white).find("y of 0"), std::string::npos);
  EXPECT_NE(refusal({{{.64, -.1}, p[1], p[2]}}, srgb.white).find("y of 0"), std::string::npos);
  EXPECT_NE(refusal({{{.7347, .2803}, p[1], p[2]}}, srgb.white).find("spectral locus"),
            std::string::npos);
  EXPECT_NE(refusal({{{.64, .33}, {.10, .95}, {.15, .06}}}, srgb.white).find("spectral locus"),
            std::string::npos);
  EXPECT_NE(refusal({{{nan, .33}, p[1], p[2]}}, srgb.white).find("not a pair"), std::string::npos);
  EXPECT_NE(refusal(p, {inf, .33}).find("not a pair"), std::string::npos);
}

// Property: 1e5 random sets of chromaticities. The possible ones reproduce their white to 1e-12 and
// have no NaN anywhere; the rest are refused by name.
TEST(Colours, RandomOnesAreRefusedOrExact) {
  RandomStream random(12, 3);
  std::size_t possible = 0, built = 0;
  const Fundamentals f = fundamentals_of(Observer{});
  for (int i = 0; i < 100'000; ++i) {
    const auto near = [&](Chromaticity c, double by) {
      return Chromaticity{c.x + random.uniform(-by, by), c.y + random.uniform(-by, by)};
    };
    const double by = i % 2 == 0 ? 0.05 : 0.5;
    const PrimaryColours colours{
        {near(srgb.primaries[0], by), near(srgb.primaries[1], by), near(srgb.primaries[2], by)},
        near(srgb.white, by / 4)};
    const auto checked = check_colours(colours);
    if (!checked) {
      ASSERT_FALSE(checked.error().remedy.empty());
      continue;
    }
    ++possible;
    LinearMap<LinearRgb, Xyz> unit;
    for (std::size_t p = 0; p < 3; ++p) {
      const Xyz c = xyz_of(colours.primaries[p]);
      unit.rows[0][p] = c.x;
      unit.rows[1][p] = c.y;
      unit.rows[2][p] = c.z;
    }
    const LinearRgb drive = inverse(unit)(xyz_of(colours.white));
    const Chromaticity back = chromaticity_of(unit(drive));
    ASSERT_NEAR(back.x, colours.white.x, 1e-12) << i;
    ASSERT_NEAR(back.y, colours.white.y, 1e-12) << i;
    ASSERT_TRUE(drive.r > 0 && drive.g > 0 && drive.b > 0) << i;
    if (possible % 50 != 0) continue;
    const auto display = display_of(colours, panel_names()[possible % 4]);
    ASSERT_TRUE(display.has_value()) << i;
    ++built;
    for (const auto& row : lms_from_linear_rgb(f, *display).rows)
      for (const double value : row) ASSERT_TRUE(std::isfinite(value)) << i;
    for (const Power& primary : display->primaries)
      for (const double value : primary.values)
        ASSERT_TRUE(value >= -1e-12 && std::isfinite(value)) << i;
  }
  EXPECT_GT(possible, 20'000U);
  EXPECT_GT(built, 400U);
}

// CIE 15: daylight of 6504 K is D65 (.3127, .3290), of 5003 K D50 (.3457, .3585).
TEST(Tolerance, DaylightIsTheStandards) {
  EXPECT_NEAR(daylight(6504).x, .3127, 3e-4);
  EXPECT_NEAR(daylight(6504).y, .3290, 3e-4);
  EXPECT_NEAR(daylight(5003).x, .3457, 3e-4);
  EXPECT_NEAR(daylight(5003).y, .3585, 3e-4);
}

TEST(Tolerance, WhatIsKnownIsNotVaried) {
  const Display assumed = *display_from("srgb");
  EXPECT_EQ(tolerance_displays(assumed).size(), 6U);
  EXPECT_EQ(tolerance_displays(assumed).front().name, "srgb/oled");
  const Display profile = *display_from("/usr/share/color/icc/colord/sRGB.icc");
  for (const Display& other : tolerance_displays(profile)) {
    EXPECT_EQ(other.white.x, profile.white.x) << other.name;
    EXPECT_FALSE(other.curves[0].is_srgb()) << "its own curve";
  }
  const Display measured = *display_from_spectra(csv_of(assumed), "hall.csv");
  ASSERT_EQ(tolerance_displays(measured).size(), 2U);
  EXPECT_EQ(tolerance_displays(measured)[1].primaries[0].values, measured.primaries[0].values);
  EXPECT_GT(tolerance_displays(measured)[1].ambient_lux, 0);
}

// How much the unknown spectra matter for sRGB (measured and synthetic panels): cone entries move
// by at most .011 of white (half width of ranges printed in the science notes: S_G .0905-.1006),
// rod weights by up to .12 in all.
TEST(Tolerance, ConesMoveLittleAndRodsMuch) {
  const DisplaySpread spread = spread_over_spectra(*display_from("srgb"), Observer{});
  EXPECT_EQ(spread.displays, 4U);
  EXPECT_LE(spread.largest_cone_entry, 0.0075);
  EXPECT_GE(spread.largest_cone_entry, 0.002);
  EXPECT_LE(spread.largest_rod_weight, 0.06);
  EXPECT_GE(spread.largest_rod_weight, 0.01);
  // V' weights of the template panels, computed elsewhere: OLED .0295 .6311 .3394, CRT .0243 .6126
  // .3631.
  const auto oled = rod_weights(*display_from("srgb/oled"));
  EXPECT_NEAR(oled[0], .0295, 5e-4);
  EXPECT_NEAR(oled[1], .6311, 5e-4);
  EXPECT_NEAR(oled[2], .3394, 5e-4);
  EXPECT_NEAR(rod_weights(*display_from("srgb/crt"))[1], .6126, 2e-3);
}

}  // namespace
}  // namespace copunctal
