// Figures of an observer and of a display, as SVG.
#pragma once

#include <string>

#include "copunctal/app/describe_display.h"
#include "copunctal/app/describe_observer.h"

namespace copunctal {

/// Cone curves beside the normal's, confusion lines in CIE 1931 xy, the Rayleigh match, and the
/// words that belong to them. With `individuals`, so many cone curves of individuals around it
/// (seed 1) instead of the normal's.
std::string plot_svg(const ObserverDescription& description, std::size_t individuals = 0);
/// Spectra, triangle and tone curves.
std::string plot_svg(const DisplayDescription& description);

}  // namespace copunctal
