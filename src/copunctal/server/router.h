// Which handler answers a method and a path, and who may ask it.
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

/// Who may ask a route. Every route says so when it is added.
enum class Access {
  anyone,        ///< The start page, its assets, joining.
  participant,   ///< Who has joined the class.
  own_sitting,   ///< The same; the path's first part is a sitting, and it must be theirs.
  demonstrator,  ///< Who helps to run the class, or the instructor. For others it is not there.
  instructor,    ///< Who sits at this computer. From elsewhere the route is not there at all.
};
/// "anyone", "participant", "own sitting", "demonstrator", "instructor".
std::string_view name_of(Access access);

enum class Role { nobody, participant, demonstrator, instructor };

/// Who asks, and which sittings are theirs. Both functions are asked of participants and
/// demonstrators only.
struct Asker {
  Role role = Role::nobody;
  std::function<bool(std::string_view sitting)> may_have = {};  ///< Theirs, or nobody's yet.
  std::function<void(std::string_view sitting)> takes = {};     ///< Theirs from now on.
};

/// A route as docs/api.md lists it.
struct AccessRow {
  std::string method, path;
  Access access;
};

class Router {
 public:
  /// Pattern "/api/sittings/:id/answers/:answer"; a part matches one non-empty path segment.
  void add(Access access, std::string method, std::string_view pattern, Handler handler);

  /// Answers, or refuses: 404 for a path that no pattern fits, or none that this asker may know
  /// of; 405 for another method, naming those there are in `allowed`; 401 for who has to join
  /// first. A sitting of somebody else is answered as one that does not exist, by the same handler.
  /// HEAD is answered as GET.
  Answered<Response> answer(const Request& request, const Asker& asker, std::string& allowed) const;
  /// Every route as documentation names it: "GET /api/sittings/:id".
  std::vector<std::string> routes() const;
  /// Every route with who may ask it, in the order in which they were added.
  std::vector<AccessRow> access_table() const;

 private:
  struct Route {
    Access access;
    std::string method;
    std::vector<std::string> segments;
    Handler handler;
  };
  static Answered<Response> answer_by(const Route& route, const Request& request, PathParts parts,
                                      const Asker& asker);
  std::vector<Route> routes_;
};

}  // namespace copunctal
