#include "copunctal/server/router.h"

#include <optional>

#include "copunctal/base/expects.h"

namespace copunctal {
namespace {

/// "/a/b" is {"a", "b"}; "/a/" is {"a", ""}, which no pattern fits.
std::vector<std::string_view> segments_of(std::string_view path) {
  std::vector<std::string_view> segments;
  while (!path.empty() && path.front() == '/') {
    path.remove_prefix(1);
    const auto end = path.find('/');
    segments.push_back(path.substr(0, end));
    path = end == std::string_view::npos ? std::string_view() : path.substr(end);
  }
  return segments;
}

std::optional<PathParts> match(const std::vector<std::string>& pattern,
                               const std::vector<std::string_view>& path) {
  if (pattern.size() != path.size()) return std::nullopt;
  PathParts parts;
  for (std::size_t i = 0; i < path.size(); ++i) {
    const bool is_part = pattern[i].starts_with(':');
    if (is_part ? path[i].empty() : pattern[i] != path[i]) return std::nullopt;
    if (is_part) parts.push_back(path[i]);
  }
  return parts;
}

}  // namespace

void Router::add(std::string method, std::string_view pattern, Handler handler) {
  expects(pattern.starts_with('/'));
  const auto segments = segments_of(pattern);
  routes_.push_back({std::move(method), {segments.begin(), segments.end()}, std::move(handler)});
}

Answered<Response> Router::answer(const Request& request, std::string& allowed) const {
  const std::string_view asked = request.method;
  const std::string_view method = asked == "HEAD" ? "GET" : asked;
  const auto path = segments_of(request.path());
  for (const Route& route : routes_) {
    const auto parts = match(route.segments, path);
    if (!parts) continue;
    if (route.method == method) return route.handler(request, *parts);
    allowed += (allowed.empty() ? "" : ", ") + route.method;
  }
  if (allowed.empty())
    return refuse(404, "page", "there is nothing at this address",
                  "check the address, or start from the first page");
  return refuse(405, "method", request.method + " is not possible here", "use " + allowed);
}

std::vector<std::string> Router::routes() const {
  std::vector<std::string> routes;
  for (const Route& route : routes_) {
    std::string name = route.method + " ";
    for (const std::string& segment : route.segments) name += "/" + segment;
    routes.push_back(std::move(name));
  }
  return routes;
}

}  // namespace copunctal
