#include "copunctal/store/identifiers.h"

#include <sys/random.h>

#include <algorithm>
#include <array>
#include <cerrno>
#include <cstring>
#include <system_error>
#include <vector>

namespace copunctal {
namespace {

constexpr std::string_view digits = "0123456789abcdef";
constexpr std::size_t id_bytes = 16;

void fill_from_kernel(std::span<std::byte> bytes) {
  while (!bytes.empty()) {
    const ssize_t got = getrandom(bytes.data(), bytes.size(), 0);
    if (got < 0 && errno == EINTR) continue;
    if (got <= 0) throw std::system_error(errno, std::generic_category(), "getrandom");
    bytes = bytes.subspan(static_cast<std::size_t>(got));
  }
}

}  // namespace

RandomBytes kernel_random() {
  return fill_from_kernel;
}

std::string new_id(const RandomBytes& random) {
  std::array<std::byte, id_bytes> bytes{};
  random(bytes);
  std::string id;
  id.reserve(2 * bytes.size());
  for (const std::byte byte : bytes) {
    id += digits[std::to_integer<std::size_t>(byte) >> 4];
    id += digits[std::to_integer<std::size_t>(byte) & 15];
  }
  return id;
}

std::string new_code(const RandomBytes& random, std::size_t size) {
  constexpr unsigned bits = 5, of_byte = 8;
  std::vector<std::byte> bytes((bits * size + of_byte - 1) / of_byte);
  random(bytes);
  std::string code;
  unsigned held = 0, count = 0;
  for (auto byte = bytes.rbegin(); code.size() < size;) {
    if (count < bits) {
      held |= std::to_integer<unsigned>(*byte++) << count;
      count += of_byte;
    }
    code += code_alphabet[held & (code_alphabet.size() - 1)];
    held >>= bits;
    count -= bits;
  }
  return code;
}

std::optional<std::string> code_from(std::string_view typed, std::size_t size) {
  std::string code;
  for (char c : typed) {
    if (c == ' ' || c == '-') continue;
    if (c >= 'a' && c <= 'z') c = static_cast<char>(c - 'a' + 'A');
    if (c == 'O') c = '0';
    if (c == 'I' || c == 'L') c = '1';
    if (code_alphabet.find(c) == std::string_view::npos || code.size() == size) return std::nullopt;
    code += c;
  }
  if (code.size() != size) return std::nullopt;
  return code;
}

std::uint64_t new_seed(const RandomBytes& random) {
  std::array<std::byte, sizeof(std::uint64_t)> bytes{};
  random(bytes);
  std::uint64_t seed = 0;
  std::memcpy(&seed, bytes.data(), sizeof seed);
  return seed;
}

bool is_id(std::string_view text) {
  return text.size() == 2 * id_bytes && std::all_of(text.begin(), text.end(), [](char c) {
           return digits.find(c) != std::string_view::npos;
         });
}

}  // namespace copunctal
