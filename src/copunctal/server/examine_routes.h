// The routes of sittings with an examiner (docs/api.md).
#pragma once

#include "copunctal/app/run_sitting.h"
#include "copunctal/server/router.h"

namespace copunctal {

void add_examining(Router& router, SittingDesk& desk);

}  // namespace copunctal
