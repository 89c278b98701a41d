// Joining, and what the instructor sees and decides about the class on the network.
#pragma once

#include <string>

#include "copunctal/server/class_door.h"
#include "copunctal/server/router.h"

namespace copunctal {

/// What there is behind the door.
enum class Serving { practicals, preflight };

/// Adds /api/about, /api/join and /api/class... `door` must outlive the router.
void add_class(Router& router, ClassDoor& door, Serving serving = Serving::practicals);

/// The sitting a response says has begun (201, {"sitting": id, ...}); empty if it says none.
std::string sitting_begun_by(const Response& response);

}  // namespace copunctal
