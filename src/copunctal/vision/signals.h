// From display colours to what an eye can tell apart: cone contrast, opponent signals, element
// noise.
#pragma once

#include <cstdint>
#include <span>
#include <vector>

#include "copunctal/colour/quantities.h"
#include "copunctal/display/display.h"
#include "copunctal/display/population_map.h"
#include "copunctal/observer/observer.h"
#include "copunctal/observer/population.h"
#include "copunctal/vision/model.h"

namespace copunctal {

/// Red-green, yellow-violet and luminance signal of one element, in units of its internal noise.
/// Positive: toward L, toward S, brighter.
struct OpponentSignal {
  double red_green = 0, yellow_violet = 0, luminance = 0;
};

/// An observer in front of a display: everything a plate needs to know about an eye.
struct Eye {
  LinearMap<LinearRgb, ConeExcitation> lms;  ///< White-normalised.
  ConeExcitation veil{0, 0, 0};              ///< Black level and ambient light, on the same scale.
  double l_weight = 0.69;                    ///< Share of L in luminance.
  bool has_red_green = true, has_yellow_violet = true;
  /// Amplification of the red-green signal after the cones, g, and what it makes of that
  /// mechanism's noise, sqrt(f_e g^2 + 1 - f_e). 1 in all but anomalous observers of a model with
  /// gain.
  double red_green_gain = 1, red_green_noise = 1;
  /// Sensitivity of each mechanism relative to the model's, a factor.
  OpponentSignal sensitivity{1, 1, 1};
};

/// The nominal eye of an observer: no individual differences beyond the observer's own numbers. A
/// dichromat's absent mechanism, and both chromatic ones of a monochromat, are switched off.
Eye nominal_eye(const Observer& observer, const Display& display,
                const DiscriminationModel& model = {});

/// Individuals around one observer in front of one display: bodies (observer/population.h),
/// luminance weights and sensitivities, by seed and number. Cone matrices come from
/// display/population_map.h (within 2e-4 of the exact integral); the veil is the centre's own.
class IndividualEyes {
 public:
  IndividualEyes(const Observer& centre, const Display& display,
                 const DiscriminationModel& model = {}, const PopulationSpread& spread = {});
  /// Individual number `index` of the seed; independent of order and threads.
  Eye operator()(std::uint64_t seed, std::uint32_t index) const;

 private:
  Observer centre_;
  DiscriminationModel model_;
  PopulationSpread spread_;
  Eye nominal_;
  PopulationMap map_;
};

/// The state of adaptation: cone excitations that count as neutral.
struct Adaptation {
  ConeExcitation cones{1, 1, 1};
};

/// Adaptation to a plate of mean excitation `mean`: half the plate's mean, half a grey of the
/// display's white of the same luminance (assumed).
Adaptation adapted_to(const Eye& eye, const ConeExcitation& mean);

/// What the cones get from a colour on the display, its veil included.
inline ConeExcitation excitation_of(const Eye& eye, const LinearRgb& colour) {
  return eye.lms(colour) + eye.veil;
}

/// Luminance of cone excitations: w L + (1 - w) M.
double luminance_of(const Eye& eye, const ConeExcitation& cones);

/// Signals of one colour, docs/science/discrimination.md equations 2 to 4. With c the excitation
/// over its adapted value and Y = w cL + (1 - w) cM:
///   q = g ln(cL / cM),                  red-green     = sgn(q) h ln(1 + |q| / h) / (K s_r n)
///   v = ln((cS / Y + s0) / (1 + s0)),   yellow-violet = sgn(v) h' ln(1 + |v| / h') / (K s_y)
///   luminance = ln(Y) / s_l
/// g and n are the eye's red_green_gain and red_green_noise, 1 unless the model has gain.
/// Ratios and logarithms make the chromatic signals exactly blind to a factor on all cones. An
/// absent mechanism gives 0.
OpponentSignal signal_of(const Eye& eye, const Adaptation& adaptation, const LinearRgb& colour,
                         const DiscriminationModel& model = {});

}  // namespace copunctal
