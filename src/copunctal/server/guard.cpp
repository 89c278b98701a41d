#include "copunctal/server/guard.h"

#include <algorithm>
#include <array>
#include <string>

#include "copunctal/server/csp_reports.h"

namespace copunctal {
namespace {

std::string lower_case(std::string_view text) {
  std::string lower(text);
  std::transform(lower.begin(), lower.end(), lower.begin(), [](char c) {
    return c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c;
  });
  return lower;
}

/// Whether Host is a name of the address that was asked. The scheme's own port may be left out.
bool is_our_host(std::string_view host, const Arrival& arrival) {
  const std::string name = lower_case(host);
  const std::string suffix = ":" + std::to_string(arrival.port);
  const bool is_usual_port = arrival.port == (arrival.is_tls ? 443 : 80);
  const auto is = [&](const std::string& us) {
    return name == us + suffix || (is_usual_port && name == us);
  };
  if (!arrival.is_local) return !arrival.address.empty() && is(arrival.address);
  return is("127.0.0.1") || is("localhost") || is("[::1]");
}

std::string scheme_of(const Arrival& arrival) {
  return arrival.is_tls ? "https://" : "http://";
}

bool is_type(std::string_view content_type, std::string_view wanted) {
  const std::string type = lower_case(content_type.substr(0, content_type.find(';')));
  const auto end = type.find_last_not_of(" \t");
  return end != std::string::npos && type.substr(0, end + 1) == wanted;
}

/// A browser's own report, which carries no header of ours. No form of another site can send these
/// types, and the Origin is "null" where a page sends no referrer.
bool is_csp_report(const Request& request, std::string_view host) {
  const auto type = request.header("content-type").value_or("");
  const std::string origin = lower_case(request.header("origin").value_or("null"));
  return request.method == "POST" && request.path() == csp_path &&
         (is_type(type, "application/csp-report") || is_type(type, "application/reports+json")) &&
         (origin == "null" || origin == scheme_of(request.arrival) + lower_case(host)) &&
         request.header("sec-fetch-site").value_or("same-origin") == "same-origin";
}

Answered<void> check_change(const Request& request, std::string_view host) {
  const std::string remedy = "use the pages of this program";
  // A picture comes as it is; no form of another site can send this type, nor the header below.
  const bool is_picture = request.arrival.is_local && request.path() == picture_path &&
                          request.method == "POST" &&
                          request.header("content-type").value_or("") == "application/octet-stream";
  if (is_csp_report(request, host)) return {};
  if (!is_picture && !is_type(request.header("content-type").value_or(""), "application/json"))
    return refuse(403, "Content-Type", "a change must be sent as application/json", remedy);
  if (request.header("x-copunctal").value_or("") != "1")
    return refuse(403, "X-Copunctal", "a change must carry the header X-Copunctal: 1", remedy);
  if (const auto origin = request.header("origin");
      origin && lower_case(*origin) != scheme_of(request.arrival) + lower_case(host))
    return refuse(403, "Origin", "this change was asked for by another site's page", remedy);
  if (request.header("sec-fetch-site").value_or("same-origin") != "same-origin")
    return refuse(403, "Sec-Fetch-Site", "this change was asked for by another site's page",
                  remedy);
  return {};
}

constexpr std::string_view content_policy =
    "default-src 'none'; script-src 'self' 'wasm-unsafe-eval'; style-src 'self'; img-src 'self' "
    "blob:; "
    "font-src 'self'; connect-src 'self'; worker-src 'self'; manifest-src 'self'; "
    "form-action 'self'; frame-ancestors 'none'; base-uri 'none'; object-src 'none'; "
    "require-trusted-types-for 'script'; report-uri /api/csp";

constexpr std::string_view permissions =
    "camera=(), microphone=(), geolocation=(), usb=(), payment=(), interest-cohort=(), "
    "fullscreen=(self), screen-wake-lock=(self)";

}  // namespace

Answered<void> check_request(const Request& request) {
  for (const std::string_view single :
       {"host", "content-type", "content-length", "transfer-encoding", "origin", "x-copunctal"})
    if (request.count(single) > 1)
      return refuse(400, std::string(single), "this header may come once only",
                    "send the header once");
  const auto host = request.header("host").value_or("");
  const Arrival& arrival = request.arrival;
  if (!is_our_host(host, arrival))
    return refuse(421, "Host", "this server does not answer under that name",
                  "open " + scheme_of(arrival) +
                      (arrival.is_local ? "127.0.0.1" : arrival.address) + ":" +
                      std::to_string(arrival.port) + "/");
  // Would send cookies back as text.
  if (request.method == "TRACE")
    return refuse(405, "method", "TRACE is not possible here", "use GET");
  if (request.changes_something()) return check_change(request, host);
  return {};
}

void protect(Response& response) {
  constexpr auto fixed = std::to_array<std::pair<std::string_view, std::string_view>>({
      {"Content-Security-Policy", content_policy},
      {"X-Content-Type-Options", "nosniff"},
      {"Referrer-Policy", "no-referrer"},
      {"X-Frame-Options", "DENY"},
      {"Cross-Origin-Opener-Policy", "same-origin"},
      {"Cross-Origin-Embedder-Policy", "require-corp"},
      {"Cross-Origin-Resource-Policy", "same-origin"},
      {"Permissions-Policy", permissions},
  });
  for (const auto& [name, value] : fixed) response.headers.emplace_back(name, value);
  const bool has_cache_rule =
      std::any_of(response.headers.begin(), response.headers.end(),
                  [](const auto& header) { return header.first == "Cache-Control"; });
  if (!has_cache_rule) response.headers.emplace_back("Cache-Control", "no-store");
}

}  // namespace copunctal
