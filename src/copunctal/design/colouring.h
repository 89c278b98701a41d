// A plate's colours as the nominal normal observer sees them, and their way to the display.
#pragma once

#include <optional>
#include <vector>

#include "copunctal/colour/quantities.h"
#include "copunctal/colour/tone_curve.h"
#include "copunctal/plate/plate.h"
#include "copunctal/vision/signals.h"

namespace copunctal {

/// One colour in cone terms, all relative to the display's white: q = ln(L/M), v = ln(S/Y), ln Y.
struct ConeColour {
  double q = 0, v = 0, ln_y = 0;
};

constexpr ConeColour operator+(const ConeColour& a, const ConeColour& b) {
  return {a.q + b.q, a.v + b.v, a.ln_y + b.ln_y};
}

/// Ground, the difference of each figure from it, and the half-range of the luminance noise in ln
/// Y.
struct Recipe {
  ConeColour ground;
  std::vector<ConeColour> figures;
  double noise = 0.3;
  /// Half-range of noise in q, for plates whose ground is to hide a figure; 0 elsewhere.
  double q_noise = 0;
  bool superimposed = false;  ///< Two figures share a place: a fourth part has both differences.
};

/// The recipe with one figure's difference from the ground multiplied.
Recipe with_contrast(Recipe recipe, std::size_t figure, double factor);

/// A rung's colours from the balanced one's: contrasts of the figures times exp(balance / 2) and
/// exp(-balance / 2); so `balance` is ln of how much more contrast the first has.
Recipe rung_of(const Recipe& balanced, double balance);

/// Number of levels in every part of a plate: eight luminances, or four times four with q noise.
constexpr std::size_t levels_of(const Recipe& recipe) {
  return recipe.q_noise > 0 ? 16 : 8;
}

/// The display's drive for a cone colour seen by `nominal`. May lie outside [0, 1].
LinearRgb linear_rgb_of(const ConeColour& colour, const Eye& nominal,
                        const LinearMap<ConeExcitation, LinearRgb>& rgb_from_lms);

/// Colours of all parts and levels, part x levels_of() + level, before rounding.
std::vector<LinearRgb> colours_of(const Recipe& recipe, const Eye& nominal);

/// How far the colours leave the display's range: sum of all excesses, 0 inside.
double out_of_gamut(const std::vector<LinearRgb>& colours);

/// The codes shown: the nearest of 8 bits on the display's curves. Nothing when a colour lies
/// outside the range.
std::optional<std::vector<std::vector<Code>>> codes_of(const std::vector<LinearRgb>& colours,
                                                       std::size_t levels, const CodeLight& light);

}  // namespace copunctal
