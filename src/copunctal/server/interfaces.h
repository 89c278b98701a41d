// The addresses by which others of the room's network can reach this computer.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "copunctal/base/result.h"

namespace copunctal {

struct NetworkAddress {
  std::string interface;  ///< "wlan0".
  std::string address;    ///< IPv4, "192.0.2.2".
};

/// The IPv4 addresses of interfaces that are up, loopback among them. Error: io.
Result<std::vector<NetworkAddress>> network_addresses();

/// The one that `wish` names, an interface or an address; with an empty wish the only one that is
/// not loopback. Of loopback, 127.0.0.2 and so on can be named, to rehearse a class on this
/// computer alone; 127.0.0.1 cannot. Error: usage, listing what there is.
Result<NetworkAddress> chosen_address(const std::vector<NetworkAddress>& all,
                                      std::string_view wish);

}  // namespace copunctal
