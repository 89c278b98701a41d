#include "faults/proxy.h"

#include "faults/loopback.h"

#include <arpa/inet.h>
#include <netinet/in.h>
#include <netinet/tcp.h>
#include <poll.h>
#include <sys/socket.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <stdexcept>

namespace copunctal {
namespace {

constexpr std::uint32_t longest_request = 3000;  // bytes; some six answers with their headers
constexpr std::uint32_t most_requests = 8;
constexpr std::size_t piece = 64;
constexpr int patience_ms = 20'000;

/// What has arrived: some bytes, or none when the other side has ended.
std::string arrived_at(int handle) {
  std::string bytes(64 * std::size_t{1024}, '\0');
  const ssize_t size = recv(handle, bytes.data(), bytes.size(), 0);
  bytes.resize(size > 0 ? static_cast<std::size_t>(size) : 0);
  return bytes;
}

bool send_all(int handle, const std::string& bytes) {
  for (std::size_t sent = 0; sent < bytes.size();) {
    const ssize_t n = send(handle, bytes.data() + sent, bytes.size() - sent, MSG_NOSIGNAL);
    if (n <= 0) return false;
    sent += static_cast<std::size_t>(n);
  }
  return true;
}

bool trickle(int handle, const std::string& bytes) {
  for (std::size_t at = 0; at < bytes.size(); at += piece) {
    if (!send_all(handle, bytes.substr(at, piece))) return false;
    usleep(500);
  }
  return true;
}

}  // namespace

Proxy::Proxy(std::uint16_t server, std::uint64_t seed) : server_(server), random_(seed, 2) {
  listener_ = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
  sockaddr_in address = loopback(0);
  socklen_t size = sizeof address;
  if (bind(listener_, reinterpret_cast<const sockaddr*>(&address), size) != 0 ||
      listen(listener_, 64) != 0 ||
      getsockname(listener_, reinterpret_cast<sockaddr*>(&address), &size) != 0)
    throw std::runtime_error("the proxy cannot listen");
  port_ = ntohs(address.sin_port);
  acceptor_ = std::thread([this] { accept_all(); });
}

Proxy::~Proxy() {
  is_over_ = true;
  shutdown(listener_, SHUT_RDWR);
  acceptor_.join();
  for (std::thread& carrier : carriers_) carrier.join();
  close(listener_);
}

void Proxy::accept_all() {
  while (!is_over_) {
    const int person = accept4(listener_, nullptr, nullptr, SOCK_CLOEXEC);
    if (person < 0) continue;
    const int on = 1;
    setsockopt(person, IPPROTO_TCP, TCP_NODELAY, &on, sizeof on);
    const Fate fate{static_cast<Kind>(random_.below(5)), random_.below(longest_request),
                    1 + static_cast<int>(random_.below(most_requests))};
    carriers_.emplace_back([this, person, fate] { carry(person, fate); });
  }
}

// Our people send a request in one piece and wait for its reply, so what arrives at once is one
// request or one reply.
void Proxy::carry(int person, Fate fate) {
  const int server = connected_to(server_);
  std::string request;
  for (bool goes_on = server >= 0; goes_on;) {
    std::array<pollfd, 2> waiting{{{person, POLLIN, 0}, {server, POLLIN, 0}}};
    if (poll(waiting.data(), waiting.size(), patience_ms) <= 0) break;
    const bool is_asked = waiting[0].revents != 0;
    const std::string bytes = arrived_at(is_asked ? person : server);
    if (bytes.empty()) break;
    if (is_asked) {
      request = bytes;
      goes_on = to_server(server, bytes, fate);
    } else {
      goes_on = to_person(person, bytes, fate);
      if (fate.kind == Kind::doubles) ask_again(request);
    }
  }
  close(person);
  if (server >= 0) close(server);
}

bool Proxy::to_server(int server, const std::string& bytes, Fate& fate) {
  if (fate.kind == Kind::cut_request) {
    const bool is_cut = bytes.size() > fate.bytes;
    deeds_.requests_cut += is_cut ? 1 : 0;
    const std::size_t through = std::min(bytes.size(), fate.bytes);
    fate.bytes -= through;
    return send_all(server, bytes.substr(0, through)) && !is_cut;
  }
  if (fate.kind != Kind::trickles) return send_all(server, bytes);
  ++deeds_.trickled;
  return trickle(server, bytes);
}

bool Proxy::to_person(int person, const std::string& bytes, Fate& fate) {
  const bool cuts = fate.kind == Kind::drop_reply || fate.kind == Kind::cut_reply;
  if (!cuts || --fate.requests > 0) return send_all(person, bytes);
  if (fate.kind == Kind::drop_reply) {
    ++deeds_.replies_dropped;
    return false;
  }
  ++deeds_.replies_cut;  // never the whole of it
  send_all(person, bytes.substr(0, std::min(fate.bytes, bytes.size() - 1)));
  return false;
}

void Proxy::ask_again(const std::string& request) {
  if (!request.starts_with("PUT")) return;  // a new sitting has no name to know it by
  const int server = connected_to(server_);
  if (server < 0) return;
  if (send_all(server, request) && !arrived_at(server).empty()) ++deeds_.doubled;
  close(server);
}

}  // namespace copunctal
