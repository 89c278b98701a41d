#include "copunctal/store/identifiers.h"

#include <sys/random.h>

#include <algorithm>
#include <array>
#include <cerrno>
#include <cstring>
#include <system_error>

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
