// Carries requests to a site and responses back: over HTTP on this computer's loopback addresses
// and, where a class is let in, over HTTP or HTTPS on one address of the room's network.
#pragma once

#include <chrono>
#include <cstddef>
#include <cstdint>
#include <functional>
#include <optional>
#include <span>
#include <stop_token>
#include <string>

#include "copunctal/base/result.h"
#include "copunctal/server/certificate.h"
#include "copunctal/server/class_door.h"
#include "copunctal/server/site.h"

namespace copunctal {

/// The address by which a class is let in.
///
/// Whoever comes by it is no instructor, also from this computer: what decides is the address of
/// ours that was asked. So 127.0.0.2 can stand for an address of the network in a rehearsal or
/// test.
struct ClassListener {
  std::string address;             ///< IPv4, of this computer, not 127.0.0.1.
  std::optional<Credentials> tls;  ///< None: plain HTTP.
  std::chrono::seconds open_for = ClassDoor::open_for;
};

struct ServerOptions {
  std::uint16_t port = 8471;  ///< 0: any free one.
  std::size_t handlers = 16;  ///< Threads that answer requests; they may wait for a commit.

  // Connections: in all; of those, from the network; of those, from one address of it. A browser
  // holds two or three at a time and at most six, so a class of 300 behind one address fits, one
  // device still leaves room to others, and this computer always gets in.
  std::size_t most_connections = 1200, most_from_network = 1100, most_from_address = 900;

  // How long a connection may take: until a next request begins, until its header is complete,
  // until its body is, until the response is taken.
  std::chrono::milliseconds idle{60'000}, header{10'000}, body{30'000}, write{30'000};
  std::chrono::milliseconds drain{5'000};  ///< For requests under way when the server is stopped.

  std::stop_token stop = {};               ///< Stops the server like SIGTERM does.
  TroubleReport report = {};               ///< Told of mistakes inside; may be empty.
  PlateWorkshop* workshop = nullptr;       ///< Where sets are made; none: its routes are not there.
  RehearsalControl* rehearsals = nullptr;  ///< None: their routes refuse.
  ClassDoor* door = nullptr;  ///< Who of the class may come in; needed with a listener.
  std::optional<ClassListener> listener = {};  ///< None: loopback only.
};

inline constexpr std::size_t largest_body = 1 << 20;        ///< Bytes of a request's body.
inline constexpr std::size_t largest_picture = 20 << 20;    ///< Of one that is a picture.
inline constexpr std::uint32_t largest_header = 16 * 1024;  ///< Bytes of a request's header.

/// Serves on 127.0.0.1:port and, where there is one, [::1]:port, and for the class on the
/// listener's address and the same port, until SIGINT, SIGTERM or `options.stop`; then finishes the
/// requests under way (at most `drain`) and returns. The network side closes after
/// `listener->open_for`; the rest goes on. `on_ready` is called with the port once connections are
/// taken, and then the door is open. Error: io when the port is taken, or the listener's address is
/// not this computer's.
Result<void> serve(const Site& site, const ServerOptions& options,
                   const std::function<void(std::uint16_t port)>& on_ready);
/// The same for the whole site of a desk.
Result<void> serve(SittingDesk& desk, std::span<const EmbeddedFile> files,
                   const ServerOptions& options,
                   const std::function<void(std::uint16_t port)>& on_ready);

}  // namespace copunctal
