// Carries requests to a site and responses back, over HTTP on this computer's loopback addresses.
#pragma once

#include <chrono>
#include <cstddef>
#include <cstdint>
#include <functional>
#include <span>
#include <stop_token>

#include "copunctal/base/result.h"
#include "copunctal/server/site.h"

namespace copunctal {

struct ServerOptions {
  std::uint16_t port = 8471;  ///< 0: any free one.
  std::size_t handlers = 16;  ///< Threads that answer requests; they may wait for a commit.
  std::size_t most_connections = 1200;

  // How long a connection may take: until a next request begins, until its header is complete,
  // until its body is, until the response is taken.
  std::chrono::milliseconds idle{60'000}, header{10'000}, body{30'000}, write{30'000};
  std::chrono::milliseconds drain{5'000};  ///< For requests under way when the server is stopped.

  std::stop_token stop = {};          ///< Stops the server like SIGTERM does.
  TroubleReport report = {};          ///< Told of mistakes inside; may be empty.
  PlateWorkshop* workshop = nullptr;  ///< Where sets are made; none: its routes are not there.
};

inline constexpr std::size_t largest_body = 1 << 20;        ///< Bytes of a request's body.
inline constexpr std::size_t largest_picture = 20 << 20;    ///< Of one that is a picture.
inline constexpr std::uint32_t largest_header = 16 * 1024;  ///< Bytes of a request's header.

/// Serves on 127.0.0.1:port and, where there is one, [::1]:port, until SIGINT, SIGTERM or
/// `options.stop`; then finishes the requests under way (at most `drain`) and returns.
/// `on_ready` is called with the port once connections are taken. Error: io when the port is taken.
Result<void> serve(SittingDesk& desk, std::span<const EmbeddedFile> files,
                   const ServerOptions& options,
                   const std::function<void(std::uint16_t port)>& on_ready);

}  // namespace copunctal
