// An open-loop client: requests leave when they are due, whether or not earlier ones came back.
//
// Latency counts from the moment a request was due, not from when it could be sent: a connection
// that still waits for its last reply sends late, and that waiting is the server's (coordinated
// omission would hide it). One thread, one epoll, sockets of our own; the time of a reply is taken
// before anything is made of it.
#pragma once

#include <cstdint>
#include <deque>
#include <functional>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace copunctal {

struct LoadReply {
  int status = 0;
  std::string body;
};

/// What a run gave.
struct Latencies {
  std::vector<double> ms;       ///< Of every timed request, from due to answered; ascending.
  std::vector<double> late_ms;  ///< How late the generator itself woke for each; ascending.
  int server_errors = 0;        ///< 5xx.
  int other_refusals = 0;       ///< Neither 2xx nor 5xx.
  int broken = 0;               ///< Connections that ended under way; the request is sent again.
  int slow_closed = 0;          ///< Slow clients that the server hung up on, as it should.
};

/// The q-quantile of ascending values, by nearest rank; 0 of none.
double quantile(const std::vector<double>& ascending, double q);

class OpenLoop {
 public:
  /// The bytes of the next request of a connection.
  using Next = std::function<std::string(std::size_t connection)>;
  /// Takes a reply; may give a request to be sent at once on the same connection, untimed.
  using Take = std::function<std::optional<std::string>(std::size_t connection, const LoadReply&)>;

  /// Opens `connections` to 127.0.0.1:port and keeps them alive. Throws std::runtime_error.
  OpenLoop(std::uint16_t port, std::size_t connections);
  OpenLoop(const OpenLoop&) = delete;
  OpenLoop& operator=(const OpenLoop&) = delete;
  ~OpenLoop();

  /// Sends a request at each of `due_s` (ascending, seconds from the start), the connections taking
  /// turns, and returns when all are answered. Meanwhile `slow` further clients send a request's
  /// header byte by byte and never end it.
  Latencies run(const std::vector<double>& due_s, std::size_t slow, const Next& next,
                const Take& take);

 private:
  struct Connection {
    int handle = -1;
    std::deque<double> due;      ///< Waiting for their turn.
    std::optional<double> sent;  ///< When the request under way was due; nothing: untimed or idle.
    bool is_busy = false;
    std::string request, received;
  };
  struct Slow {
    int handle = -1;
    std::size_t at = 0;  ///< Bytes of the header sent.
  };

  void watch(int handle, std::uint64_t name) const;
  void send(Connection& connection, std::string request, std::optional<double> due);
  void reconnect(std::size_t index);
  void read(std::size_t index, const Next& next, const Take& take);
  void start_due(std::size_t index, const Next& next);
  void drip();
  void open_slow(std::size_t index);
  double now() const;

  std::uint16_t port_;
  int epoll_ = -1;
  double start_ = 0;
  std::vector<Connection> connections_;
  std::vector<Slow> slow_;
  std::size_t answered_ = 0;
  Latencies found_;
};

/// A server that answers every request with the same reply and does nothing else: what the
/// generator itself costs. In a process of its own, closed by scope.
class NullServer {
 public:
  explicit NullServer(const std::string& body);
  NullServer(const NullServer&) = delete;
  NullServer& operator=(const NullServer&) = delete;
  ~NullServer();

  std::uint16_t port() const { return port_; }

 private:
  std::uint16_t port_ = 0;
  int process_ = -1;
};

}  // namespace copunctal
