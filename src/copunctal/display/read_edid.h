// A display from its own data block (EDID).
#pragma once

#include <string>
#include <string_view>

#include "copunctal/base/result.h"
#include "copunctal/display/display.h"

namespace copunctal {

/// A display from the 128-byte base block of VESA E-EDID (release A, revision 1 to 4; layout from
/// memory): chromaticities in bytes 25 to 34, ten bits each in units of 1/1024, gamma in byte 23 as
/// (gamma - 1) x 100 (255: not told), checksum of all 128 bytes 0 modulo 256. Further blocks are
/// ignored. The maker and serial number in it are neither kept nor shown.
///
/// Spectra are assumed: those of `panel`. Errors (bad_input): wrong length, header or checksum, or
/// chromaticities that cannot be.
Result<Display> display_from_edid(std::string_view bytes, const std::string& name,
                                  std::string_view panel);

}  // namespace copunctal
