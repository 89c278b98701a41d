#include "copunctal/judge/judge.h"

#include <cmath>
#include <functional>
#include <iostream>
#include <numbers>

#include <gtest/gtest.h>

#include "copunctal/base/expects.h"
#include "copunctal/base/random.h"
#include "copunctal/data/table.h"

namespace copunctal {
namespace {

const JudgeLight& srgb() {
  static const JudgeLight light(*standard_screen("srgb"));
  return light;
}

// Cones of a CIE 1931 chromaticity of luminance 1, relative to those of D65.
JudgeCones cones_at(double x, double y) {
  const auto lms = [](JudgeXy c) {
    const auto [jx, jy] = judd_vos_xy(c);
    JudgeCones cones{};
    for (std::size_t i = 0; i < 3; ++i) {
      const auto& row = lms_from_judd_vos()[i];
      cones[i] = (row[0] * jx + row[1] * jy + row[2] * (1 - jx - jy)) / jy;
    }
    return cones;
  };
  const JudgeCones cones = lms({x, y}), white = lms({0.3127, 0.3290});
  return {cones[0] / white[0], cones[1] / white[1], cones[2] / white[2]};
}

using Distance = std::function<double(JudgeXy, JudgeXy)>;

// Root mean square of ln(distance from the centre) over 36 points on each of MacAdam's ellipses.
double macadam_rms(const std::string& columns, const Distance& distance) {
  const Table& ellipses = table("macadam1942_ellipses");
  double sum = 0;
  int count = 0;
  for (std::size_t e = 0; e < ellipses.rows(); ++e) {
    const double x = ellipses.column("x0")[e], y = ellipses.column("y0")[e],
                 a = ellipses.column("a_" + columns)[e] / 1000,
                 b = ellipses.column("b_" + columns)[e] / 1000,
                 theta = ellipses.column("theta_" + columns)[e] * std::numbers::pi / 180;
    for (int k = 0; k < 36; ++k) {
      const double t = k * std::numbers::pi / 18, u = a * std::cos(t), v = b * std::sin(t);
      const double d = distance({x, y}, {x + u * std::cos(theta) - v * std::sin(theta),
                                         y + u * std::sin(theta) + v * std::cos(theta)});
      sum += std::pow(std::log(d), 2);
      ++count;
    }
  }
  return std::sqrt(sum / count);
}

Distance judged(const JudgeConstants& constants) {
  const JudgeCones white = srgb().white();
  return [constants, white](JudgeXy p, JudgeXy q) {
    const JudgeSignal a = judge_signal(JudgeEye::normal, cones_at(p[0], p[1]), white, constants),
                      b = judge_signal(JudgeEye::normal, cones_at(q[0], q[1]), white, constants);
    return std::hypot(a.red_green - b.red_green, a.yellow_violet - b.yellow_violet);
  };
}

// MacAdam 1942: contours lie one standard deviation of a match from their centres.
TEST(JudgeNoise, PutsMacAdamsEllipsesAtOneStandardDeviation) {
  const double observed = macadam_rms("obs", judged({})),
               smoothed = macadam_rms("calc", judged({}));
  // A control: the plain u'v' distance, scaled as well as it can be.
  const double uniform = macadam_rms("obs", [](JudgeXy p, JudgeXy q) {
    const auto uv = [](JudgeXy c) {
      const double s = -2 * c[0] + 12 * c[1] + 3;
      return JudgeXy{4 * c[0] / s, 9 * c[1] / s};
    };
    const JudgeXy a = uv(p), b = uv(q);
    return std::hypot(a[0] - b[0], a[1] - b[1]) / 0.00143;
  });
  std::cout << "MacAdam 1942: rms ln distance " << observed << " (observed columns, fitted), "
            << smoothed << " (smoothed columns); u'v' alone " << uniform << "\n";
  EXPECT_LE(observed, 0.20);
  EXPECT_LE(smoothed, 0.22);
  EXPECT_GT(uniform, 0.30);
}

// The constants are those of the fit: no neighbour within 2 % of any, alone or together, is better.
TEST(JudgeNoise, ItsConstantsAreTheLeastSquaresOnes) {
  const double at_fit = macadam_rms("obs", judged({}));
  int tried = 0;
  for (int code = 0; code < 81; ++code) {
    JudgeConstants moved;
    int rest = code;
    for (double* constant : {&moved.red_green_noise, &moved.red_green_pedestal,
                             &moved.yellow_violet_noise, &moved.yellow_violet_offset}) {
      *constant *= 1 + 0.02 * (rest % 3 - 1);
      rest /= 3;
    }
    if (code == 40) continue;  // not moved
    EXPECT_GT(macadam_rms("obs", judged(moved)), at_fit) << code;
    ++tried;
  }
  EXPECT_EQ(tried, 80);
}

// Upper points of chi-square, as in any printed table: .99 at 2 and 3 degrees of freedom.
TEST(JudgeReading, ItsCriterionIsThatOfPrintedTables) {
  EXPECT_NEAR(std::pow(blank_criterion(2, 0.01), 2), 9.210, 0.0005);
  EXPECT_NEAR(std::pow(blank_criterion(3, 0.01), 2), 11.345, 0.0005);
  EXPECT_NEAR(std::pow(blank_criterion(3, 0.05), 2), 7.815, 0.0005);
}

JudgeCode random_code(RandomStream& random) {
  JudgeCode code{};
  for (auto& channel : code) channel = static_cast<std::uint8_t>(40 + random.below(170));
  return code;
}

JudgePart random_part(RandomStream& random, std::size_t levels) {
  JudgePart part;
  for (std::size_t i = 0; i < levels; ++i) {
    part.codes.push_back(random_code(random));
    part.counts.push_back(5 + random.below(30));
  }
  return part;
}

TEST(JudgeReading, EqualCodesAreInvisibleToEverybody) {
  RandomStream random(31);
  for (int trial = 0; trial < 200; ++trial) {
    JudgePart ground = random_part(random, 1 + random.below(8)), figure = ground;
    for (auto& count : figure.counts) count *= 3;
    for (const JudgeEye eye : judge_eyes) {
      const JudgeFinding finding = judge_figure(ground, figure, srgb(), eye);
      EXPECT_NEAR(finding.together, 0, 1e-9);
      EXPECT_EQ(finding.verdict, JudgeVerdict::invisible);
    }
  }
}

TEST(JudgeReading, ExchangingGroundAndFigureChangesNothing) {
  RandomStream random(32);
  for (int trial = 0; trial < 200; ++trial) {
    const JudgePart a = random_part(random, 8), b = random_part(random, 5);
    for (const JudgeEye eye : judge_eyes) {
      const JudgeFinding one = judge_figure(a, b, srgb(), eye),
                         other = judge_figure(b, a, srgb(), eye);
      EXPECT_NEAR(one.together, other.together, 1e-12 * (1 + one.together));
      EXPECT_EQ(one.verdict, other.verdict);
    }
  }
}

// Law of dichromacy: what only the missing cone tells is not there. Exact in the cones.
TEST(JudgeReading, AChangeOfTheMissingConeAloneChangesNothing) {
  RandomStream random(33);
  const JudgeCones white = srgb().white();
  for (int trial = 0; trial < 1000; ++trial) {
    const JudgeCones before{random.uniform(0.05, 1), random.uniform(0.05, 1),
                            random.uniform(0.05, 1)};
    for (const auto& [eye, cone] : {std::pair{JudgeEye::protanope, std::size_t{0}},
                                    {JudgeEye::deuteranope, std::size_t{1}},
                                    {JudgeEye::tritanope, std::size_t{2}}}) {
      JudgeCones after = before;
      after[cone] *= random.uniform(0.5, 2);
      const JudgeSignal p = judge_signal(eye, before, white), q = judge_signal(eye, after, white);
      EXPECT_EQ(p.red_green, q.red_green);
      EXPECT_EQ(p.yellow_violet, q.yellow_violet);
      EXPECT_EQ(p.luminance, q.luminance);
      // The normal eye gets it.
      const JudgeSignal n = judge_signal(JudgeEye::normal, before, white),
                        m = judge_signal(JudgeEye::normal, after, white);
      EXPECT_NE(std::hypot(n.red_green - m.red_green, n.yellow_violet - m.yellow_violet), 0);
    }
  }
}

// Law: ratios do not see a factor on the light.
TEST(JudgeReading, AFactorOnTheLightMovesLuminanceAlone) {
  RandomStream random(34);
  const JudgeCones white = srgb().white();
  for (int trial = 0; trial < 300; ++trial) {
    const JudgeCones dim{random.uniform(0.05, 1), random.uniform(0.05, 1), random.uniform(0.05, 1)};
    const double factor = random.uniform(1.1, 2);
    const JudgeCones bright{factor * dim[0], factor * dim[1], factor * dim[2]};
    for (const JudgeEye eye : judge_eyes) {
      const JudgeSignal p = judge_signal(eye, dim, white), q = judge_signal(eye, bright, white);
      EXPECT_NEAR(p.red_green, q.red_green, 1e-9);
      EXPECT_NEAR(p.yellow_violet, q.yellow_violet, 1e-9);
      EXPECT_NEAR(q.luminance - p.luminance, std::log(factor), 1e-12);
    }
  }
}

// One channel rises code by code: every mechanism moves one way, so d' never falls.
TEST(JudgeReading, MoreContrastNeverLowersWhatIsSeen) {
  RandomStream random(35);
  for (int trial = 0; trial < 100; ++trial) {
    const JudgePart ground{{random_code(random)}, {700}};
    for (std::size_t channel = 0; channel < 3; ++channel)
      for (const JudgeEye eye : judge_eyes) {
        double last[4] = {0, 0, 0, 0};
        for (JudgePart figure{ground.codes, {200}}; figure.codes[0][channel] < 255;) {
          ++figure.codes[0][channel];
          const JudgeFinding f = judge_figure(ground, figure, srgb(), eye);
          const double now[4] = {f.red_green, f.yellow_violet, f.luminance, f.together};
          for (std::size_t i = 0; i < 4; ++i) {
            EXPECT_GE(now[i], last[i] - 1e-9 * last[i]);
            last[i] = now[i];
          }
        }
        EXPECT_GT(last[3], 0);
      }
  }
}

// Scatter within the parts: the same difference of means is seen less the more of it there is, and
// four times the pebbles double d'.
TEST(JudgeReading, ScatterHidesAndNumberHelps) {
  double last = 1e9;
  for (const int spread : {0, 10, 20, 40}) {
    JudgePart ground, figure;
    for (const int sign : {-1, 0, 1}) {
      const auto grey = static_cast<std::uint8_t>(120 + sign * spread);
      ground.codes.push_back({grey, grey, grey});
      figure.codes.push_back({static_cast<std::uint8_t>(grey + 4),
                              static_cast<std::uint8_t>(grey + 4),
                              static_cast<std::uint8_t>(grey + 4)});
      ground.counts.push_back(100);
      figure.counts.push_back(30);
    }
    const JudgeFinding f = judge_figure(ground, figure, srgb(), JudgeEye::normal);
    EXPECT_LT(f.luminance, last);
    last = f.luminance;
    for (auto* part : {&ground, &figure})
      for (auto& count : part->counts) count *= 4;
    EXPECT_NEAR(judge_figure(ground, figure, srgb(), JudgeEye::normal).together, 2 * f.together,
                1e-9 * f.together);
  }
}

// Blank plates, pebble by pebble: codes drawn from one part, seen with each pebble's own noise. The
// criterion must be exceeded at its rate by eyes of two and of three mechanisms.
TEST(JudgeReading, ABlankPlateExceedsTheCriterionAtItsRate) {
  const JudgeConstants c;
  RandomStream random(36);
  // Eight luminances of one colour, rounded, as plates have them.
  JudgePart part;
  for (int level = 0; level < 8; ++level) {
    const double factor = std::exp((level - 3.5) / 3.5 * 0.15);
    JudgeCode code{};
    const double colour[3] = {150, 118, 84};
    for (std::size_t k = 0; k < 3; ++k)
      code[k] = static_cast<std::uint8_t>(std::lround(colour[k] * factor));
    part.codes.push_back(code);
    part.counts.push_back(1);
  }
  const double element = c.match_to_look * c.small_element;
  for (const JudgeEye eye : {JudgeEye::normal, JudgeEye::protanope, JudgeEye::tritanope}) {
    std::vector<std::array<double, 3>> signals;
    std::array<double, 3> mean{}, variance{};
    for (const JudgeCode& code : part.codes) {
      const JudgeSignal s = judge_signal(eye, srgb().cones(code), srgb().white(), c);
      signals.push_back({s.red_green, s.yellow_violet, s.luminance});
    }
    const std::array<double, 3> noise{element, element, c.luminance_noise};
    for (std::size_t m = 0; m < 3; ++m) {
      for (const auto& s : signals) mean[m] += s[m] / 8;
      for (const auto& s : signals) variance[m] += std::pow(s[m] - mean[m], 2) / 8;
      variance[m] += noise[m] * noise[m];
    }
    constexpr int plates = 6000, in_figure = 60, in_ground = 200;
    int exceeded = 0;
    for (int plate = 0; plate < plates; ++plate) {
      std::array<double, 3> figure{}, ground{};
      for (int i = 0; i < in_figure + in_ground; ++i) {
        const auto& s = signals[random.below(8)];
        auto& side = i < in_figure ? figure : ground;
        for (std::size_t m = 0; m < 3; ++m)
          side[m] += (s[m] + noise[m] * random.normal()) / (i < in_figure ? in_figure : in_ground);
      }
      double total = 0;
      for (std::size_t m = 0; m < 3; ++m) {
        if (m == 0 && eye == JudgeEye::protanope) continue;
        if (m == 1 && eye == JudgeEye::tritanope) continue;
        total += std::pow(figure[m] - ground[m], 2) /
                 (variance[m] / in_figure + variance[m] / in_ground);
      }
      if (std::sqrt(total) > blank_criterion(mechanisms_of(eye), c.blank_rate)) ++exceeded;
    }
    const double rate = static_cast<double>(exceeded) / plates;
    std::cout << observer_name_of(eye) << ": blank plates over the criterion " << rate << "\n";
    EXPECT_NEAR(rate, c.blank_rate, 4 * std::sqrt(c.blank_rate / plates));
  }
}

// Whoever lost nothing sees a strong plate; who lost L misses a change of L, and sees one of M.
TEST(JudgeReading, FiguresInOneConeAreLostOnThoseWithoutIt) {
  // Ground of mid grey; figures that differ from it in one cone alone, by trial and rounding: found
  // here by a search over codes near the ground, so that the test rests on no design.
  const JudgeCode grey{120, 120, 120};
  const JudgeCones at_grey = srgb().cones(grey);
  for (const auto& [cone, blind] : {std::pair{std::size_t{0}, JudgeEye::protanope},
                                    {std::size_t{1}, JudgeEye::deuteranope},
                                    {std::size_t{2}, JudgeEye::tritanope}}) {
    JudgeCode best{};
    double least = 1e9;
    // S differs by half of itself, L and M by an eighth: about as far as the screen can.
    const double wanted = cone == 2 ? 0.5 : 0.12;
    for (int r = 0; r < 256; ++r)
      for (int g = 60; g < 180; ++g)
        for (int b = 0; b < 256; b += 2) {
          const JudgeCode code{static_cast<std::uint8_t>(r), static_cast<std::uint8_t>(g),
                               static_cast<std::uint8_t>(b)};
          const JudgeCones cones = srgb().cones(code);
          double miss = 0;
          for (std::size_t k = 0; k < 3; ++k)
            miss += std::pow(std::log(cones[k] / at_grey[k]) - (k == cone ? wanted : 0.0), 2);
          if (miss < least) {
            least = miss;
            best = code;
          }
        }
    // Luminance scatter as plates have it, so that rounding does not give the figure away.
    JudgePart ground, figure;
    for (const double factor : {0.8, 0.9, 1.0, 1.1, 1.2}) {
      const auto scaled = [&](const JudgeCode& code) {
        JudgeCode out{};
        for (std::size_t k = 0; k < 3; ++k)
          out[k] = static_cast<std::uint8_t>(std::lround(code[k] * factor));
        return out;
      };
      ground.codes.push_back(scaled(grey));
      figure.codes.push_back(scaled(best));
      ground.counts.push_back(150);
      figure.counts.push_back(40);
    }
    for (const JudgeEye eye :
         {JudgeEye::normal, JudgeEye::protanope, JudgeEye::deuteranope, JudgeEye::tritanope}) {
      const JudgeFinding finding = judge_figure(ground, figure, srgb(), eye);
      const bool sees = eye != blind;
      EXPECT_EQ(finding.verdict == JudgeVerdict::invisible, !sees)
          << "cone " << cone << " " << observer_name_of(eye) << " d' " << finding.together;
    }
  }
}

TEST(JudgeReading, EmptyPartsAreRefused) {
  const JudgePart one{{{100, 100, 100}}, {10}}, none{{}, {}}, uncounted{{{100, 100, 100}}, {0}};
  EXPECT_THROW(judge_figure(one, none, srgb(), JudgeEye::normal), ContractViolation);
  EXPECT_THROW(judge_figure(uncounted, one, srgb(), JudgeEye::normal), ContractViolation);
  const auto unknown = standard_screen("somewhere");
  ASSERT_FALSE(unknown.has_value());
  EXPECT_EQ(unknown.error().kind, Error::Kind::bad_input);
}

// Wider primaries spread the same codes further apart.
TEST(JudgeScreens, WiderPrimariesMakeTheSameCodesDifferMore) {
  const JudgePart ground{{{130, 120, 90}}, {700}}, figure{{{150, 112, 90}}, {200}};
  const JudgeLight wide(*standard_screen("display-p3"));
  EXPECT_GT(judge_figure(ground, figure, wide, JudgeEye::normal).red_green,
            judge_figure(ground, figure, srgb(), JudgeEye::normal).red_green);
  const JudgeCones white = srgb().cones({255, 255, 255});
  for (const double cone : white) EXPECT_NEAR(cone, 1, 1e-12);
  // A veil washes out.
  JudgeScreen veiled = *standard_screen("srgb");
  veiled.veil = 0.05;
  EXPECT_LT(judge_figure(ground, figure, JudgeLight(veiled), JudgeEye::normal).red_green,
            judge_figure(ground, figure, srgb(), JudgeEye::normal).red_green);
}

}  // namespace
}  // namespace copunctal
