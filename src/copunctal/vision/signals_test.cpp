#include "copunctal/vision/signals.h"

#include <algorithm>
#include <cmath>
#include <iostream>
#include <numbers>
#include <vector>

#include <gtest/gtest.h>

#include "copunctal/base/random.h"

namespace copunctal {
namespace {

const Display& srgb() {
  static const Display display = *display_from("srgb");
  return display;
}

Eye eye_of(std::string_view name) {
  return nominal_eye(*observer_from(name), srgb());
}

LinearRgb random_colour(RandomStream& random) {
  const double r = random.uniform(0.05, 0.9), g = random.uniform(0.05, 0.9),
               b = random.uniform(0.05, 0.9);
  return {r, g, b};
}

const ConeExcitation mid_grey{0.22, 0.22, 0.22};

// MacAdam (1942), 25 ellipses of observer PGN, smoothed ("calculated") columns: their contours are
// one standard deviation from the centre, so the model without the mosaic factor should put them
// at 1.
TEST(Signals, PutMacAdamsEllipsesAtOneStandardDeviation) {
  DiscriminationModel model;
  model.mosaic_factor = 1;
  const Eye eye = eye_of("normal");
  const auto rgb_from_xyz = inverse(xyz_from_linear_rgb(srgb()));
  const Adaptation white;
  const auto signal_at = [&](Chromaticity c) {
    return signal_of(eye, white, rgb_from_xyz(xyz_of(c)), model);
  };
  const Table& ellipses = table("macadam1942_ellipses");
  double sum = 0;
  int count = 0;
  std::vector<double> turned;
  for (std::size_t e = 0; e < ellipses.rows(); ++e) {
    const Chromaticity centre{ellipses.column("x0")[e], ellipses.column("y0")[e]};
    const double a = ellipses.column("a_calc")[e] / 1000, b = ellipses.column("b_calc")[e] / 1000;
    const double theta = ellipses.column("theta_calc")[e] * std::numbers::pi / 180;
    const OpponentSignal at_centre = signal_at(centre);
    // The metric at the centre: d^2 = g11 dx^2 + 2 g12 dx dy + g22 dy^2, by central differences.
    const auto slope = [&](double dx, double dy) {
      const OpponentSignal p = signal_at({centre.x + dx, centre.y + dy}),
                           q = signal_at({centre.x - dx, centre.y - dy});
      return std::pair((p.red_green - q.red_green) / 2e-5,
                       (p.yellow_violet - q.yellow_violet) / 2e-5);
    };
    const auto [rx, vx] = slope(1e-5, 0);
    const auto [ry, vy] = slope(0, 1e-5);
    const double g11 = rx * rx + vx * vx, g12 = rx * ry + vx * vy, g22 = ry * ry + vy * vy;
    double major = 0.5 * std::atan2(2 * g12, g11 - g22) + std::numbers::pi / 2;
    double difference = std::abs(std::remainder(major - theta, std::numbers::pi));
    turned.push_back(difference * 180 / std::numbers::pi);
    for (int k = 0; k < 36; ++k) {
      const double t = k * std::numbers::pi / 18;
      const double u = a * std::cos(t), v = b * std::sin(t);
      const OpponentSignal at = signal_at({centre.x + u * std::cos(theta) - v * std::sin(theta),
                                           centre.y + u * std::sin(theta) + v * std::cos(theta)});
      const double distance = std::hypot(at.red_green - at_centre.red_green,
                                         at.yellow_violet - at_centre.yellow_violet);
      sum += std::pow(std::log(distance), 2);
      ++count;
    }
  }
  const double rms = std::sqrt(sum / count);
  std::nth_element(turned.begin(), turned.begin() + 12, turned.end());
  std::cout << "MacAdam 1942: rms ln distance " << rms << ", median orientation error "
            << turned[12] << " degrees\n";
  EXPECT_LE(rms, 0.23);
  EXPECT_LE(turned[12], 3.5);
}

// Law: a dichromat cannot be reached through the cone it lacks. A change along the confusion
// direction (the column of the missing cone in the inverse matrix) leaves every signal as it was.
TEST(Signals, AChangeOfTheMissingConeAloneIsInvisible) {
  const auto rgb_from_lms = inverse(eye_of("normal").lms);
  RandomStream random(11);
  for (int trial = 0; trial < 1000; ++trial) {
    const LinearRgb colour = random_colour(random);
    const double step = random.uniform(-0.02, 0.02);
    for (const auto& [name, cone] : {std::pair{"protan:0", ConeExcitation{1, 0, 0}},
                                     {"deutan:0", ConeExcitation{0, 1, 0}},
                                     {"tritan", ConeExcitation{0, 0, 1}}}) {
      const Eye eye = eye_of(name);
      const Adaptation adaptation = adapted_to(eye, mid_grey);
      const OpponentSignal before = signal_of(eye, adaptation, colour),
                           after = signal_of(eye, adaptation, colour + step * rgb_from_lms(cone));
      EXPECT_NEAR(before.red_green, after.red_green, 1e-9) << name;
      EXPECT_NEAR(before.yellow_violet, after.yellow_violet, 1e-8) << name;
      EXPECT_NEAR(before.luminance, after.luminance, 1e-10) << name;
    }
  }
}

// Law: the chromatic signals are ratios, so a factor on the light moves luminance alone.
TEST(Signals, LuminanceJitterLeavesTheChromaticSignalsAlone) {
  RandomStream random(12);
  for (const char* name : {"normal", "protan:5", "deutan:0", "tritan"}) {
    const Eye eye = eye_of(name);
    const Adaptation adaptation = adapted_to(eye, mid_grey);
    for (int trial = 0; trial < 200; ++trial) {
      const LinearRgb colour = random_colour(random);
      const double factor = random.uniform(0.7, 1.3);
      const OpponentSignal p = signal_of(eye, adaptation, colour),
                           q = signal_of(eye, adaptation, factor * colour);
      EXPECT_NEAR(p.red_green, q.red_green, 1e-10);
      EXPECT_NEAR(p.yellow_violet, q.yellow_violet, 1e-10);
      EXPECT_NEAR(q.luminance - p.luminance,
                  std::log(factor) / DiscriminationModel().luminance_noise, 1e-9);
    }
  }
}

// Red-green signals shrink steadily as the pigments approach each other.
TEST(Signals, RedGreenFadesWithTheSeparation) {
  const LinearRgb red{0.4, 0.15, 0.15}, green{0.15, 0.25, 0.15};
  for (const char* kind : {"protan", "deutan"}) {
    double last = 1e9;
    for (const int separation : {28, 20, 10, 5, 1, 0}) {
      const Eye eye = eye_of(std::string(kind) + ":" + std::to_string(separation));
      const Adaptation adaptation = adapted_to(eye, mid_grey);
      const double difference =
          signal_of(eye, adaptation, red).red_green - signal_of(eye, adaptation, green).red_green;
      EXPECT_LT(difference, last) << kind << separation;
      last = difference;
    }
    EXPECT_EQ(last, 0) << kind;
  }
}

// Gain after the cones, by hand: at half the separation g = 2 and the noise grows to sqrt(.25 x 4 +
// .75), so a small signal grows by 2 / sqrt(1.75). Nothing changes for a normal or a dichromat.
TEST(Signals, GainAmplifiesAnAnomalousRedGreenAndPartOfItsNoise) {
  DiscriminationModel full;
  full.post_receptoral_gain = 1;
  const LinearRgb grey{0.2, 0.2, 0.2}, tinted{0.2002, 0.1999, 0.2};
  const auto difference = [&](const char* name, const DiscriminationModel& model) {
    const Eye eye = nominal_eye(*observer_from(name), srgb(), model);
    const Adaptation adaptation = adapted_to(eye, eye.lms(grey));
    return signal_of(eye, adaptation, tinted, model).red_green;
  };
  for (const char* name : {"protan:14", "deutan:14"})
    EXPECT_NEAR(difference(name, full) / difference(name, {}), 2 / std::sqrt(1.75), 0.002) << name;
  for (const char* name : {"normal", "protan:0", "deutan:0", "tritan"})
    EXPECT_EQ(difference(name, full), difference(name, {})) << name;
  // More of it, more signal; never more than the normal's share allows, 1 / sqrt(f_e) times.
  double last = difference("deutan:2", {});
  for (const double gain : {0.25, 0.5, 1.0}) {
    DiscriminationModel model;
    model.post_receptoral_gain = gain;
    const double now = difference("deutan:2", model);
    EXPECT_GT(now, last);
    EXPECT_LT(now, 2 * difference("deutan:2", {}));
    last = now;
  }
}

TEST(Signals, MonochromatsHaveLuminanceOnly) {
  const Eye eye = eye_of("rod-monochromat");
  const OpponentSignal signal = signal_of(eye, adapted_to(eye, mid_grey), {0.5, 0.1, 0.1});
  EXPECT_EQ(signal.red_green, 0);
  EXPECT_EQ(signal.yellow_violet, 0);
  EXPECT_NE(signal.luminance, 0);
}

TEST(Signals, IndividualsSpreadAsStated) {
  double sum = 0, squares = 0;
  constexpr int n = 1000;
  const IndividualEyes eyes(Observer{}, srgb());
  for (std::uint32_t i = 0; i < n; ++i) {
    const double s = std::log10(eyes(5, i).sensitivity.red_green);
    sum += s;
    squares += s * s;
  }
  EXPECT_NEAR(sum / n, 0, 4 * 0.12 / std::sqrt(n));
  EXPECT_NEAR(std::sqrt(squares / n), 0.12, 4 * 0.12 / std::sqrt(2.0 * n));
}

}  // namespace
}  // namespace copunctal
