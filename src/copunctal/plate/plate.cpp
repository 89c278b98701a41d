#include "copunctal/plate/plate.h"

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
    case PlateKind::tritan:
      return "tritan";
  }
  return "opener";
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
