#include "copunctal/server/join_code.h"

namespace copunctal {

std::string new_join_code(const RandomBytes& random) {
  return new_code(random, join_code_size);
}

std::optional<std::string> join_code_from(std::string_view typed) {
  return code_from(typed, join_code_size);
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
