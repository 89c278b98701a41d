// Whether the devices of a room reach this program and can show a plate (app/preflight.h).
#pragma once

#include "copunctal/app/preflight.h"
#include "copunctal/server/class_door.h"
#include "copunctal/server/router.h"

namespace copunctal {

/// Adds POST and GET of what devices found. All must outlive the router.
void add_preflight(Router& router, DeviceList& devices, ClassDoor& door);

/// {"devices": [...]}, as docs/api.md has it.
std::string devices_json(const std::vector<CheckedDevice>& devices);

}  // namespace copunctal
