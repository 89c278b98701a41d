// A picture in memory: rows of 8-bit red, green, blue codes, as a display is sent them.
#pragma once

#include <cstdint>
#include <vector>

namespace copunctal {

/// `rgb` holds height rows of width pixels of 3 codes (0..255), no padding: index
/// 3 * (y * width + x) + channel, y down from the top. Move-only: copy with clone().
struct Picture {
  int width = 0, height = 0;
  std::vector<std::uint8_t> rgb;

  Picture() = default;
  /// A black picture; width and height > 0.
  Picture(int w, int h)
      : width(w), height(h), rgb(3 * static_cast<std::size_t>(w) * static_cast<std::size_t>(h)) {}
  Picture(const Picture&) = delete;
  Picture& operator=(const Picture&) = delete;
  Picture(Picture&&) = default;
  Picture& operator=(Picture&&) = default;
  ~Picture() = default;

  Picture clone() const {
    Picture copy;
    copy.width = width;
    copy.height = height;
    copy.rgb = rgb;
    return copy;
  }
};

/// The same with 16-bit codes, 0..65535; as sent to a display of more than 8 bits. Move-only.
struct DeepPicture {
  int width = 0, height = 0;
  std::vector<std::uint16_t> rgb;

  DeepPicture(int w, int h)
      : width(w), height(h), rgb(3 * static_cast<std::size_t>(w) * static_cast<std::size_t>(h)) {}
  DeepPicture(const DeepPicture&) = delete;
  DeepPicture& operator=(const DeepPicture&) = delete;
  DeepPicture(DeepPicture&&) = default;
  DeepPicture& operator=(DeepPicture&&) = default;
  ~DeepPicture() = default;
};

}  // namespace copunctal
