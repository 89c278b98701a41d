// An address as a QR code (ISO/IEC 18004), for a camera to read.
#pragma once

#include <string>
#include <string_view>

#include "copunctal/base/result.h"

namespace copunctal {

/// Black on white with the margin of four modules that the standard asks for. `title` is what a
/// screen reader says. Error: bad_input for a text that no code can hold.
Result<std::string> qr_svg(std::string_view text, std::string_view title);

/// For a terminal: lines of blocks, two modules a character, black on white; with `is_plain`
/// without colours, light modules drawn and dark ones left out, which suits a dark ground.
Result<std::string> qr_lines(std::string_view text, bool is_plain);

}  // namespace copunctal
