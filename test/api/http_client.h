// For tests: a small blocking HTTP client that can also misbehave.
#pragma once

#include <chrono>
#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <utility>
#include <vector>

namespace copunctal {

struct Reply {
  int status = 0;
  std::map<std::string, std::string> headers;  ///< Names in lower case.
  std::string body;
};

using Headers = std::vector<std::pair<std::string, std::string>>;

/// One connection to 127.0.0.1 (or ::1), or to another address from one of ours. Closed by scope.
class HttpClient {
 public:
  explicit HttpClient(std::uint16_t port, bool over_ipv6 = false);
  HttpClient(std::uint16_t port, const std::string& to, const std::string& from);
  HttpClient(const HttpClient&) = delete;
  HttpClient& operator=(const HttpClient&) = delete;
  ~HttpClient();

  bool is_connected() const { return socket_ >= 0; }
  /// The bytes of a request as our pages would send it; `extra` headers replace those of the name.
  std::string request_text(const std::string& method, const std::string& target,
                           const std::string& body = "", const Headers& extra = {}) const;
  /// Whether all bytes could be sent.
  bool send(const std::string& bytes);
  /// The next reply, or nothing when the connection ends or `patience` is over. `has_body`: false
  /// for the reply to a HEAD request.
  std::optional<Reply> receive(bool has_body = true,
                               std::chrono::milliseconds patience = std::chrono::seconds(120));
  /// Sends and receives.
  std::optional<Reply> ask(const std::string& method, const std::string& target,
                           const std::string& body = "", const Headers& extra = {});
  /// Whether the server closes the connection within `patience`.
  bool is_closed_within(std::chrono::milliseconds patience);

 private:
  bool read_more(std::chrono::steady_clock::time_point deadline);

  int socket_ = -1;
  std::string host_;
  std::string received_;
};

}  // namespace copunctal
