// A modelled eye: its kind, its media and pigments, and the cone fundamentals that follow.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "copunctal/base/result.h"
#include "copunctal/base/units.h"
#include "copunctal/spectrum/spectrum.h"

namespace copunctal {

enum class ObserverKind { normal, protan, deutan, tritan, s_cone_monochromat, rod_monochromat };

/// "normal", "protan", ... as on the command line.
std::string_view name_of(ObserverKind kind);

/// An observer in numbers. The defaults are the CIE 170-1:2006 standard observer, 32 years, 2
/// degrees.
struct Observer {
  ObserverKind kind = ObserverKind::normal;
  /// Protan and deutan only: 28 = normal, 0 = dichromat.
  Separation separation{28};
  Years age{32};
  Degrees field{2};
  /// Peak optical densities; when absent, by the field-size formulae.
  std::optional<Density> density_l, density_m, density_s;
  /// Factor on the S optical density; tritan 0 unless said (illustrative between 0 and 1).
  double s_density_factor = 1;
  /// Individual differences: factors on lens and macular density, shifts of the three pigments.
  double lens_factor = 1, macula_factor = 1;
  Nanometres shift_l, shift_m, shift_s;
  /// Up to 3 mm the standard's small pupil; from 7 mm x .86207 on the lens (CIE 170-1:2006).
  Millimetres pupil{3};
  /// Pigments, lens and macula by the Stockman & Rider 2023 formulae instead of the tables.
  bool by_formulae = false;
};

/// Lens and macular density together, log10, as this observer has them.
DensitySpectrum media_density(const Observer& observer);

/// Cone fundamentals: energy sensitivity at the cornea, each peak 1 on the 1 nm grid (CIE
/// 170-1:2006). For a protan dichromat column l holds what its L cones hold, the M pigment; for a
/// deutan dichromat column m the L pigment. A tritan without S pigment has an s column of zeros. A
/// rod monochromat has V' (CIE 1951) in all three columns, an S-cone monochromat S in all three.
struct Fundamentals {
  EnergySensitivity l, m, s;
};

Fundamentals fundamentals_of(const Observer& observer);

/// Reads `kind[:separation_nm][,key=value]...`: "protan:6,age=45", "tritan". No number after
/// protan/deutan is 0. Keys: age, field, pupil, s-density (factor), density-l, -m, -s (peak optical
/// densities), lens, macula (factors), shift-l, -m, -s (nm), templates (tables or formulae), codons
/// (protan, deutan: "180+230", in place of a separation). Errors (usage) name the part that is
/// wrong; their remedy says what is right.
Result<Observer> observer_from(std::string_view text);

/// The name observer_from() reads back: "normal", "protan:5", "tritan"; other parameters where they
/// differ from standard.
std::string name_of(const Observer& observer);

/// What was clamped or is only illustrative, one sentence each; empty for a standard observer.
std::vector<std::string> notes_on(const Observer& observer);

}  // namespace copunctal
