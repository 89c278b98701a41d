// Sockets on this computer's own address.
#pragma once

#include <cstdint>

#include <netinet/in.h>

namespace copunctal {

sockaddr_in loopback(std::uint16_t port);
/// A connection without delay of small pieces; -1 when nobody listens there.
int connected_to(std::uint16_t port);

}  // namespace copunctal
