#include "copunctal/server/loopback_client.h"

#include <netinet/in.h>
#include <netinet/tcp.h>
#include <sys/socket.h>
#include <sys/time.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <cstdlib>

namespace copunctal {
namespace {

/// Closed by scope.
struct Socket {
  int handle = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
  Socket() = default;
  Socket(const Socket&) = delete;
  Socket& operator=(const Socket&) = delete;
  ~Socket() {
    if (handle >= 0) close(handle);
  }
};

bool connect_to(const Socket& to, std::uint16_t port) {
  if (to.handle < 0) return false;
  const int on = 1;
  const timeval patience{.tv_sec = 60, .tv_usec = 0};
  setsockopt(to.handle, IPPROTO_TCP, TCP_NODELAY, &on, sizeof on);
  setsockopt(to.handle, SOL_SOCKET, SO_RCVTIMEO, &patience, sizeof patience);
  sockaddr_in address{};
  address.sin_family = AF_INET;
  address.sin_port = htons(port);
  address.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
  return connect(to.handle, reinterpret_cast<const sockaddr*>(&address), sizeof address) == 0;
}

bool send_all(const Socket& to, const std::string& bytes) {
  for (std::size_t sent = 0; sent < bytes.size();) {
    const ssize_t n = send(to.handle, bytes.data() + sent, bytes.size() - sent, MSG_NOSIGNAL);
    if (n < 0 && errno == EINTR) continue;
    if (n <= 0) return false;
    sent += static_cast<std::size_t>(n);
  }
  return true;
}

/// Everything until the server hangs up; empty when it does not in time.
std::string receive_all(const Socket& from) {
  std::string text;
  std::array<char, std::size_t{64} * 1024> bytes{};
  for (;;) {
    const ssize_t n = recv(from.handle, bytes.data(), bytes.size(), 0);
    if (n < 0 && errno == EINTR) continue;
    if (n < 0) return {};
    if (n == 0) return text;
    text.append(bytes.data(), static_cast<std::size_t>(n));
  }
}

}  // namespace

RouteReply ask_loopback(std::uint16_t port, const std::string& method, const std::string& path,
                        const std::string& body) {
  const Socket connection;
  if (!connect_to(connection, port)) return {};
  std::string request = method + " " + path +
                        " HTTP/1.1\r\nHost: 127.0.0.1:" + std::to_string(port) +
                        "\r\nConnection: close\r\n";
  if (method != "GET")
    request += "Content-Type: application/json\r\nX-Copunctal: 1\r\nContent-Length: " +
               std::to_string(body.size()) + "\r\n";
  if (!send_all(connection, request + "\r\n" + (method == "GET" ? std::string() : body))) return {};
  const std::string reply = receive_all(connection);
  const auto head = reply.find("\r\n\r\n");
  constexpr std::size_t status_at = 9;  // "HTTP/1.1 200"
  if (head == std::string::npos || !reply.starts_with("HTTP/1.1 ")) return {};
  return {std::atoi(reply.substr(status_at, 3).c_str()), reply.substr(head + 4)};
}

}  // namespace copunctal
