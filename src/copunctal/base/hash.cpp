#include "copunctal/base/hash.h"

#include <array>
#include <cstdint>

#include <nettle/sha2.h>

namespace copunctal {

std::string sha256_hex(std::span<const std::byte> bytes) {
  sha256_ctx state{};
  sha256_init(&state);
  sha256_update(&state, bytes.size(), reinterpret_cast<const std::uint8_t*>(bytes.data()));
  std::array<std::uint8_t, SHA256_DIGEST_SIZE> digest{};
  sha256_digest(&state, digest.size(), digest.data());
  constexpr std::string_view digits = "0123456789abcdef";
  std::string text;
  for (const std::uint8_t byte : digest) {
    text += digits[byte >> 4];
    text += digits[byte & 15];
  }
  return text;
}

std::string sha256_hex(std::string_view text) {
  return sha256_hex(std::as_bytes(std::span(text)));
}

}  // namespace copunctal
