#include "load/open_loop.h"

#include "faults/loopback.h"

#include <arpa/inet.h>
#include <netinet/in.h>
#include <netinet/tcp.h>
#include <sys/epoll.h>
#include <sys/prctl.h>
#include <sys/socket.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <csignal>
#include <cstdlib>
#include <ctime>
#include <stdexcept>

namespace copunctal {
namespace {

constexpr std::uint64_t slow_names = 1'000'000;  // epoll names of slow clients begin here
constexpr double drip_s = 0.25;                  // a byte of each slow client's header in this time
constexpr double patience_s = 60;                // for the last replies
constexpr std::string_view slow_header =
    "GET /api/health HTTP/1.1\r\nHost: 127.0.0.1\r\nX-Filler: never to be ended, byte by byte";

double seconds_now() {
  timespec time{};
  clock_gettime(CLOCK_MONOTONIC, &time);
  return static_cast<double>(time.tv_sec) + 1e-9 * static_cast<double>(time.tv_nsec);
}

int connection_to(std::uint16_t port) {
  const int handle = connected_to(port);
  if (handle < 0) throw std::runtime_error("no connection to port " + std::to_string(port));
  return handle;
}

/// A whole reply at the front of `received`, taken out of it.
std::optional<LoadReply> reply_in(std::string& received) {
  const auto head = received.find("\r\n\r\n");
  if (head == std::string::npos) return std::nullopt;
  constexpr std::string_view length_name = "Content-Length: ";
  const auto length = received.find(length_name);
  const std::size_t body =
      length < head ? std::strtoul(received.c_str() + length + length_name.size(), nullptr, 10) : 0;
  if (received.size() < head + 4 + body) return std::nullopt;
  LoadReply reply{std::atoi(received.c_str() + received.find(' ') + 1),
                  received.substr(head + 4, body)};
  received.erase(0, head + 4 + body);
  return reply;
}

[[noreturn]] void answer_for_ever(int listener, const std::string& body) {
  const std::string reply =
      "HTTP/1.1 200 OK\r\nContent-Type: application/json\r\nContent-Length: " +
      std::to_string(body.size()) + "\r\n\r\n" + body;
  const int epoll = epoll_create1(EPOLL_CLOEXEC);
  epoll_event event{};
  event.events = EPOLLIN;
  event.data.fd = listener;
  epoll_ctl(epoll, EPOLL_CTL_ADD, listener, &event);
  std::array<epoll_event, 64> events{};
  std::array<char, 64 * 1024> bytes{};
  for (;;) {
    const int count = epoll_wait(epoll, events.data(), static_cast<int>(events.size()), -1);
    for (int i = 0; i < count; ++i) {
      const int handle = events[static_cast<std::size_t>(i)].data.fd;
      if (handle == listener) {
        event.data.fd = accept4(listener, nullptr, nullptr, SOCK_CLOEXEC);
        const int on = 1;
        setsockopt(event.data.fd, IPPROTO_TCP, TCP_NODELAY, &on, sizeof on);
        epoll_ctl(epoll, EPOLL_CTL_ADD, event.data.fd, &event);
        continue;
      }
      // The generator sends a request in one piece; single bytes come from slow clients.
      const ssize_t size = recv(handle, bytes.data(), bytes.size(), 0);
      if (size <= 0) close(handle);
      if (size > 16) (void)::send(handle, reply.data(), reply.size(), MSG_NOSIGNAL);
    }
  }
}

}  // namespace

double quantile(const std::vector<double>& ascending, double q) {
  if (ascending.empty()) return 0;
  const auto rank = static_cast<std::size_t>(std::ceil(q * static_cast<double>(ascending.size())));
  return ascending[std::clamp<std::size_t>(rank, 1, ascending.size()) - 1];
}

OpenLoop::OpenLoop(std::uint16_t port, std::size_t connections)
    : port_(port), epoll_(epoll_create1(EPOLL_CLOEXEC)), connections_(connections) {
  for (std::size_t i = 0; i < connections; ++i) {
    connections_[i].handle = connection_to(port_);
    watch(connections_[i].handle, i);
  }
}

OpenLoop::~OpenLoop() {
  for (const Connection& connection : connections_) close(connection.handle);
  for (const Slow& slow : slow_) close(slow.handle);
  close(epoll_);
}

double OpenLoop::now() const {
  return seconds_now() - start_;
}

void OpenLoop::watch(int handle, std::uint64_t name) const {
  epoll_event event{};
  event.events = EPOLLIN;
  event.data.u64 = name;
  if (epoll_ctl(epoll_, EPOLL_CTL_ADD, handle, &event) != 0)
    throw std::runtime_error("epoll refuses a socket");
}

void OpenLoop::send(Connection& connection, std::string request, std::optional<double> due) {
  connection.request = std::move(request);
  connection.sent = due;
  connection.is_busy = true;
  // One request at a time and under a kilobyte: it always fits. A broken pipe is seen on reading.
  (void)::send(connection.handle, connection.request.data(), connection.request.size(),
               MSG_NOSIGNAL);
}

void OpenLoop::reconnect(std::size_t index) {
  Connection& connection = connections_[index];
  ++found_.broken;
  close(connection.handle);
  connection.handle = connection_to(port_);
  connection.received.clear();
  watch(connection.handle, index);
  if (connection.is_busy) send(connection, connection.request, connection.sent);
}

void OpenLoop::start_due(std::size_t index, const Next& next) {
  Connection& connection = connections_[index];
  if (connection.is_busy || connection.due.empty()) return;
  const double due = connection.due.front();
  connection.due.pop_front();
  send(connection, next(index), due);
}

void OpenLoop::read(std::size_t index, const Next& next, const Take& take) {
  Connection& connection = connections_[index];
  std::array<char, 16 * 1024> bytes{};
  const ssize_t size = recv(connection.handle, bytes.data(), bytes.size(), 0);
  const double arrived = now();
  if (size <= 0) return reconnect(index);
  connection.received.append(bytes.data(), static_cast<std::size_t>(size));
  const auto reply = reply_in(connection.received);
  if (!reply) return;
  if (connection.sent) {
    found_.ms.push_back(1000 * (arrived - *connection.sent));
    ++answered_;
  }
  found_.server_errors += reply->status >= 500 ? 1 : 0;
  found_.other_refusals += reply->status < 200 || (reply->status >= 300 && reply->status < 500);
  connection.is_busy = false;
  if (auto at_once = take(index, *reply)) send(connection, *std::move(at_once), std::nullopt);
  start_due(index, next);
}

void OpenLoop::open_slow(std::size_t index) {
  slow_[index] = {connection_to(port_), 0};
  watch(slow_[index].handle, slow_names + index);
}

void OpenLoop::drip() {
  for (Slow& slow : slow_) {
    if (slow.at < slow_header.size())
      (void)::send(slow.handle, slow_header.data() + slow.at, 1, MSG_NOSIGNAL);
    ++slow.at;
  }
}

Latencies OpenLoop::run(const std::vector<double>& due_s, std::size_t slow, const Next& next,
                        const Take& take) {
  found_ = {};
  answered_ = 0;
  slow_.assign(slow, {});
  for (std::size_t i = 0; i < slow; ++i) open_slow(i);
  start_ = seconds_now();
  std::array<epoll_event, 64> events{};
  const double end = (due_s.empty() ? 0 : due_s.back()) + patience_s;
  double next_drip = 0;
  for (std::size_t started = 0; answered_ < due_s.size() && now() < end;) {
    for (; started < due_s.size() && due_s[started] <= now(); ++started) {
      const std::size_t index = started % connections_.size();
      found_.late_ms.push_back(1000 * (now() - due_s[started]));
      connections_[index].due.push_back(due_s[started]);
      start_due(index, next);
    }
    if (slow > 0 && now() >= next_drip) drip(), next_drip += drip_s;
    const double wake =
        std::min(started < due_s.size() ? due_s[started] : end, slow > 0 ? next_drip : end);
    const double rest = std::max(0.0, wake - now());
    const timespec wait{static_cast<time_t>(rest),
                        static_cast<long>(1e9 * (rest - std::floor(rest)))};
    const int count =
        epoll_pwait2(epoll_, events.data(), static_cast<int>(events.size()), &wait, nullptr);
    for (int i = 0; i < count; ++i) {
      const std::uint64_t name = events[static_cast<std::size_t>(i)].data.u64;
      if (name < slow_names) {
        read(name, next, take);
      } else {  // a slow client is told nothing; it is hung up on, and comes back
        close(slow_[name - slow_names].handle);
        ++found_.slow_closed;
        open_slow(name - slow_names);
      }
    }
  }
  for (const Slow& client : slow_) close(client.handle);
  slow_.clear();
  std::sort(found_.ms.begin(), found_.ms.end());
  std::sort(found_.late_ms.begin(), found_.late_ms.end());
  return found_;
}

NullServer::NullServer(const std::string& body) {
  const int listener = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
  sockaddr_in address = loopback(0);
  socklen_t size = sizeof address;
  if (bind(listener, reinterpret_cast<const sockaddr*>(&address), size) != 0 ||
      listen(listener, 1024) != 0 ||
      getsockname(listener, reinterpret_cast<sockaddr*>(&address), &size) != 0)
    throw std::runtime_error("the null server cannot listen");
  port_ = ntohs(address.sin_port);
  process_ = fork();
  if (process_ == 0) {
    prctl(PR_SET_PDEATHSIG, SIGKILL);
    answer_for_ever(listener, body);
  }
  close(listener);
}

NullServer::~NullServer() {
  if (process_ <= 0) return;
  kill(process_, SIGKILL);
  waitpid(process_, nullptr, 0);
}

}  // namespace copunctal
