// What a reader looks at: elements with a colour, from a plate's recipe or from pixels alone.
#pragma once

#include <cstdint>
#include <vector>

#include "copunctal/base/result.h"
#include "copunctal/image/picture.h"
#include "copunctal/plate/mosaic.h"
#include "copunctal/plate/plate.h"

namespace copunctal {

/// Elements grouped into colour classes; a plate has some twenty.
struct Elements {
  std::vector<std::vector<Point>> pixels;   ///< Per element: pixel centres in field units.
  std::vector<Point> centres;               ///< Per element, field units.
  std::vector<std::uint16_t> colour_class;  ///< Per element.
  std::vector<Code> class_codes;            ///< Per class: the codes shown.
};

/// Elements of a plate: class = part x levels + level.
Elements elements_of(const Plate& plate, const Mosaic& mosaic);

/// Elements found in a square picture, knowing nothing of its recipe: connected pixels of one code
/// are an element, what touches the picture's border or lies in its margin is not. Edge pixels,
/// mixed with the gap, are left out. Error: bad_input when fewer than 50 elements are found.
Result<Elements> elements_from(const Picture& picture);

}  // namespace copunctal
