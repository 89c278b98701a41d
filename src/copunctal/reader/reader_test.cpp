#include "copunctal/reader/reader.h"

#include <algorithm>
#include <cmath>
#include <cstdio>

#include <gtest/gtest.h>

#include "copunctal/base/random.h"
#include "copunctal/colour/encoding.h"
#include "copunctal/plate/draw.h"
#include "copunctal/plate/gate_path.h"
#include "copunctal/plate/symbols.h"

namespace copunctal {
namespace {

const Display& srgb() {
  static const Display display = *display_from("srgb");
  return display;
}
Eye eye_of(std::string_view name, const DiscriminationModel& model = {}) {
  return nominal_eye(*observer_from(name), srgb(), model);
}

const std::vector<std::string> symbols = {"1", "2", "4", "6"};

// A plate whose figure differs from the ground by a factor on each of L, M and S, with four levels
// of luminance noise; everything else is as in a real plate.
Plate plate_with(const ConeExcitation& figure_factor, double noise = 0.2,
                 std::string symbol = "4") {
  const Eye normal = eye_of("normal");
  const auto rgb_from_lms = inverse(normal.lms);
  const ConeExcitation ground{0.24, 0.22, 0.16};
  Plate plate;
  plate.seed = 3;
  plate.figures = {{std::move(symbol), Place::whole}};
  plate.codes.resize(2);
  for (int level = 0; level < 4; ++level) {
    const double brightness = std::exp(noise * (level - 1.5) / 2);
    const auto code = [&](const ConeExcitation& c) {
      const LinearRgb rgb = rgb_from_lms(brightness * c);
      EXPECT_TRUE(in_gamut(rgb));
      return Code{srgb_code(rgb.r), srgb_code(rgb.g), srgb_code(rgb.b)};
    };
    plate.codes[0].push_back(code(ground));
    plate.codes[1].push_back(
        code({ground.l * figure_factor.l, ground.m * figure_factor.m, ground.s * figure_factor.s}));
  }
  return plate;
}

double reads_drawn(const Plate& plate, const Eye& eye) {
  const PlateReader reader = PlateReader::of(plate, symbols);
  return reader.readings(eye).front().reads[reader.index_of(plate.figures.front().symbol)];
}

TEST(Reader, AStrongFigureIsReadAndABlankPlateIsNot) {
  EXPECT_GT(reads_drawn(plate_with({1.15, 1, 1}), eye_of("normal")), 0.95);
  const PlateReader blank = PlateReader::of(plate_with({1, 1, 1}), symbols);
  const SlotReading reading = blank.readings(eye_of("normal")).front();
  // 2 % by construction of the criterion, and the lapses.
  EXPECT_NEAR(reading.nothing, 0.98 * 0.99 + 0.01 / 5, 0.01);
}

// Geometry alone: with one colour class for figure and ground, every symbol is as likely as any
// other, and the drawn one is read at chance, over seeds, in every family.
class EveryFamily : public testing::TestWithParam<SymbolFamily> {
 protected:
  const std::vector<std::string> row = choose_symbols(GetParam(), 7);
};
INSTANTIATE_TEST_SUITE_P(Reader, EveryFamily,
                         testing::Values(SymbolFamily::digits, SymbolFamily::rings,
                                         SymbolFamily::paths),
                         [](const auto& one) { return std::string(name_of(one.param)); });

TEST_P(EveryFamily, GeometryAlonePredictsTheFigureAtChance) {
  double drawn = 0, any = 0;
  for (std::uint64_t seed = 0; seed < 12; ++seed) {
    Plate plate = plate_with({1, 1, 1}, 0.3);
    plate.seed = 500 + seed;
    plate.figures.front().symbol = row[seed % row.size()];
    plate.codes[1] = plate.codes[0];
    const PlateReader reader = PlateReader::of(plate, row);
    const SlotReading reading = reader.readings(eye_of("normal")).front();
    drawn += reading.reads[reader.index_of(plate.figures.front().symbol)] / 12;
    any += (1 - reading.nothing) / 12;
  }
  std::printf("%s: anything read %.4f, the drawn symbol %.4f\n",
              std::string(name_of(GetParam())).c_str(), any, drawn);
  EXPECT_LT(any, 0.05);
  EXPECT_NEAR(drawn, any / 4, 0.01);
}

TEST_P(EveryFamily, AStrongFigureIsReadAndNoOtherIs) {
  for (std::uint64_t seed = 0; seed < 4; ++seed) {
    Plate plate = plate_with({1.12, 1, 1}, 0.2, row[seed]);
    plate.seed = 700 + seed;
    const PlateReader reader = PlateReader::of(plate, row);
    const SlotReading reading = reader.readings(eye_of("normal")).front();
    EXPECT_GT(reading.reads[seed], 0.95) << row[seed];
    EXPECT_LT(reader.readings(eye_of("protan:0")).front().reads[seed], 0.05) << row[seed];
  }
}

// Independent route: the recipe's elements and those found in the pixels give the same reading.
// Marks in the margin are no elements.
TEST_P(EveryFamily, PixelsAloneGiveTheSameReading) {
  Plate plate = plate_with({1.03, 1, 1});
  plate.figures.front().symbol = row[2];
  const Picture picture = draw(plate, 640);
  const auto found = elements_from(picture);
  ASSERT_TRUE(found.has_value());
  const Elements known = elements_of(plate, mosaic_of(plate.seed));
  EXPECT_GT(found->pixels.size(), 0.97 * static_cast<double>(known.pixels.size()));
  EXPECT_LE(found->pixels.size(), known.pixels.size());
  EXPECT_EQ(found->class_codes.size(), known.class_codes.size());
  const PlateReader by_pixels(*found, row, {Place::whole}, {}, path_shape_of(plate.seed));
  const PlateReader by_recipe = PlateReader::of(plate, row);
  const Eye eye = eye_of("normal");
  const double p = by_pixels.evidence(eye).front().strength(2),
               r = by_recipe.evidence(eye).front().strength(2);
  EXPECT_NEAR(p, r, 0.04 * r);
}

// A path shows most in its own shape, so that whoever tries all shapes finds it.
TEST(Reader, APathShowsMostInItsOwnShape) {
  const auto gates = choose_symbols(SymbolFamily::paths, 0);
  for (std::uint64_t seed = 900; seed < 906; ++seed) {
    Plate plate = plate_with({1.1, 1, 1}, 0.2, gates[seed % 4]);
    plate.seed = seed;
    const Elements elements = elements_of(plate, mosaic_of(seed));
    const Eye eye = eye_of("normal");
    std::vector<double> strengths;
    for (std::size_t shape = 0; shape < path_shapes; ++shape) {
      const PlateReader reader(elements, gates, {Place::whole}, {}, shape);
      const SlotEvidence slot = reader.evidence(eye).front();
      strengths.push_back(slot.strength(seed % 4));
      EXPECT_EQ(slot.best(), seed % 4) << "seed " << seed << ", shape " << shape;
    }
    EXPECT_EQ(strengths[path_shape_of(seed)],
              *std::max_element(strengths.begin(), strengths.end()));
  }
}

// Law: what only the missing cone could tell is not read.
TEST(Reader, DichromatsDoNotReadWhatOnlyTheMissingConeTells) {
  const Plate l_only = plate_with({1.15, 1, 1}), m_only = plate_with({1, 1.12, 1}),
              s_only = plate_with({1, 1, 2});
  EXPECT_LT(reads_drawn(l_only, eye_of("protan:0")), 0.05);
  EXPECT_LT(reads_drawn(m_only, eye_of("deutan:0")), 0.05);
  EXPECT_LT(reads_drawn(s_only, eye_of("tritan")), 0.05);
  for (const Plate* plate : {&l_only, &m_only, &s_only})
    EXPECT_GT(reads_drawn(*plate, eye_of("normal")), 0.95);
}

// Law: without masking between mechanisms a dichromat, who has the same mechanisms less one, cannot
// exceed the normal whose luminance is made of the same cone.
TEST(Reader, ANormalDominatesADichromatWithoutCrossMasking) {
  DiscriminationModel model;
  model.masking_by_chromatic = model.masking_by_luminance = 0;
  RandomStream random(21);
  for (int trial = 0; trial < 12; ++trial) {
    const double l = random.uniform(0.97, 1.04), m = random.uniform(0.97, 1.03),
                 s = random.uniform(0.8, 1.25);
    const Plate plate = plate_with({l, m, s});
    for (const auto& [name, weight] : {std::pair{"protan:0", 0.0}, {"deutan:0", 1.0}}) {
      Eye normal = eye_of("normal", model);
      normal.l_weight = weight;
      const PlateReader reader = PlateReader::of(plate, symbols, model);
      const std::size_t drawn = reader.index_of("4");
      const double by_normal = reader.evidence(normal).front().strength(drawn);
      const double by_dichromat = reader.evidence(eye_of(name, model)).front().strength(drawn);
      EXPECT_GE(by_normal, by_dichromat - 1e-9) << name << " trial " << trial;
    }
  }
}

TEST(Reader, AnswersSumToOne) {
  const PlateReader reader = PlateReader::of(plate_with({1.03, 1, 1}), symbols);
  for (const char* name : {"normal", "protan:5", "deutan:0"}) {
    const SlotReading reading = reader.readings(eye_of(name)).front();
    double sum = reading.nothing;
    for (const double p : reading.reads) sum += p;
    EXPECT_NEAR(sum, 1, 1e-12);
  }
}

TEST(Reader, TwoSlotAnswersSumToOne) {
  const std::vector<SlotReading> slots = {{{0.5, 0.1, 0.1, 0.1}, 0.2},
                                          {{0.05, 0.3, 0.2, 0.1}, 0.35}};
  double sum = probability_of(slots, {});
  for (std::size_t a = 0; a < 4; ++a) {
    sum += probability_of(slots, {a});
    for (std::size_t b = a + 1; b < 4; ++b) sum += probability_of(slots, {a, b});
  }
  EXPECT_NEAR(sum, 1, 1e-12);
}

// Sampling and the fixed draws estimate the same probability.
TEST(Reader, SamplesAgreeWithTheProbabilities) {
  const Plate plate = plate_with({1.022, 1, 1});
  const PlateReader reader = PlateReader::of(plate, symbols);
  const Eye eye = eye_of("normal");
  const std::size_t drawn = reader.index_of("4");
  const double predicted =
      (reader.readings(eye).front().reads[drawn] - 0.01 / 5) / 0.99;  // without lapses
  RandomStream random(4);
  int read = 0;
  constexpr int n = 4000;
  for (int i = 0; i < n; ++i) read += reader.sample(eye, random).front() == static_cast<int>(drawn);
  EXPECT_GT(predicted, 0.1);
  EXPECT_LT(predicted, 0.97);
  EXPECT_NEAR(static_cast<double>(read) / n, predicted,
              4 * std::sqrt(predicted * (1 - predicted) * (1.0 / n + 1.0 / 4096)));
}

TEST(Reader, APictureWithoutPebblesIsRefused) {
  EXPECT_EQ(elements_from(Picture(64, 64)).error().kind, Error::Kind::bad_input);
}

TEST(Reader, MarginsAreSaidInWords) {
  const SlotEvidence evidence{{{0.0, 0.3, -0.8}}, 3.8};
  EXPECT_EQ(margins_in_words(evidence, 0),
            "red–green 0, yellow–violet 0.3, luminance 0.8; together 0.9 of 3.8 needed: no figure");
}

// More internal noise (a larger K) makes the same figure harder.
TEST(Reader, TheMosaicFactorMovesPredictionsDown) {
  DiscriminationModel coarse;
  coarse.mosaic_factor = 10;
  const Plate plate = plate_with({1.03, 1, 1});
  const PlateReader usual = PlateReader::of(plate, symbols),
                    coarser = PlateReader::of(plate, symbols, coarse);
  const std::size_t drawn = usual.index_of("4");
  EXPECT_LT(coarser.readings(eye_of("normal")).front().reads[drawn],
            usual.readings(eye_of("normal")).front().reads[drawn] - 0.05);
}

}  // namespace
}  // namespace copunctal
