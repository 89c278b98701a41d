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

/// An id in form that no sitting has: ids are 128 random bits.
constexpr std::string_view nobodys_sitting = "00000000000000000000000000000000";

std::string path_of(const std::vector<std::string>& segments) {
  std::string path;
  for (const std::string& segment : segments) path += "/" + segment;
  return path;
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

std::string_view name_of(Access access) {
  switch (access) {
    case Access::anyone:
      return "anyone";
    case Access::participant:
      return "participant";
    case Access::own_sitting:
      return "own sitting";
    case Access::demonstrator:
      return "demonstrator";
    case Access::instructor:
      return "instructor";
  }
  return "";
}

void Router::add(Access access, std::string method, std::string_view pattern, Handler handler) {
  expects(pattern.starts_with('/'));
  expects(access != Access::own_sitting || pattern.find(':') != std::string_view::npos);
  const auto segments = segments_of(pattern);
  routes_.push_back(
      {access, std::move(method), {segments.begin(), segments.end()}, std::move(handler)});
}

Answered<Response> Router::answer(const Request& request, const Asker& asker,
                                  std::string& allowed) const {
  const std::string_view asked = request.method;
  const std::string_view method = asked == "HEAD" ? "GET" : asked;
  const auto path = segments_of(request.path());
  for (const Route& route : routes_) {
    const bool may_run = asker.role == Role::instructor ||
                         (asker.role == Role::demonstrator && route.access == Access::demonstrator);
    if ((route.access == Access::instructor || route.access == Access::demonstrator) && !may_run)
      continue;
    auto parts = match(route.segments, path);
    if (!parts) continue;
    if (route.method == method) return answer_by(route, request, *std::move(parts), asker);
    allowed += (allowed.empty() ? "" : ", ") + route.method;
  }
  if (allowed.empty())
    return refuse(404, "page", "there is nothing at this address",
                  "check the address, or start from the first page");
  return refuse(405, "method", request.method + " is not possible here", "use " + allowed);
}

Answered<Response> Router::answer_by(const Route& route, const Request& request, PathParts parts,
                                     const Asker& asker) {
  if (route.access == Access::anyone || route.access == Access::demonstrator ||
      asker.role == Role::instructor)
    return route.handler(request, parts);
  if (asker.role == Role::nobody)
    return refuse(401, "class", "this device has not joined the class",
                  "join with the code that the instructor shows");
  if (route.access == Access::participant) return route.handler(request, parts);
  const std::string sitting(parts.front());
  if (!asker.may_have(sitting)) {
    parts.front() = nobodys_sitting;
    return route.handler(request, parts);
  }
  auto answered = route.handler(request, parts);
  if (answered) asker.takes(sitting);
  return answered;
}

std::vector<std::string> Router::routes() const {
  std::vector<std::string> routes;
  for (const Route& route : routes_) routes.push_back(route.method + " " + path_of(route.segments));
  return routes;
}

std::vector<AccessRow> Router::access_table() const {
  std::vector<AccessRow> table;
  for (const Route& route : routes_) {
    const std::string path = path_of(route.segments);
    table.push_back({route.method, path, route.access});
  }
  return table;
}

}  // namespace copunctal
