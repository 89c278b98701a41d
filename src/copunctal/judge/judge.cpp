#include "copunctal/judge/judge.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "copunctal/base/expects.h"

namespace copunctal {
namespace {

// Below this share of the white a code is as good as black; keeps ratios and logarithms finite.
constexpr double least_excitation = 1e-6;

struct Moments {
  double n = 0;
  JudgeSignal mean, variance;
};

// Mean and variance of a part's signals over its pebbles.
Moments moments_of(const JudgePart& part, const JudgeLight& light, JudgeEye eye,
                   const JudgeConstants& constants) {
  expects(!part.codes.empty() && part.codes.size() == part.counts.size());
  std::vector<JudgeSignal> signals;
  Moments result;
  for (std::size_t i = 0; i < part.codes.size(); ++i) {
    signals.push_back(judge_signal(eye, light.cones(part.codes[i]), light.white(), constants));
    result.n += static_cast<double>(part.counts[i]);
  }
  expects(result.n > 0);
  for (const auto mechanism :
       {&JudgeSignal::red_green, &JudgeSignal::yellow_violet, &JudgeSignal::luminance}) {
    // From the first code's signal, so that parts of one colour have variance 0 and equal parts
    // equal means, exactly.
    const double origin = signals.front().*mechanism;
    double sum = 0, squares = 0;
    for (std::size_t i = 0; i < signals.size(); ++i) {
      const double d = signals[i].*mechanism - origin, count = static_cast<double>(part.counts[i]);
      sum += count * d;
      squares += count * d * d;
    }
    const double shift = sum / result.n;
    result.mean.*mechanism = origin + shift;
    result.variance.*mechanism = std::max(0.0, squares / result.n - shift * shift);
  }
  return result;
}

}  // namespace

std::string_view name_of(JudgeVerdict verdict) {
  switch (verdict) {
    case JudgeVerdict::invisible:
      return "invisible";
    case JudgeVerdict::marginal:
      return "marginal";
    case JudgeVerdict::visible:
      return "visible";
  }
  return {};
}

JudgeSignal judge_signal(JudgeEye eye, const JudgeCones& cones, const JudgeCones& white,
                         const JudgeConstants& constants) {
  auto [l, m, s] = cones_of(eye, cones, white);
  const double share = white[0];  // of L in the white's luminance
  l = std::max(l, least_excitation);
  m = std::max(m, least_excitation);
  s = std::max(s, least_excitation);
  const double luminance = share * l + (1 - share) * m;
  JudgeSignal signal;
  signal.luminance = std::log(luminance);
  if (eye != JudgeEye::protanope && eye != JudgeEye::deuteranope) {
    const double departure = share * l / luminance - share, h = constants.red_green_pedestal;
    signal.red_green = std::copysign(h * std::log1p(std::abs(departure) / h), departure) /
                       constants.red_green_noise;
  }
  if (eye != JudgeEye::tritanope)
    signal.yellow_violet =
        std::log(s / luminance + constants.yellow_violet_offset) / constants.yellow_violet_noise;
  return signal;
}

int mechanisms_of(JudgeEye eye) {
  const bool dichromat =
      eye == JudgeEye::protanope || eye == JudgeEye::deuteranope || eye == JudgeEye::tritanope;
  return dichromat ? 2 : 3;
}

double blank_criterion(int mechanisms, double rate) {
  expects((mechanisms == 2 || mechanisms == 3) && rate > 0 && rate < 1);
  // Tails of the chi distribution with two and three degrees of freedom.
  const auto tail = [&](double c) {
    const double two = std::exp(-c * c / 2);
    return mechanisms == 2
               ? two
               : std::erfc(c / std::numbers::sqrt2) + std::sqrt(2 / std::numbers::pi) * c * two;
  };
  double low = 0, high = 40;
  for (int step = 0; step < 100; ++step) {
    const double middle = (low + high) / 2;
    (tail(middle) > rate ? low : high) = middle;
  }
  return (low + high) / 2;
}

JudgeFinding judge_figure(const JudgePart& ground, const JudgePart& figure, const JudgeLight& light,
                          JudgeEye eye, const JudgeConstants& constants) {
  const Moments f = moments_of(figure, light, eye, constants),
                g = moments_of(ground, light, eye, constants);
  const auto d_prime = [&](double JudgeSignal::*mechanism, double noise) {
    const double internal = noise * noise,
                 error = std::sqrt((internal + f.variance.*mechanism) / f.n +
                                   (internal + g.variance.*mechanism) / g.n);
    return std::sqrt(constants.efficiency) * std::abs(f.mean.*mechanism - g.mean.*mechanism) /
           error;
  };
  const double element = constants.match_to_look * constants.small_element;
  JudgeFinding finding;
  finding.red_green = d_prime(&JudgeSignal::red_green, element);
  finding.yellow_violet = d_prime(&JudgeSignal::yellow_violet, element);
  finding.luminance = d_prime(&JudgeSignal::luminance, constants.luminance_noise);
  finding.together = std::hypot(finding.red_green, finding.yellow_violet, finding.luminance);
  finding.criterion = blank_criterion(mechanisms_of(eye), constants.blank_rate);
  if (finding.together >= finding.criterion + constants.marginal)
    finding.verdict = JudgeVerdict::visible;
  else if (finding.together > finding.criterion - constants.marginal)
    finding.verdict = JudgeVerdict::marginal;
  return finding;
}

std::vector<std::array<JudgeFinding, judge_eyes.size()>> judge_plate(
    const JudgePlate& plate, const JudgeScreen& screen, const JudgeConstants& constants) {
  const JudgeLight light(screen);
  std::vector<std::array<JudgeFinding, judge_eyes.size()>> findings(plate.figures.size());
  for (std::size_t f = 0; f < plate.figures.size(); ++f)
    for (std::size_t e = 0; e < judge_eyes.size(); ++e)
      findings[f][e] =
          judge_figure(plate.ground, plate.figures[f], light, judge_eyes[e], constants);
  return findings;
}

}  // namespace copunctal
