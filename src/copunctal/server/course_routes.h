// The routes above one practical: courses, lists, codes to collect, sheets to judge (docs/api.md).
#pragma once

#include "copunctal/app/run_sitting.h"
#include "copunctal/server/class_door.h"
#include "copunctal/server/router.h"

namespace copunctal {

void add_courses(Router& router, SittingDesk& desk, ClassDoor& door);

}  // namespace copunctal
