// An invented class for a rehearsal: people drawn by lot, and what they do, played through the
// program's own routes. Nobody takes part.
//
// Who they are comes from the seed: sex, kind and separation by the priors of an outcome, a body
// from the population, and noise for every look. They see the plates as pixels, as they are sent to
// a page, and know neither set nor recipe (reader/reader.h). It knows no HTTP: asking a route and
// waiting are handed in.
#pragma once

#include <chrono>
#include <cstddef>
#include <cstdint>
#include <functional>
#include <string>
#include <string_view>
#include <vector>

#include "copunctal/base/result.h"
#include "copunctal/display/display.h"

namespace copunctal {

/// Said on every page, in every reply and in the practical's name.
inline constexpr std::string_view invented_words = "INVENTED: rehearsal, nobody took part";

struct InventedPerson {
  bool is_man = false;
  std::string observer;  ///< "normal", "deutan:5"; of the grid of an outcome.
  bool is_late = false;  ///< Comes when the others are through their first plates.
  bool refuses = false;  ///< Does not consent, so nothing begins.
  bool is_off_record = false;
  bool takes_loan = false;  ///< Willing to be lent an observer by lot, where one is lent.
  bool is_cut_off = false;  ///< Loses the network for a while: answers wait and are sent late.
};

inline constexpr std::size_t fewest_invented = 6, most_invented = 300;

/// `people` of them in the order in which they come: two are late, one refuses, one is off the
/// record, every third is cut off and every fourth takes a loan. expects fewest_invented or more.
std::vector<InventedPerson> invented_class(std::size_t people, std::uint64_t seed);

struct RouteReply {
  int status = 0;  ///< 0: not reached.
  std::string body;
};
using AskRoute = std::function<RouteReply(const std::string& method, const std::string& path,
                                          const std::string& body)>;

/// What the class did, counted.
struct InventedReport {
  std::size_t people = 0, sittings = 0, ended = 0, late = 0, refused = 0, off_record = 0,
              by_lot = 0;
  std::size_t answers = 0, queued = 0;  ///< Stored; of these, sent after the cut.
  std::size_t sent_again = 0;           ///< Retries, every one of which was known already.
};

/// Everybody sits the practical, which must be open. `lends`: whether it lends observers. `wait` is
/// called before every answer, and stops the class by returning false. Error: io with what a route
/// replied that nobody expected, stopped.
Result<InventedReport> play_invented_class(
    const std::vector<InventedPerson>& people, std::uint64_t seed, const Display& display,
    const std::string& practical, bool lends, const AskRoute& ask,
    const std::function<bool()>& wait, const std::function<void(const InventedReport&)>& report);

}  // namespace copunctal
