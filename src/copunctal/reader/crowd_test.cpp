#include "copunctal/reader/crowd.h"

#include <algorithm>
#include <cmath>
#include <cstdio>

#include <gtest/gtest.h>

#include "copunctal/base/random.h"

namespace copunctal {
namespace {

constexpr std::uint64_t seed = 0xC0FFEE12345;

const Display& srgb() {
  static const Display display = *display_from("srgb");
  return display;
}

// Figures that differ from the ground by a factor on L, M and S, four levels of luminance noise.
Plate plate_with(const std::vector<Figure>& figures, const std::vector<ConeExcitation>& factors,
                 double noise, std::uint64_t geometry) {
  const auto rgb_from_lms = inverse(nominal_eye(Observer{}, srgb()).lms);
  const ConeExcitation ground{0.24, 0.22, 0.16};
  Plate plate;
  plate.seed = geometry;
  plate.figures = figures;
  plate.codes.resize(factors.size() + 1);
  for (int level = 0; level < 4; ++level) {
    const double brightness = std::exp(noise * (level - 1.5) / 2);
    for (std::size_t part = 0; part <= factors.size(); ++part) {
      const ConeExcitation f = part == 0 ? ConeExcitation{1, 1, 1} : factors[part - 1];
      const LinearRgb rgb =
          rgb_from_lms(brightness * ConeExcitation{ground.l * f.l, ground.m * f.m, ground.s * f.s});
      plate.codes[part].push_back({srgb_code(rgb.r), srgb_code(rgb.g), srgb_code(rgb.b)});
    }
  }
  return plate;
}

struct Shown {
  std::string what;
  PlateReader reader;
  std::vector<std::size_t> drawn;
};

// Near threshold on purpose: there an error of the kernel would show.
const std::vector<Shown>& shown() {
  static const std::vector<Shown> all = [] {
    const std::vector<std::string> digits = {"1", "2", "4", "6"};
    const std::vector<std::string> five = {"1", "2", "4", "6", "9"};
    std::vector<Shown> list;
    const auto add = [&](std::string what, const Plate& plate,
                         const std::vector<std::string>& row) {
      PlateReader reader = PlateReader::of(plate, row);
      const std::vector<std::size_t> drawn = reader.drawn_on(plate);
      list.push_back({std::move(what), std::move(reader), std::move(drawn)});
    };
    const Figure four{"4", Place::whole};
    add("vanishing", plate_with({four}, {{1.03, 0.985, 1}}, 0.3, 3), digits);
    add("faint vanishing, five symbols", plate_with({four}, {{1.012, 1, 1}}, 0.3, 4), five);
    add("tritan", plate_with({four}, {{1, 1, 1.35}}, 0.3, 5), digits);
    add("fork",
        plate_with({{"2", Place::upper_left}, {"6", Place::lower_right}},
                   {{1, 0.95, 1}, {0.95, 1, 1}}, 0.05, 6),
        digits);
    add("blank", plate_with({four}, {{1, 1, 1}}, 0.2, 7), digits);
    return list;
  }();
  return all;
}

std::vector<PlateReader> readers() {
  std::vector<PlateReader> all;
  for (const Shown& one : shown()) all.push_back(one.reader);
  return all;
}

std::vector<Width> widths_here() {
  std::vector<Width> widths = {Width::four};
  if (widest_here() != Width::four) widths.push_back(Width::eight);
  if (widest_here() == Width::sixteen) widths.push_back(Width::sixteen);
  return widths;
}

// Independent reference: the quantile and the logarithm in double.
TEST(Crowd, DeviatesAndLogarithmsAreAsExactAsStated) {
  std::vector<std::uint32_t> words = {0, 1, 2, 3, 0x7fffffff, 0x80000000, 0xfffffffe, 0xffffffff};
  RandomStream random(5);
  while (words.size() < 200'000) words.push_back(random.bits32());
  for (std::uint32_t i = 0; i < 32 * 1024; ++i) words.push_back(i * 97);  // the lower tail
  const std::vector<float> deviates = crowd_normals(words, Width::widest);
  double worst = 0;
  for (std::size_t i = 0; i < words.size(); ++i)
    worst = std::max(worst, std::abs(static_cast<double>(deviates[i]) -
                                     normal_quantile((words[i] + 0.5) * 0x1p-32)));
  std::vector<float> values;
  while (values.size() < 100'000)
    values.push_back(static_cast<float>(std::exp(random.uniform(-14, 14))));
  while (values.size() < 200'000) values.push_back(static_cast<float>(random.uniform(0.9, 1.1)));
  const std::vector<float> logarithms = crowd_logarithms(values, Width::widest);
  double worst_log = 0;
  for (std::size_t i = 0; i < values.size(); ++i) {
    const double exact = std::log(static_cast<double>(values[i]));
    worst_log = std::max(worst_log, std::abs(static_cast<double>(logarithms[i]) - exact) /
                                        std::max(1.0, std::abs(exact)));
  }
  std::printf("largest error of a normal deviate %.1e, of a logarithm %.1e\n", worst, worst_log);
  EXPECT_LT(worst, 5e-6);
  EXPECT_LT(worst_log, 2e-7);
  for (const Width width : widths_here()) {
    EXPECT_EQ(crowd_normals(words, width), deviates);
    EXPECT_EQ(crowd_logarithms(values, width), logarithms);
  }
}

// The double twin answers as the kernel does, observer by observer: same individuals, same noise.
// Only what lies within float's rounding of a decision may differ.
TEST(Crowd, AnswersAsItsDoubleTwinDoes) {
  constexpr std::uint32_t n = 3000;
  DiscriminationModel other;
  other.mosaic_factor = 4;
  other.efficiency = 0.2;
  other.masking_by_chromatic = 0.2;
  other.post_receptoral_gain = 1;
  other.sensitivity_sd = 0.18;
  other.lapse = 0.1;
  std::size_t compared = 0, differ = 0;
  for (const DiscriminationModel& model : {DiscriminationModel{}, other})
    for (const char* name : {"normal", "deutan:5", "protan:0", "tritan"}) {
      const Observer centre = *observer_from(name);
      const PlainCrowd twin(readers(), centre, srgb(), model);
      const CrowdReadings fast = Crowd(readers(), centre, srgb(), model).readings(n, seed);
      for (std::uint32_t i = 0; i < n; ++i) {
        const auto plain = twin.readings(i, seed);
        ASSERT_EQ(plain.size(), fast.first_slot.back());
        for (std::size_t s = 0; s < plain.size(); ++s) {
          ++compared;
          differ += plain[s] != fast.of(s, i);
        }
      }
    }
  std::printf("%zu of %zu readings differ from the double twin's\n", differ, compared);
  EXPECT_LE(differ, compared / 5000);
}

// Another route to the probabilities: averages over fixed draws, individuals of another seed. Four
// standard errors of both.
TEST(Crowd, AgreesWithThePredictedReadings) {
  constexpr std::uint32_t n = 40'000;
  constexpr std::size_t individuals = 1500;
  for (const char* name : {"normal", "deutan:5", "protan:0", "tritan"}) {
    const Observer centre = *observer_from(name);
    const auto counts = crowd_answers(readers(), centre, srgb(), n, seed);
    const auto eyes = fresh_eyes(centre, srgb(), individuals);
    for (std::size_t p = 0; p < shown().size(); ++p) {
      const Shown& plate = shown()[p];
      const std::string where = plate.what + ", " + name;
      ASSERT_EQ(counts[p].total(), n);
      const PredictedReading crowd = reading_of(counts[p], plate.drawn, 0.01);
      const PredictedReading expected = predicted_reading(plate.reader, plate.drawn, eyes, 512);
      // The fixed draws are shared by all: 4096 of them leave .5 / 64 at worst.
      const auto close = [&](double a, double b, const char* what) {
        const double p_hat = std::clamp(b, 0.001, 0.999), v = p_hat * (1 - p_hat);
        EXPECT_NEAR(a, b, 4 * std::sqrt(v / n + expected.mc_error * expected.mc_error + v / 4096))
            << where << ": " << what;
      };
      close(crowd.intended, expected.intended, "intended");
      close(crowd.nothing, expected.nothing, "nothing");
      close(crowd.other, expected.other, "other");
      if (plate.drawn.size() == 2) {
        close(crowd.second, expected.second, "second");
        close(crowd.first_clearer, expected.first_clearer, "clearer");
      }
    }
  }
}

// Whole numbers: bit for bit, whatever the number of threads and the width of the units.
TEST(Crowd, IsTheSameForAnyNumberOfThreadsAndAnyWidth) {
  constexpr std::uint32_t n = 10'007;
  const Crowd crowd(readers(), *observer_from("deutan:5"), srgb());
  const auto one = crowd.counts(n, seed, 1);
  const auto same = [&](const std::vector<CrowdCounts>& other, const char* what) {
    ASSERT_EQ(other.size(), one.size());
    for (std::size_t p = 0; p < one.size(); ++p) {
      EXPECT_EQ(one[p].answers, other[p].answers) << what;
      EXPECT_EQ(one[p].first_clearer, other[p].first_clearer) << what;
    }
  };
  same(crowd.counts(n, seed, 2), "two threads");
  same(crowd.counts(n, seed, 3), "three threads");
  for (const Width width : widths_here()) same(crowd.counts(n, seed, 2, width), "width");
  const auto different = crowd.counts(n, seed + 1, 2);
  EXPECT_NE(different[0].answers, one[0].answers);
}

// The single readings add up to the counts, and more observers begin with the fewer.
TEST(Crowd, ReadingsAddUpToCounts) {
  constexpr std::uint32_t n = 1000;
  const Crowd crowd(readers(), *observer_from("protan:0"), srgb());
  const auto counts = crowd.counts(n, seed);
  const CrowdReadings readings = crowd.readings(n, seed), more = crowd.readings(n + 77, seed);
  for (std::size_t p = 0; p < counts.size(); ++p)
    for (std::size_t s = 0; s < counts[p].slots; ++s) {
      const std::size_t slot = readings.first_slot[p] + s;
      for (std::uint8_t k = 0; k <= counts[p].symbols; ++k) {
        std::uint64_t sum = 0;
        for (std::size_t i = 0; i < n; ++i) sum += readings.of(slot, i) == k;
        EXPECT_EQ(counts[p].reads(s, k), sum);
      }
      for (std::size_t i = 0; i < n; ++i) EXPECT_EQ(readings.of(slot, i), more.of(slot, i));
    }
}

// Ages can be fixed: the twin goes by individual() with the same spread.
TEST(Crowd, TakesAnotherSpread) {
  constexpr std::uint32_t n = 500;
  PopulationSpread old;
  old.youngest = old.oldest = 78;
  const Observer centre = *observer_from("deutan:10");
  const PlainCrowd twin(readers(), centre, srgb(), {}, old);
  const CrowdReadings fast = Crowd(readers(), centre, srgb(), {}, old).readings(n, seed),
                      usual = Crowd(readers(), centre, srgb()).readings(n, seed);
  std::size_t differ = 0;
  for (std::uint32_t i = 0; i < n; ++i) {
    const auto plain = twin.readings(i, seed);
    for (std::size_t s = 0; s < plain.size(); ++s) differ += plain[s] != fast.of(s, i);
  }
  EXPECT_LE(differ, 1U);
  EXPECT_NE(fast.answers, usual.answers);
}

}  // namespace
}  // namespace copunctal
