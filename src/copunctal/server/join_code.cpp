#include "copunctal/server/join_code.h"

#include <array>
#include <cstdint>

namespace copunctal {

std::string new_join_code(const RandomBytes& random) {
  constexpr std::size_t bits = 5;
  std::array<std::byte, join_code_size * bits / 8> bytes{};
  random(bytes);
  std::uint64_t number = 0;
  for (const std::byte byte : bytes) number = (number << 8) | std::to_integer<std::uint64_t>(byte);
  std::string code;
  for (std::size_t i = 0; i < join_code_size; ++i, number >>= bits)
    code += join_alphabet[number & (join_alphabet.size() - 1)];
  return code;
}

std::optional<std::string> join_code_from(std::string_view typed) {
  std::string code;
  for (char c : typed) {
    if (c == ' ' || c == '-') continue;
    if (c >= 'a' && c <= 'z') c = static_cast<char>(c - 'a' + 'A');
    if (c == 'O') c = '0';
    if (c == 'I' || c == 'L') c = '1';
    if (join_alphabet.find(c) == std::string_view::npos || code.size() == join_code_size)
      return std::nullopt;
    code += c;
  }
  if (code.size() != join_code_size) return std::nullopt;
  return code;
}

std::string shown_code(std::string_view code) {
  const std::size_t half = code.size() / 2;
  return std::string(code.substr(0, half)) + "-" + std::string(code.substr(half));
}

bool is_same_secret(std::string_view a, std::string_view b) {
  if (a.size() != b.size()) return false;
  // volatile: no compiler may leave the loop at the first difference.
  volatile unsigned char difference = 0;
  for (std::size_t i = 0; i < a.size(); ++i)
    difference = static_cast<unsigned char>(difference | (a[i] ^ b[i]));
  return difference == 0;
}

}  // namespace copunctal
