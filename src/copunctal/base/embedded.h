// A file that was taken into the program when it was built.
#pragma once

#include <cstddef>
#include <span>
#include <string_view>

namespace copunctal {

struct EmbeddedBytes {
  std::string_view path;  ///< Relative to the embedded directory: "xyz1931.csv".
  std::span<const std::byte> bytes;
};

/// The bytes as text.
inline std::string_view text_of(const EmbeddedBytes& file) {
  return {reinterpret_cast<const char*>(file.bytes.data()), file.bytes.size()};
}

}  // namespace copunctal
