#include "copunctal/vision/signals.h"

#include <algorithm>
#include <cmath>

#include "copunctal/base/random.h"
#include "copunctal/observer/pigment.h"

namespace copunctal {
namespace {

// Below this share of white a cone is taken as dark: keeps logarithms finite.
constexpr double darkest = 1e-6;

double compressed(double contrast, double pedestal) {
  const double size = pedestal * std::log1p(std::abs(contrast) / pedestal);
  return contrast < 0 ? -size : size;
}

}  // namespace

Eye nominal_eye(const Observer& observer, const Display& display,
                const DiscriminationModel& model) {
  Eye eye;
  const Fundamentals fundamentals = fundamentals_of(observer);
  eye.lms = lms_from_linear_rgb(fundamentals, display);
  eye.veil = veil_excitation(fundamentals, display);
  eye.l_weight = model.l_weight;
  if (const double rho = observer.separation.nm / normal_separation_nm;
      (observer.kind == ObserverKind::protan || observer.kind == ObserverKind::deutan) && rho > 0) {
    eye.red_green_gain = std::pow(rho, -model.post_receptoral_gain);
    eye.red_green_noise =
        std::sqrt(model.early_noise_share * eye.red_green_gain * eye.red_green_gain + 1 -
                  model.early_noise_share);
  }
  switch (observer.kind) {
    case ObserverKind::normal:
      break;
    case ObserverKind::protan:
    case ObserverKind::deutan:
      eye.has_red_green = observer.separation.nm > 0;
      break;
    case ObserverKind::tritan:
      eye.has_yellow_violet = observer.s_density_factor > 0;
      break;
    case ObserverKind::s_cone_monochromat:
    case ObserverKind::rod_monochromat:
      eye.has_red_green = eye.has_yellow_violet = false;
      break;
  }
  return eye;
}

IndividualEyes::IndividualEyes(const Observer& centre, const Display& display,
                               const DiscriminationModel& model, const PopulationSpread& spread)
    : centre_(centre),
      model_(model),
      spread_(spread),
      nominal_(nominal_eye(centre, display, model)),
      map_(centre, display) {}

Eye IndividualEyes::operator()(std::uint64_t seed, std::uint32_t index) const {
  Eye eye = nominal_;
  eye.lms = map_(individual(centre_, seed, index, spread_));
  RandomStream random(seed, 2, index);  // label 2: minds; label 1 is taken by bodies
  const double logit = std::log(model_.l_weight / (1 - model_.l_weight));
  eye.l_weight = 1 / (1 + std::exp(-(logit + model_.l_weight_sd * random.normal())));
  const auto factor = [&] { return std::pow(10, model_.sensitivity_sd * random.normal()); };
  const double red_green = factor(), yellow_violet = factor(), luminance = factor();
  eye.sensitivity = {red_green, yellow_violet, luminance};
  return eye;
}

double luminance_of(const Eye& eye, const ConeExcitation& cones) {
  return eye.l_weight * cones.l + (1 - eye.l_weight) * cones.m;
}

Adaptation adapted_to(const Eye& eye, const ConeExcitation& mean) {
  const double grey = luminance_of(eye, mean);
  return {0.5 * mean + 0.5 * ConeExcitation{grey, grey, grey}};
}

OpponentSignal signal_of(const Eye& eye, const Adaptation& adaptation, const LinearRgb& colour,
                         const DiscriminationModel& model) {
  const ConeExcitation cones = excitation_of(eye, colour);
  const auto contrast = [](double cone, double adapted) {
    return std::max(cone, darkest) / std::max(adapted, darkest);
  };
  const double l = contrast(cones.l, adaptation.cones.l), m = contrast(cones.m, adaptation.cones.m);
  const double y = eye.l_weight * l + (1 - eye.l_weight) * m;
  OpponentSignal signal;
  if (eye.has_red_green)
    signal.red_green = eye.sensitivity.red_green *
                       compressed(eye.red_green_gain * std::log(l / m), model.rg_pedestal) /
                       (model.mosaic_factor * model.rg_noise * eye.red_green_noise);
  if (eye.has_yellow_violet) {
    const double s = contrast(cones.s, adaptation.cones.s);
    const double v = std::log((s / y + model.s_offset) / (1 + model.s_offset));
    signal.yellow_violet = eye.sensitivity.yellow_violet * compressed(v, model.yv_pedestal) /
                           (model.mosaic_factor * model.yv_noise);
  }
  signal.luminance = eye.sensitivity.luminance * std::log(y) / model.luminance_noise;
  return signal;
}

}  // namespace copunctal
