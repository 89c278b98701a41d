// Everything an observer on a display comes to: cones, confusions, neutral points, a Rayleigh
// match.
#pragma once

#include <array>
#include <optional>
#include <string>
#include <vector>

#include "copunctal/display/confusion.h"
#include "copunctal/display/display.h"
#include "copunctal/display/tolerance.h"
#include "copunctal/observer/observer.h"
#include "copunctal/observer/rayleigh.h"

namespace copunctal {

/// One number per missing cone, in the order protan, deutan, tritan.
template <class T>
using PerKind = std::array<T, 3>;
inline constexpr PerKind<const char*> kind_words = {"protan", "deutan", "tritan"};
inline constexpr PerKind<MissingCone> kind_cones = {MissingCone::l, MissingCone::m, MissingCone::s};

/// An observer described on a display. Copunctal points and confusion lines are those of its normal
/// self's missing cones (same age, field, media), exact on this display.
struct ObserverDescription {
  Observer observer;
  Display display;
  Fundamentals fundamentals;
  std::array<std::optional<double>, 3> peak_nm;  ///< L, M, S; nothing for a cone without pigment.
  LinearMap<LinearRgb, ConeExcitation> lms;
  std::array<PerKind<std::optional<Place2>>, 3> copunctal;  ///< By diagram, then kind.
  PerKind<double> line_angle_deg_xy{};
  PerKind<Spread> line_angle_spread;
  std::optional<double> neutral_display_white, neutral_d65;  ///< nm; dichromats only.
  std::array<double, 3> luminance_weights{};  ///< Of R, G, B for this observer's luminance, sum 1.
  double l_weight = 0;                        ///< Share of L in the luminance of white.
  RayleighMatch rayleigh;
  DisplaySpread spread;
  std::vector<std::string> notes, sources;
};

ObserverDescription describe_observer(const Observer& observer, const Display& display);

/// As JSON; keys in docs/commands.md.
std::string description_json(const ObserverDescription& description);
/// As text for reading.
std::string description_text(const ObserverDescription& description);

/// What a Rayleigh match says, in words.
std::string words_of(const RayleighMatch& match);

}  // namespace copunctal
