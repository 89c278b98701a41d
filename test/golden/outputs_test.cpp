// Sets as figures, pictures and pages: what is drawn is the plate.
#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <filesystem>
#include <regex>

#include <gtest/gtest.h>
#include <lcms2.h>

#include "copunctal/app/print_plates.h"
#include "copunctal/app/show_plates.h"
#include "copunctal/base/files.h"
#include "copunctal/design/make_set.h"
#include "copunctal/display/write_profile.h"
#include "copunctal/image/png.h"
#include "copunctal/image/sandboxed.h"
#include "copunctal/plate/draw.h"
#include "copunctal/plate/svg.h"
#include "copunctal/reader/predict.h"

namespace copunctal {
namespace {

namespace fs = std::filesystem;

// Four plates, soon made.
const PlateSet& exhibits() {
  static const PlateSet set = *make_set("exhibits", *display_from("srgb"), 7);
  return set;
}

fs::path own_directory() {
  fs::path directory = fs::temp_directory_path() / "copunctal-outputs-test";
  fs::create_directories(directory);
  return directory;
}

struct Ran {
  int code = -1;
  std::string out;
};
Ran run(const std::string& command) {
  Ran ran;
  std::FILE* pipe = popen((command + " 2>&1").c_str(), "r");
  std::array<char, 512> block{};
  while (const std::size_t got = std::fread(block.data(), 1, block.size(), pipe))
    ran.out.append(block.data(), got);
  ran.code = pclose(pipe);
  return ran;
}

std::size_t count_of(const std::string& text, std::string_view what) {
  std::size_t count = 0;
  for (std::size_t at = text.find(what); at != std::string::npos; at = text.find(what, at + 1))
    ++count;
  return count;
}

TEST(Svg, HasEveryPebbleInItsOwnCode) {
  const Plate& plate = exhibits().plates.front();
  const std::string svg = plate_svg(plate, 640, "a < b", "words");
  const Mosaic mosaic = mosaic_of(plate.seed);
  EXPECT_EQ(count_of(svg, "<polygon"), mosaic.pebbles.size());
  EXPECT_NE(svg.find("<title>a &lt; b</title>"), std::string::npos);
  for (const auto& part : plate.codes)
    for (const Code& code : part)
      EXPECT_NE(svg.find("fill=\"" + hex_of(code) + "\""), std::string::npos) << hex_of(code);
}

// Rasterised by librsvg and cairo, the inside of every pebble is its code, as in our own picture.
TEST(Svg, RasterisedElsewhereIsThePicture) {
  const fs::path directory = own_directory();
  const Plate& plate = exhibits().plates.front();
  const std::string svg = plate_svg(plate, 640, "plate", "words");
  const fs::path in = directory / "in", png = directory / "out.png";
  ASSERT_TRUE(write_file(std::to_string(svg.size()) + "\n" + svg, in).has_value());
  const Ran ran =
      run(std::string(COPUNCTAL_PAPER) + " png '" + png.string() + "' < '" + in.string() + "'");
  ASSERT_EQ(ran.code, 0) << ran.out;
  const auto drawn = read_picture(png, {.trusted = true});
  ASSERT_TRUE(drawn.has_value());
  const Picture ours = draw(plate, 640);
  ASSERT_EQ(drawn->width, 640);
  const Mosaic mosaic = mosaic_of(plate.seed);
  const std::vector<Code> codes = pebble_codes(plate, mosaic);
  std::size_t inside = 0, same = 0;
  for (std::size_t i = 0; i < mosaic.pebbles.size(); ++i) {
    // The middle of the pebble's pixels is inside it: pebbles are convex.
    Point middle{0, 0};
    for (const Point& p : mosaic.pixels[i]) {
      middle.x += p.x / static_cast<double>(mosaic.pixels[i].size());
      middle.y += p.y / static_cast<double>(mosaic.pixels[i].size());
    }
    const auto pixel = [](double v) {
      return static_cast<std::size_t>(640 * (field_margin + v * (1 - 2 * field_margin)));
    };
    const std::size_t at = 3 * (pixel(middle.y) * 640 + pixel(middle.x));
    // A pixel that lies wholly inside, with room for the two rasters' difference.
    constexpr double pixels_inside = 1.5;
    if (distance_outside(mosaic.pebbles[i], middle) * 640 > -pixels_inside) continue;
    for (const Picture* picture : {&*drawn, &ours}) {
      ++inside;
      int off = 0;
      for (std::size_t c = 0; c < 3; ++c)
        off = std::max(
            off, std::abs(static_cast<int>(picture->rgb[at + c]) - static_cast<int>(codes[i][c])));
      same += off == 0;
      // Where a fill meets its stroke, mixing the two may round the other way.
      EXPECT_LE(off, picture == &ours ? 0 : 1) << "pebble " << i;
    }
  }
  EXPECT_GE(static_cast<double>(same), 0.99 * static_cast<double>(inside));
  EXPECT_GT(inside, mosaic.pebbles.size()) << "most pebbles, in both pictures";
}

TEST(Png, OfSixteenBitsHoldsTheCodesTimes257AndTheDisplaysProfile) {
  const Plate& plate = exhibits().plates.front();
  const Display display = *display_from("display-p3");
  const DeepPicture deep = draw_deep(plate, 320, CodeLight(display.curves));
  const Picture shallow = draw(plate, 320, CodeLight(display.curves));
  std::size_t whole = 0;
  for (std::size_t i = 0; i < deep.rgb.size(); ++i) {
    whole += deep.rgb[i] == 257 * shallow.rgb[i];
    EXPECT_NEAR(deep.rgb[i] / 257.0, shallow.rgb[i], 0.501);
  }
  EXPECT_GT(whole, deep.rgb.size() / 2) << "inside of cells and gaps";
  const fs::path file = own_directory() / "deep.png";
  ASSERT_TRUE(write_png(deep, file, profile_of(display)).has_value());
  const std::string bytes = *read_file(file);
  EXPECT_NE(bytes.find("iCCP"), std::string::npos);
  EXPECT_EQ(bytes.find("sRGB"), std::string::npos);
  EXPECT_EQ(bytes[24], 16) << "bit depth in the header, byte 24 (ISO/IEC 15948)";
  const auto again = read_picture(file, {.trusted = true});
  ASSERT_TRUE(again.has_value());
  EXPECT_EQ(again->rgb[0], shallow.rgb[0]);
}

TEST(Pages, AreOfTrueSizeWithRulerAndCaution) {
  const PlateSet& set = exhibits();
  std::vector<const Plate*> plates;
  for (const Plate& plate : set.plates) plates.push_back(&plate);
  const auto pages = plate_pages(set, plates, 120, {});
  ASSERT_EQ(pages.size(), 4U);
  const fs::path directory = own_directory(), in = directory / "pages", pdf = directory / "p.pdf";
  std::string all;
  for (const std::string& page : pages) all += std::to_string(page.size()) + "\n" + page;
  ASSERT_TRUE(write_file(all, in).has_value());
  const Ran ran =
      run(std::string(COPUNCTAL_PAPER) + " pdf '" + pdf.string() + "' < '" + in.string() + "'");
  ASSERT_EQ(ran.code, 0) << ran.out;
  // Poppler, which shares no code with us: four pages of A4 (ISO 216).
  const Ran info = run("pdfinfo '" + pdf.string() + "'");
  if (info.code != 0) GTEST_SKIP() << "pdfinfo is not installed";
  EXPECT_TRUE(std::regex_search(info.out, std::regex("Pages: +4"))) << info.out;
  EXPECT_NE(info.out.find("(A4)"), std::string::npos) << info.out;
  // At 254 dots an inch a millimetre is ten pixels: the ruler is 1000 long, the plate 1200 wide.
  ASSERT_EQ(run("pdftoppm -r 254 -gray -f 1 -l 1 '" + pdf.string() + "' '" +
                (directory / "page").string() + "'")
                .code,
            0);
  std::string image;
  for (const auto& entry : fs::directory_iterator(directory))
    if (entry.path().extension() == ".pgm") image = *read_file(entry.path());
  ASSERT_EQ(image.substr(0, 3), "P5\n");
  std::size_t width = 0, height = 0, data = 0;
  {
    int w = 0, h = 0, most = 0, used = 0;
    ASSERT_EQ(std::sscanf(image.c_str(), "P5 %d %d %d%n", &w, &h, &most, &used), 3);
    width = static_cast<std::size_t>(w);
    height = static_cast<std::size_t>(h);
    data = static_cast<std::size_t>(used) + 1;
  }
  const auto dark_run = [&](std::size_t y) {
    std::size_t longest = 0, now = 0;
    for (std::size_t x = 0; x < width; ++x) {
      now = static_cast<unsigned char>(image[data + y * width + x]) < 128 ? now + 1 : 0;
      longest = std::max(longest, now);
    }
    return longest;
  };
  const auto below = static_cast<std::size_t>(10 * (28 + 120 + 14));
  std::size_t ruler = 0;
  for (std::size_t y = below - 6; y < below + 6 && y < height; ++y)
    ruler = std::max(ruler, dark_run(y));
  EXPECT_NEAR(static_cast<double>(ruler), 1000, 4);
  const std::string words = run("pdftotext '" + pdf.string() + "' -").out;
  EXPECT_NE(words.find("for demonstration only"), std::string::npos);
  EXPECT_NE(words.find("not for diagnosis"), std::string::npos);
  EXPECT_NE(words.find("100 mm long"), std::string::npos);
  EXPECT_NE(words.find("Rests on salience"), std::string::npos);
  fs::remove_all(directory);
}

// A printer that mixes like light, which Little CMS can write: what matters here is its range.
std::string printer_profile(const std::array<std::array<double, 2>, 3>& primaries) {
  const cmsCIExyY white = {0.3457, 0.3585, 1};
  const auto xyy = [&](std::size_t p) { return cmsCIExyY{primaries[p][0], primaries[p][1], 1}; };
  const cmsCIExyYTRIPLE three = {xyy(0), xyy(1), xyy(2)};
  cmsToneCurve* curve = cmsBuildGamma(nullptr, 1.8);
  const std::array<cmsToneCurve*, 3> curves = {curve, curve, curve};
  cmsHPROFILE profile =
      cmsCreateRGBProfile(&white, &three, const_cast<cmsToneCurve**>(curves.data()));
  cmsSetDeviceClass(profile, cmsSigOutputClass);
  cmsUInt32Number size = 0;
  cmsSaveProfileToMem(profile, nullptr, &size);
  std::string bytes(size, '\0');
  cmsSaveProfileToMem(profile, bytes.data(), &size);
  cmsCloseProfile(profile);
  cmsFreeToneCurve(curve);
  return bytes;
}

TEST(Pages, WithAPrintersProfileSayWhatItDoes) {
  const PlateSet& set = exhibits();
  const Display display = *display_from("srgb");
  // A printer of three inks whose reds and greens are pale; and one that reaches all of sRGB.
  const std::string pale = printer_profile({{{0.50, 0.34}, {0.31, 0.45}, {0.20, 0.16}}}),
                    wide = printer_profile({{{0.68, 0.32}, {0.265, 0.69}, {0.15, 0.05}}});
  const auto fits = printer_fits(set, display, pale, "pale.icc");
  ASSERT_TRUE(fits.has_value()) << fits.error().message;
  ASSERT_EQ(fits->size(), 4U);
  for (const PrinterFit& fit : *fits) {
    EXPECT_GE(fit.largest, fit.mean);
    EXPECT_LE(fit.off, fit.colours);
  }
  EXPECT_GT((*fits)[1].off, 10) << "the hidden plate's reds and greens";
  const auto fits_wide = printer_fits(set, display, wide, "wide.icc");
  ASSERT_TRUE(fits_wide.has_value());
  for (const PrinterFit& fit : *fits_wide) {
    EXPECT_EQ(fit.off, 0);
    EXPECT_LT(fit.largest, 0.2);
  }
  const std::vector<const Plate*> plates = {&set.plates[1]};
  const std::string page = plate_pages(set, plates, 100, *fits).front();
  EXPECT_NE(page.find("colours are more than 1 (CIEDE2000)"), std::string::npos);
  EXPECT_EQ(page.find("not characterised"), std::string::npos);
  EXPECT_FALSE(printer_fits(set, display, profile_of(display), "screen.icc").has_value());
  EXPECT_FALSE(printer_fits(set, display, "no profile", "text.icc").has_value());
}

TEST(Pages, AnAnswerSheetHasABoxForEveryAnswerAndNoName) {
  const PlateSet& set = exhibits();
  const auto pages = answer_sheet(set);
  ASSERT_EQ(pages.size(), 1U);
  // Two of the four plates have two figures; each line has four symbols and "no figure for me".
  EXPECT_EQ(count_of(pages[0], "width=\"5\" height=\"5\""), 6U * 5U);
  EXPECT_EQ(count_of(pages[0], ">no figure for me<"), 6U);
  EXPECT_NE(pages[0].find("Pseudonym"), std::string::npos);
  EXPECT_NE(pages[0].find("not for diagnosis"), std::string::npos);
}

TEST(Show, ReadersRowsSayWhatEachKindRestsOn) {
  const PlateSet& set = exhibits();
  const auto svg = readers_rows_svg(set, "", *display_of_set(set));
  ASSERT_TRUE(svg.has_value());
  for (const Plate& plate : set.plates)
    EXPECT_NE(svg->find(">" + plate.name + "<"), std::string::npos);
  EXPECT_EQ(count_of(*svg, "Rests on salience"), 4U);
  // Two kinds of two figures: the second's bars are hatched, not coloured.
  EXPECT_EQ(count_of(*svg, "url(#second)"), 2 * standard_observers().size());
  EXPECT_NE(svg->find("not for diagnosis"), std::string::npos);
  const auto unknown = readers_rows_svg(set, "near gat", *display_of_set(set));
  ASSERT_FALSE(unknown.has_value());
  EXPECT_NE(unknown.error().remedy.find("near gate"), std::string::npos);
}

TEST(Show, APlateApartNamesThePictureTheFigureIsIn) {
  const PlateSet& set = exhibits();
  const Display display = *display_of_set(set);
  const std::string& name = set.plates[1].name;  // hidden: along yellow-violet
  const auto protan = apart_svg(set, name, *observer_from("protan:0"), display);
  ASSERT_TRUE(protan.has_value());
  EXPECT_NE(protan->find("stands out in: yellow–violet ("), std::string::npos);
  EXPECT_NE(protan->find("absent in this observer"), std::string::npos);
  for (const char* panel :
       {"L cones", "M cones", "S cones", "red–green", "yellow–violet", "luminance"})
    EXPECT_NE(protan->find(std::string(">") + panel + "<"), std::string::npos) << panel;
  const auto tritan = apart_svg(set, name, *observer_from("tritan"), display);
  ASSERT_TRUE(tritan.has_value());
  EXPECT_NE(tritan->find("stands out in none of the mechanisms"), std::string::npos);
}

// A field's silhouette: how much of the square around it is covered, and of its corners.
struct Silhouette {
  double area = 0, corners = 0;
};
Silhouette silhouette_of(const Picture& picture) {
  const Code gap = {picture.rgb[0], picture.rgb[1], picture.rgb[2]};
  int left = picture.width, right = 0, top = picture.height, bottom = 0;
  const auto is_field = [&](int x, int y) {
    const std::size_t at =
        3 * (static_cast<std::size_t>(y) * static_cast<std::size_t>(picture.width) +
             static_cast<std::size_t>(x));
    return !std::equal(gap.begin(), gap.end(),
                       picture.rgb.begin() + static_cast<std::ptrdiff_t>(at));
  };
  for (int y = 0; y < picture.height; ++y)
    for (int x = 0; x < picture.width; ++x)
      if (is_field(x, y)) {
        left = std::min(left, x);
        right = std::max(right, x);
        top = std::min(top, y);
        bottom = std::max(bottom, y);
      }
  const double w = right - left + 1, h = bottom - top + 1;
  double all = 0, corner = 0, in_corners = 0;
  for (int y = top; y <= bottom; ++y)
    for (int x = left; x <= right; ++x) {
      // Corners: beyond a disc inscribed in the box.
      const double u = 2 * (x - left + 0.5) / w - 1, v = 2 * (y - top + 0.5) / h - 1;
      const bool beyond_disc = u * u + v * v > 1;
      all += is_field(x, y);
      corner += beyond_disc && is_field(x, y);
      in_corners += beyond_disc;
    }
  return {all / (w * h), corner / in_corners};
}
bool is_disc(const Silhouette& s) {
  return s.corners < 0.3;
}

TEST(Gallery, AFieldIsARoundedSquareAndADiscIsRejected) {
  for (const Plate& plate : exhibits().plates) {
    const Silhouette field = silhouette_of(draw(plate, 320));
    EXPECT_FALSE(is_disc(field)) << plate.name << " corners " << field.corners;
    EXPECT_GT(field.area, 0.75) << plate.name;
    // The same plate with everything outside a disc painted out must be rejected.
    Picture disc = draw(plate, 320);
    for (int y = 0; y < 320; ++y)
      for (int x = 0; x < 320; ++x)
        if (std::hypot(x - 159.5, y - 159.5) > 150)
          for (std::size_t c = 0; c < 3; ++c)
            disc.rgb[3 * (static_cast<std::size_t>(y) * 320 + static_cast<std::size_t>(x)) + c] =
                disc.rgb[c];
    EXPECT_TRUE(is_disc(silhouette_of(disc))) << plate.name;
  }
}

// Reviewed pictures, kept small; regenerate_golden writes them anew.
TEST(Gallery, PicturesAreAsReviewed) {
  for (const Plate& plate : exhibits().plates) {
    const fs::path kept =
        fs::path(COPUNCTAL_SOURCE_DIR) / "test/golden/gallery" / (plate.name + ".png");
    const auto reviewed = read_picture(kept, {.trusted = true});
    ASSERT_TRUE(reviewed.has_value()) << kept;
    const Picture now = draw(plate, 240);
    ASSERT_EQ(now.rgb.size(), reviewed->rgb.size());
    double off = 0;
    for (std::size_t i = 0; i < now.rgb.size(); ++i)
      off += std::abs(static_cast<int>(now.rgb[i]) - static_cast<int>(reviewed->rgb[i]));
    EXPECT_LT(off / static_cast<double>(now.rgb.size()), 0.5) << plate.name;
  }
}

}  // namespace
}  // namespace copunctal
