#include "copunctal/image/exif.h"

#include <cstddef>
#include <cstdint>

namespace copunctal {
namespace {

using namespace std::string_view_literals;
constexpr std::string_view head = "Exif\0\0"sv;
constexpr unsigned orientation_tag = 0x0112;

}  // namespace

int exif_orientation(std::string_view block) {
  if (!block.starts_with(head)) return 1;
  block.remove_prefix(head.size());
  const bool little = block.starts_with("II*\0"sv);
  if (!little && !block.starts_with("MM\0*"sv)) return 1;
  // Bytes outside the block read as 0.
  const auto number = [&](std::size_t at, std::size_t bytes) {
    std::uint64_t value = 0;
    for (std::size_t i = 0; i < bytes; ++i) {
      const std::size_t from = little ? at + bytes - 1 - i : at + i;
      value = value << 8 | (from < block.size() ? static_cast<unsigned char>(block[from]) : 0U);
    }
    return value;
  };
  const std::size_t directory = number(4, 4);
  if (directory > block.size()) return 1;
  const std::size_t entries = number(directory, 2);
  for (std::size_t e = 0; e < entries; ++e) {
    const std::size_t at = directory + 2 + 12 * e;
    if (at + 12 > block.size()) return 1;
    if (number(at, 2) != orientation_tag) continue;
    const std::uint64_t value = number(at + 8, 2);
    return value >= 1 && value <= 8 ? static_cast<int>(value) : 1;
  }
  return 1;
}

std::string exif_block(int orientation) {
  std::string block(head);
  block += "II*\0\x08\0\0\0\x01\0\x12\x01\x03\0\x01\0\0\0"sv;
  block += static_cast<char>(orientation);
  block += "\0\0\0\0\0\0\0"sv;
  return block;
}

}  // namespace copunctal
