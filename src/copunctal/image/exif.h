// The one thing of a camera's data block that changes a picture: which way up it is.
#pragma once

#include <string>
#include <string_view>

namespace copunctal {

/// Tag 0x0112 of the first directory of an Exif block ("Exif\0\0" and a TIFF header; CIPA DC-008),
/// 1 to 8; 1 for whatever else is there.
int exif_orientation(std::string_view block);
/// A block that says only this.
std::string exif_block(int orientation);

}  // namespace copunctal
