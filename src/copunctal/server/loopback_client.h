// Asks a server on this computer's loopback address, as a page of it would.
#pragma once

#include <cstdint>
#include <string>

#include "copunctal/app/invented_class.h"

namespace copunctal {

/// One request over a connection of its own; waits for the reply. Status 0: no reply came.
RouteReply ask_loopback(std::uint16_t port, const std::string& method, const std::string& path,
                        const std::string& body);

}  // namespace copunctal
