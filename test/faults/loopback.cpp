#include "faults/loopback.h"

#include <netinet/tcp.h>
#include <sys/socket.h>
#include <unistd.h>

namespace copunctal {

sockaddr_in loopback(std::uint16_t port) {
  sockaddr_in address{};
  address.sin_family = AF_INET;
  address.sin_port = htons(port);
  address.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
  return address;
}

int connected_to(std::uint16_t port) {
  const int handle = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
  const int on = 1;
  setsockopt(handle, IPPROTO_TCP, TCP_NODELAY, &on, sizeof on);
  const sockaddr_in address = loopback(port);
  if (connect(handle, reinterpret_cast<const sockaddr*>(&address), sizeof address) == 0)
    return handle;
  close(handle);
  return -1;
}

}  // namespace copunctal
