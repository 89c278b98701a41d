#include "copunctal/app/shown_set.h"

#include <algorithm>

#include "copunctal/display/keep_display.h"
#include "copunctal/image/picture.h"
#include "copunctal/plate/draw.h"

namespace copunctal {
namespace {

std::string colour_space_of_set(const PlateSet& set) {
  const auto display = display_of_set(set);
  return display ? std::string(colour_space_of(*display)) : "srgb";
}

PictureBytes bytes_of(Picture picture) {
  return std::make_shared<const std::vector<std::uint8_t>>(std::move(picture.rgb));
}

tl::unexpected<Error> differ(const PlateSet& set, const PlateSet& other, const std::string& what) {
  return fail(Error::Kind::bad_input,
              "the set for " + other.display + " is not the same as the one for " + set.display +
                  ": " + what + " differ",
              "set", other.display, "make both with the same purpose, symbols and seed");
}

}  // namespace

ShownSet::ShownSet(PlateSet set)
    : set_(std::move(set)),
      light_(light_of(set_)),
      colour_space_(colour_space_of_set(set_)),
      drawn_(set_.plates.size()),
      tables_(built_.get_future().share()) {}

PictureBytes ShownSet::picture(std::int64_t plate) const {
  const auto number = static_cast<std::size_t>(plate);
  Drawn& entry = drawn_[number];
  std::call_once(entry.once,
                 [&] { entry.bytes = bytes_of(draw(set_.plates[number], set_.size_px, light_)); });
  return entry.bytes;
}

PictureBytes ShownSet::picture_with(std::int64_t plate,
                                    std::vector<std::vector<Code>> codes) const {
  Plate other = set_.plates[static_cast<std::size_t>(plate)];
  other.codes = std::move(codes);
  return bytes_of(draw(other, set_.size_px, light_));
}

void ShownSet::build(const TablesBuilder& builder) {
  try {
    built_.set_value(builder(set_));
  } catch (...) {
    built_.set_exception(std::current_exception());
  }
}

Result<void> check_same_plates(const PlateSet& set, const PlateSet& other) {
  if (set.purpose != other.purpose) return differ(set, other, "their purposes");
  if (set.loan != other.loan) return differ(set, other, "their loans");
  if (set.family != other.family || set.symbols != other.symbols ||
      set.fork_symbols != other.fork_symbols)
    return differ(set, other, "their symbols");
  if (set.size_px != other.size_px) return differ(set, other, "the sizes of their pictures");
  if (set.plates.size() != other.plates.size())
    return differ(set, other, "their numbers of plates");
  const auto is_same = [](const Plate& a, const Plate& b) {
    return a.name == b.name && a.kind == b.kind && a.aim == b.aim &&
           std::equal(a.figures.begin(), a.figures.end(), b.figures.begin(), b.figures.end(),
                      [](const Figure& x, const Figure& y) {
                        return x.symbol == y.symbol && x.place == y.place;
                      });
  };
  if (!std::equal(set.plates.begin(), set.plates.end(), other.plates.begin(), is_same))
    return differ(set, other, "their plates");
  return {};
}

}  // namespace copunctal
