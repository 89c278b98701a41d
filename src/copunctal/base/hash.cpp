#include "copunctal/base/hash.h"

#include <array>

#include <openssl/evp.h>

#include "copunctal/base/expects.h"

namespace copunctal {

std::string sha256_hex(std::span<const std::byte> bytes) {
  std::array<unsigned char, 32> digest{};
  unsigned int length = 0;
  const int ok =
      EVP_Digest(bytes.data(), bytes.size(), digest.data(), &length, EVP_sha256(), nullptr);
  expects(ok == 1 && length == digest.size());
  constexpr std::string_view digits = "0123456789abcdef";
  std::string text;
  for (const unsigned char byte : digest) {
    text += digits[byte >> 4];
    text += digits[byte & 15];
  }
  return text;
}

std::string sha256_hex(std::string_view text) {
  return sha256_hex(std::as_bytes(std::span(text)));
}

}  // namespace copunctal
