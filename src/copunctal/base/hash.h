// SHA-256 as lower-case hexadecimal text, for identity of files and sets (never for secrets).
#pragma once

#include <cstddef>
#include <span>
#include <string>
#include <string_view>

namespace copunctal {

/// SHA-256 (FIPS 180-4) of the bytes: 64 lower-case hexadecimal digits.
std::string sha256_hex(std::span<const std::byte> bytes);
std::string sha256_hex(std::string_view text);

}  // namespace copunctal
