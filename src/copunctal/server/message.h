// A request and a response, as the routes see them: plain values, no network library.
#pragma once

#include <cstddef>
#include <cstdint>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace copunctal {

/// How a request reached us, by the transport's own word: nothing that a client says is in it.
/// By default from nobody known and nowhere near, so that what is forgotten opens nothing.
struct Arrival {
  bool is_local = false;   ///< By a loopback address of ours, from a loopback address.
  bool is_tls = false;     ///< Encrypted.
  std::string peer;        ///< Address of who asks: "192.0.2.7".
  std::string address;     ///< Of ours that was asked: "192.0.2.2". Unused when local.
  std::uint16_t port = 0;  ///< Of ours.
};
/// From this computer itself, on this port.
Arrival local_arrival(std::uint16_t port);

struct Request {
  std::string method;  ///< "GET".
  std::string target;  ///< As sent: "/api/sittings/...?as=protan".
  std::vector<std::pair<std::string, std::string>> headers;  ///< Names in lower case.
  std::string body;
  Arrival arrival;

  std::string_view path() const;   ///< The target before its '?'.
  std::string_view query() const;  ///< What follows it, or nothing.
  /// The header's value; nothing when it is missing. With several of one name, the first.
  std::optional<std::string_view> header(std::string_view lower_case_name) const;
  std::size_t count(std::string_view lower_case_name) const;
  /// Whether the method may change something: all but GET and HEAD.
  bool changes_something() const { return method != "GET" && method != "HEAD"; }
};

struct Response {
  int status = 200;
  std::string content_type;
  std::vector<std::pair<std::string, std::string>> headers;
  std::string text;                                          ///< The body; or
  std::shared_ptr<const std::vector<std::uint8_t>> picture;  ///< bytes shared with others; or
  std::span<const std::byte> embedded;                       ///< bytes that live for ever.

  std::string_view body() const;
};

}  // namespace copunctal
