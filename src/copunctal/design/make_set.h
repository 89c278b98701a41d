// Designs a whole set for a display.
#pragma once

#include <cstdint>
#include <functional>
#include <string>
#include <string_view>
#include <vector>

#include "copunctal/base/result.h"
#include "copunctal/design/plate_set.h"
#include "copunctal/display/display.h"

namespace copunctal {

/// Called when work begins, with done 0, and as plates are finished: how many of how many.
using Progress = std::function<void(std::size_t done, std::size_t of)>;

/// The default set of 18: an opener, ten vanishing plates (six aimed at dichromats, two at 5 nm,
/// two at 10 nm) with a second opener in the middle, four fork plates and two tritan plates.
/// Designed on a sample of observers drawn with the seed; the same (seed, display, version) gives
/// the same set on a machine type, for any number of threads. A set of paths has rings on its fork
/// plates. Errors: usage for an unknown purpose, unsupported with the plate's name where the
/// display cannot show a design.
Result<PlateSet> make_set(std::string_view purpose, const Display& display, std::uint64_t seed,
                          const Progress& progress = {}, unsigned threads = 0,
                          SymbolFamily family = SymbolFamily::digits);

/// Two-word names, all different, drawn by seed.
std::vector<std::string> plate_names(std::uint64_t seed, std::size_t count);

}  // namespace copunctal
