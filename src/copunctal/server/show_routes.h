// Plates shown to a room: the presenter's routes, the projector's and the phones'.
#pragma once

#include "copunctal/app/room_show.h"
#include "copunctal/server/class_door.h"
#include "copunctal/server/router.h"

namespace copunctal {

/// Adds /api/shows... and /api/show... All must outlive the router.
void add_shows(Router& router, ShowDesk& shows, PlateWorkshop& workshop, ClassDoor& door);

}  // namespace copunctal
