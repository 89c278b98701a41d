#include "copunctal/server/cookies.h"

#include <algorithm>

namespace copunctal {
namespace {

constexpr std::size_t token_size = 64;

bool is_token(std::string_view text) {
  return text.size() == token_size && std::all_of(text.begin(), text.end(), [](char c) {
           return (c >= '0' && c <= '9') || (c >= 'a' && c <= 'f');
         });
}

std::string_view trimmed(std::string_view text) {
  const auto first = text.find_first_not_of(" \t");
  if (first == std::string_view::npos) return {};
  return text.substr(first, text.find_last_not_of(" \t") - first + 1);
}

}  // namespace

std::string new_token(const RandomBytes& random) {
  return new_id(random) + new_id(random);
}

std::string_view cookie_name(const Arrival& arrival) {
  return arrival.is_tls ? "__Host-sid" : "sid";
}

std::optional<std::string> token_in(const Request& request) {
  const auto header = request.header("cookie");
  if (!header || request.count("cookie") != 1) return std::nullopt;
  std::optional<std::string> found;
  std::string_view rest = *header;
  while (!rest.empty()) {
    const auto end = rest.find(';');
    const std::string_view pair = rest.substr(0, end);
    rest = end == std::string_view::npos ? std::string_view() : rest.substr(end + 1);
    const auto equals = pair.find('=');
    if (equals == std::string_view::npos) continue;
    if (trimmed(pair.substr(0, equals)) != cookie_name(request.arrival)) continue;
    if (found) return std::nullopt;  // one of them was planted
    found = trimmed(pair.substr(equals + 1));
  }
  if (found && !is_token(*found)) return std::nullopt;
  return found;
}

std::string cookie_giving(std::string_view token, const Arrival& arrival,
                          std::chrono::seconds lifetime) {
  return std::string(cookie_name(arrival)) + "=" + std::string(token) +
         "; Path=/; HttpOnly; SameSite=Strict; Max-Age=" + std::to_string(lifetime.count()) +
         (arrival.is_tls ? "; Secure" : "");
}

}  // namespace copunctal
