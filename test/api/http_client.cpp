#include "api/http_client.h"

#include <arpa/inet.h>
#include <netinet/in.h>
#include <netinet/tcp.h>
#include <poll.h>
#include <sys/socket.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cstring>

namespace copunctal {
namespace {

std::string lower_case(std::string text) {
  for (char& c : text) c = c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c;
  return text;
}

int connected(int family, const void* address, socklen_t size, const sockaddr_in* from = nullptr) {
  const int handle = socket(family, SOCK_STREAM | SOCK_CLOEXEC, 0);
  if (handle < 0) return -1;
  const int on = 1;
  setsockopt(handle, IPPROTO_TCP, TCP_NODELAY, &on, sizeof on);
  const bool is_bound =
      from == nullptr || bind(handle, reinterpret_cast<const sockaddr*>(from), sizeof *from) == 0;
  if (is_bound && connect(handle, static_cast<const sockaddr*>(address), size) == 0) return handle;
  close(handle);
  return -1;
}

/// Status line and headers of a reply; the text ends with the empty line.
Reply head_in(const std::string& text) {
  Reply reply;
  reply.status = std::atoi(text.substr(text.find(' ') + 1, 3).c_str());
  for (auto start = text.find("\r\n") + 2; start + 2 < text.size();) {
    const auto end = text.find("\r\n", start);
    const std::string line = text.substr(start, end - start);
    const auto colon = line.find(": ");
    if (colon != std::string::npos)
      reply.headers[lower_case(line.substr(0, colon))] = line.substr(colon + 2);
    start = end + 2;
  }
  return reply;
}

}  // namespace

HttpClient::HttpClient(std::uint16_t port, bool over_ipv6) {
  if (over_ipv6) {
    sockaddr_in6 address{};
    address.sin6_family = AF_INET6;
    address.sin6_port = htons(port);
    address.sin6_addr = in6addr_loopback;
    socket_ = connected(AF_INET6, &address, sizeof address);
  } else {
    sockaddr_in address{};
    address.sin_family = AF_INET;
    address.sin_port = htons(port);
    address.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    socket_ = connected(AF_INET, &address, sizeof address);
  }
  host_ = (over_ipv6 ? "[::1]:" : "127.0.0.1:") + std::to_string(port);
}

HttpClient::HttpClient(std::uint16_t port, const std::string& to, const std::string& from) {
  sockaddr_in address{}, own{};
  address.sin_family = own.sin_family = AF_INET;
  address.sin_port = htons(port);
  host_ = to + ":" + std::to_string(port);
  if (inet_pton(AF_INET, to.c_str(), &address.sin_addr) != 1 ||
      inet_pton(AF_INET, from.c_str(), &own.sin_addr) != 1)
    return;
  socket_ = connected(AF_INET, &address, sizeof address, &own);
}

HttpClient::~HttpClient() {
  if (socket_ >= 0) close(socket_);
}

std::string HttpClient::request_text(const std::string& method, const std::string& target,
                                     const std::string& body, const Headers& extra) const {
  Headers headers = {{"Host", host_}};
  if (method != "GET" && method != "HEAD") {
    headers.emplace_back("Origin", "http://" + host_);
    headers.emplace_back("Content-Type", "application/json");
    headers.emplace_back("X-Copunctal", "1");
    headers.emplace_back("Content-Length", std::to_string(body.size()));
  }
  for (const auto& [name, value] : extra) {
    std::erase_if(headers, [&, &n = name](const auto& header) { return header.first == n; });
    headers.emplace_back(name, value);
  }
  std::string text = method + " " + target + " HTTP/1.1\r\n";
  for (const auto& [name, value] : headers)
    if (!value.empty()) text += name + ": " + value + "\r\n";
  return text + "\r\n" + body;
}

bool HttpClient::send(const std::string& bytes) {
  for (std::size_t sent = 0; sent < bytes.size();) {
    const ssize_t n = ::send(socket_, bytes.data() + sent, bytes.size() - sent, MSG_NOSIGNAL);
    if (n <= 0) return false;
    sent += static_cast<std::size_t>(n);
  }
  return true;
}

bool HttpClient::read_more(std::chrono::steady_clock::time_point deadline) {
  const auto left = std::chrono::duration_cast<std::chrono::milliseconds>(
      deadline - std::chrono::steady_clock::now());
  pollfd waiting{socket_, POLLIN, 0};
  if (left.count() <= 0 || poll(&waiting, 1, static_cast<int>(left.count())) <= 0) return false;
  std::array<char, 64 * 1024> bytes{};
  const ssize_t n = recv(socket_, bytes.data(), bytes.size(), 0);
  if (n <= 0) return false;
  received_.append(bytes.data(), static_cast<std::size_t>(n));
  return true;
}

std::optional<Reply> HttpClient::receive(bool has_body, std::chrono::milliseconds patience) {
  const auto deadline = std::chrono::steady_clock::now() + patience;
  while (received_.find("\r\n\r\n") == std::string::npos)
    if (!read_more(deadline)) return std::nullopt;
  const auto head_size = received_.find("\r\n\r\n") + 4;
  Reply reply = head_in(received_.substr(0, head_size));
  const auto length = reply.headers.find("content-length");
  const std::size_t body_size =
      has_body && length != reply.headers.end() ? std::stoul(length->second) : 0;
  while (received_.size() < head_size + body_size)
    if (!read_more(deadline)) return std::nullopt;
  reply.body = received_.substr(head_size, body_size);
  received_.erase(0, head_size + body_size);
  return reply;
}

std::optional<Reply> HttpClient::ask(const std::string& method, const std::string& target,
                                     const std::string& body, const Headers& extra) {
  if (!send(request_text(method, target, body, extra))) return std::nullopt;
  return receive(method != "HEAD");
}

bool HttpClient::is_closed_within(std::chrono::milliseconds patience) {
  const auto deadline = std::chrono::steady_clock::now() + patience;
  while (read_more(deadline)) received_.clear();
  pollfd waiting{socket_, POLLIN, 0};
  char byte = 0;
  return poll(&waiting, 1, 0) > 0 && recv(socket_, &byte, 1, 0) <= 0;
}

}  // namespace copunctal
