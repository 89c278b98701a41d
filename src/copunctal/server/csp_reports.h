// What browsers report of the content security policy: a page tried what it may not.
//
// None is expected. Counted, and the last few kept in memory: which rule, and which sort of thing
// was blocked, never an address.
#pragma once

#include <chrono>
#include <cstddef>
#include <cstdint>
#include <deque>
#include <functional>
#include <mutex>
#include <string>
#include <string_view>
#include <vector>

#include "copunctal/server/refusal.h"
#include "copunctal/server/router.h"

namespace copunctal {

/// The route that browsers report to, without the header that a change of our pages carries.
inline constexpr std::string_view csp_path = "/api/csp";

struct CspReport {
  std::string directive;  ///< "script-src-elem"; "other" for what is no directive known to us.
  std::string blocked;    ///< "inline", "eval", ... ; "an address" for whatever came from one.
  bool operator==(const CspReport&) const = default;
};

struct CspSummary {
  std::size_t reports = 0;      ///< Counted since the start.
  std::size_t left_aside = 0;   ///< Of these, not looked at: too many in a minute.
  std::vector<CspReport> last;  ///< Newest first.
};

/// From any number of threads.
class CspReports {
 public:
  static constexpr std::size_t most_kept = 5;
  static constexpr std::size_t most_a_minute = 30;       ///< Looked at, of all browsers together.
  static constexpr std::size_t largest_body = 16 << 10;  ///< Bytes.

  explicit CspReports(std::function<std::int64_t()> steady_ns) : steady_ns_(std::move(steady_ns)) {}

  /// The body of `report-uri` ({"csp-report": {...}}) or of `report-to` (a list of reports, of
  /// which those of type "csp-violation" count). 413 larger than above; 422 for what is neither;
  /// 429 too many within a minute, which are counted all the same.
  Answered<void> take(std::string_view body);
  CspSummary summary() const;

 private:
  const std::function<std::int64_t()> steady_ns_;
  mutable std::mutex mutex_;
  std::deque<std::int64_t> looked_at_;  ///< When, within the last minute.
  CspSummary summary_;
};

/// Adds POST /api/csp and GET /api/csp-reports. `reports` must outlive the router.
void add_csp(Router& router, CspReports& reports);

}  // namespace copunctal
