// Draws a plate into 8-bit codes.
#pragma once

#include "copunctal/colour/tone_curve.h"
#include "copunctal/image/picture.h"
#include "copunctal/plate/field.h"
#include "copunctal/plate/mosaic.h"
#include "copunctal/plate/plate.h"

namespace copunctal {

/// The plate's picture, size_px x size_px, the codes exactly as `plate.codes` says inside the
/// cells; only the pixels a cell's edge runs through are mixed with the gap, in the light that
/// codes become on the display. Plates with a path also carry the marks of entrance and gates in
/// their margin, the same on all.
Picture draw(const Plate& plate, int size_px, const CodeLight& light = CodeLight::srgb());

/// The same in 16 bits: the plate's codes times 257 inside the cells, edges mixed in 16 bits.
DeepPicture draw_deep(const Plate& plate, int size_px, const CodeLight& light = CodeLight::srgb());

/// The code of each pebble of a plate's mosaic.
std::vector<Code> pebble_codes(const Plate& plate, const Mosaic& mosaic);
/// Whether a plate carries the marks of entrance and gates.
bool has_gates(const Plate& plate);

/// Pebbles painted one code each, on `gap`.
Picture paint(const std::vector<Pebble>& pebbles, const std::vector<Code>& codes, const Code& gap,
              int size_px, const CodeLight& light = CodeLight::srgb());

}  // namespace copunctal
