// Which handler answers a method and a path.
#pragma once

#include <functional>
#include <string>
#include <string_view>
#include <vector>

#include "copunctal/server/refusal.h"

namespace copunctal {

/// The parts of the path that stood where the pattern has a ":name", in their order.
using PathParts = std::vector<std::string_view>;
using Handler = std::function<Answered<Response>(const Request&, const PathParts&)>;

class Router {
 public:
  /// Pattern "/api/sittings/:id/answers/:answer"; a part matches one non-empty path segment.
  void add(std::string method, std::string_view pattern, Handler handler);

  /// Answers, or refuses: 404 for a path no pattern fits; 405 for another method, naming those
  /// there are in `allowed`. HEAD is answered as GET.
  Answered<Response> answer(const Request& request, std::string& allowed) const;
  /// Every route as documentation names it: "GET /api/sittings/:id".
  std::vector<std::string> routes() const;

 private:
  struct Route {
    std::string method;
    std::vector<std::string> segments;
    Handler handler;
  };
  std::vector<Route> routes_;
};

}  // namespace copunctal
