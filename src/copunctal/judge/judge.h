// A second judge of plates: is a figure visible to an eye? With its own cones, noise and reading.
//
// A plate designed and predicted by one model agrees with that model. This judge shares only the
// codes shown with it: Smith & Pokorny's cones instead of CIE 2006, chromaticities instead of
// spectra, MacLeod & Boynton's coordinates with their own fit to MacAdam's ellipses, and signal
// detection on the difference of means instead of templates. Equations: docs/science/judge.md.
#pragma once

#include <string_view>
#include <vector>

#include "copunctal/judge/cones.h"
#include "copunctal/judge/constants.h"
#include "copunctal/judge/screen.h"

namespace copunctal {

/// Pebbles of one part of a plate: codes, and how many pebbles have each (same length, one or more
/// pebbles in all).
struct JudgePart {
  std::vector<JudgeCode> codes;
  std::vector<std::size_t> counts;
};

/// A plate: its ground and its figures.
struct JudgePlate {
  JudgePart ground;
  std::vector<JudgePart> figures;
};

/// What the mechanisms say of one colour: red-green and yellow-violet in standard deviations of a
/// match (MacAdam 1942), luminance as ln Y.
struct JudgeSignal {
  double red_green = 0, yellow_violet = 0, luminance = 0;
};

/// Signals of cones relative to the white's; `white` as JudgeLight::white(). A mechanism the eye
/// has not gives 0.
JudgeSignal judge_signal(JudgeEye eye, const JudgeCones& cones, const JudgeCones& white,
                         const JudgeConstants& constants = {});

/// "visible", "marginal" or "invisible".
enum class JudgeVerdict { invisible, marginal, visible };
std::string_view name_of(JudgeVerdict verdict);

/// How well a figure stands out of its ground for one eye.
struct JudgeFinding {
  double red_green = 0, yellow_violet = 0, luminance = 0;  ///< d' by mechanism.
  double together = 0;                                     ///< Root of the sum of their squares.
  double criterion = 0;                                    ///< What a blank plate seldom exceeds.
  JudgeVerdict verdict = JudgeVerdict::invisible;
};

/// Number of mechanisms an eye has: 3, or 2 of a dichromat.
int mechanisms_of(JudgeEye eye);

/// What the root of the sum of so many squared standard normal numbers (2 or 3) exceeds at this
/// rate.
double blank_criterion(int mechanisms, double rate);

/// Judges a figure on a ground. Preconditions: as JudgePart says.
JudgeFinding judge_figure(const JudgePart& ground, const JudgePart& figure, const JudgeLight& light,
                          JudgeEye eye, const JudgeConstants& constants = {});

/// Findings of a plate, figure by figure, each in the order of judge_eyes.
std::vector<std::array<JudgeFinding, judge_eyes.size()>> judge_plate(
    const JudgePlate& plate, const JudgeScreen& screen, const JudgeConstants& constants = {});

}  // namespace copunctal
