#include "copunctal/plate/plate.h"

#include <algorithm>

#include "copunctal/base/expects.h"

namespace copunctal {

std::string_view name_of(PlateKind kind) {
  switch (kind) {
    case PlateKind::opener:
      return "opener";
    case PlateKind::vanishing:
      return "vanishing";
    case PlateKind::transformation:
      return "transformation";
    case PlateKind::hidden:
      return "hidden";
    case PlateKind::fork:
      return "fork";
    case PlateKind::ladder:
      return "ladder";
    case PlateKind::tritan:
      return "tritan";
  }
  return "opener";
}

Basis basis_of(PlateKind kind) {
  return kind == PlateKind::transformation || kind == PlateKind::hidden ? Basis::salience
                                                                        : Basis::visibility;
}

std::string_view name_of(Basis basis) {
  return basis == Basis::visibility ? "visibility" : "salience";
}

std::string_view basis_in_words(PlateKind kind) {
  switch (kind) {
    case PlateKind::transformation:
      return "Rests on salience: both figures are visible to normal observers, and which of them "
             "is "
             "reported follows a law that only measurements on people can calibrate. Not evidence "
             "by itself.";
    case PlateKind::hidden:
      return "Rests on salience: the figure is there for every eye, and is missed only as far as "
             "colour noise masks it, by a constant that only measurements on people can calibrate. "
             "Such plates are hard even for those who are meant to see them; an exhibit, never "
             "evidence.";
    case PlateKind::ladder:
      return "Rests on visibility, computed: which of two figures stands further above the "
             "observer’s noise.";
    default:
      return "Rests on visibility, computed: whether the figure stands above the observer’s noise.";
  }
}

std::size_t parts_of(const std::vector<Figure>& figures) {
  return figures.size() == 2 && figures[0].place == figures[1].place ? 4 : 1 + figures.size();
}

std::vector<Place> places_of(const std::vector<Figure>& figures) {
  std::vector<Place> places;
  for (const Figure& figure : figures)
    if (std::find(places.begin(), places.end(), figure.place) == places.end())
      places.push_back(figure.place);
  return places;
}

std::size_t place_index(const std::vector<Figure>& figures, std::size_t figure) {
  expects(figure < figures.size());
  const std::vector<Place> places = places_of(figures);
  return static_cast<std::size_t>(std::find(places.begin(), places.end(), figures[figure].place) -
                                  places.begin());
}

std::string_view name_of(Aim aim) {
  switch (aim) {
    case Aim::none:
      return "";
    case Aim::dichromat:
      return "dichromat";
    case Aim::five_nm:
      return "5nm";
    case Aim::ten_nm:
      return "10nm";
  }
  return "";
}

std::string_view name_of(Place place) {
  switch (place) {
    case Place::whole:
      return "whole";
    case Place::upper_left:
      return "upper-left";
    case Place::lower_right:
      return "lower-right";
    case Place::upper_right:
      return "upper-right";
    case Place::lower_left:
      return "lower-left";
  }
  return "whole";
}

}  // namespace copunctal
