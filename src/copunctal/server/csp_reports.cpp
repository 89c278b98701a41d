#include "copunctal/server/csp_reports.h"

#include <algorithm>
#include <array>
#include <nlohmann/json.hpp>
#include <utility>

namespace copunctal {
namespace {

using nlohmann::json;
using nlohmann::ordered_json;

constexpr std::size_t most_in_a_body = 10;
constexpr int deepest = 8;

/// Content Security Policy Level 3 and Trusted Types: names a browser may report.
constexpr auto directives = std::to_array<std::string_view>(
    {"default-src",  "script-src",      "script-src-elem", "script-src-attr",
     "style-src",    "style-src-elem",  "style-src-attr",  "img-src",
     "font-src",     "connect-src",     "worker-src",      "manifest-src",
     "media-src",    "frame-src",       "child-src",       "object-src",
     "form-action",  "frame-ancestors", "base-uri",        "require-trusted-types-for",
     "trusted-types"});
constexpr auto blocked_words = std::to_array<std::string_view>(
    {"inline", "eval", "wasm-eval", "trusted-types-policy", "trusted-types-sink", "data", "blob"});

/// The text of the first of these keys that has one; else nothing.
std::string text_of(const json& report, std::initializer_list<const char*> keys) {
  for (const char* key : keys)
    if (const auto found = report.find(key); found != report.end() && found->is_string())
      return found->get<std::string>();
  return {};
}

template <std::size_t Count>
bool is_among(const std::array<std::string_view, Count>& words, std::string_view word) {
  return std::find(words.begin(), words.end(), word) != words.end();
}

/// Nothing that a page or a stranger wrote is kept: only words of our own lists.
CspReport without_addresses(const json& report) {
  std::string directive =
      text_of(report, {"effective-directive", "effectiveDirective", "violated-directive"});
  directive = directive.substr(0, directive.find(' '));
  const std::string blocked = text_of(report, {"blocked-uri", "blockedURL"});
  return {is_among(directives, directive) ? directive : "other", blocked.empty() ? "nothing said"
                                                                 : is_among(blocked_words, blocked)
                                                                     ? blocked
                                                                     : "an address"};
}

tl::unexpected<Refusal> no_report() {
  return refuse(422, "body", "this is no report of a content security policy",
                "leave reporting to the browser");
}

Answered<std::vector<CspReport>> reports_in(std::string_view body) {
  const json parsed = json::parse(
      body, [](int depth, json::parse_event_t, json&) { return depth <= deepest; }, false);
  std::vector<CspReport> reports;
  if (parsed.is_object()) {
    const auto one = parsed.find("csp-report");
    if (one == parsed.end() || !one->is_object()) return no_report();
    reports.push_back(without_addresses(*one));
  } else if (parsed.is_array()) {
    for (const json& one : parsed)
      if (one.is_object() && text_of(one, {"type"}) == "csp-violation" && one.contains("body") &&
          one["body"].is_object() && reports.size() < most_in_a_body)
        reports.push_back(without_addresses(one["body"]));
  }
  if (reports.empty()) return no_report();
  return reports;
}

Response summary_response(const CspSummary& summary) {
  ordered_json last = ordered_json::array();
  for (const CspReport& report : summary.last)
    last.push_back({{"directive", report.directive}, {"blocked", report.blocked}});
  Response response;
  response.content_type = "application/json";
  response.text = ordered_json{
      {"reports", summary.reports},
      {"left_aside", summary.left_aside},
      {"last", last}}.dump();
  return response;
}

}  // namespace

Answered<void> CspReports::take(std::string_view body) {
  if (body.size() > largest_body)
    return refuse(413, "body", "a report has at most 16 kB", "leave reporting to the browser");
  constexpr std::int64_t minute = 60'000'000'000;
  const std::int64_t now = steady_ns_();
  {
    const std::lock_guard lock(mutex_);
    while (!looked_at_.empty() && now - looked_at_.front() >= minute) looked_at_.pop_front();
    if (looked_at_.size() >= most_a_minute) {
      ++summary_.reports;
      ++summary_.left_aside;
      auto refused = refuse(429, "report", "too many reports came within a minute",
                            "leave reporting to the browser");
      refused.value().retry_after_s = 60;
      return refused;
    }
    looked_at_.push_back(now);
  }
  COPUNCTAL_TRY(auto reports, reports_in(body));
  const std::lock_guard lock(mutex_);
  summary_.reports += reports.size();
  for (CspReport& report : reports) summary_.last.insert(summary_.last.begin(), std::move(report));
  if (summary_.last.size() > most_kept) summary_.last.resize(most_kept);
  return {};
}

CspSummary CspReports::summary() const {
  const std::lock_guard lock(mutex_);
  return summary_;
}

void add_csp(Router& router, CspReports& reports) {
  router.add(Access::anyone, "POST", csp_path,
             [&reports](const Request& request, const PathParts&) -> Answered<Response> {
               COPUNCTAL_TRY_VOID(reports.take(request.body));
               Response response;
               response.status = 204;
               return response;
             });
  router.add(Access::instructor, "GET", "/api/csp-reports",
             [&reports](const Request&, const PathParts&) -> Answered<Response> {
               return summary_response(reports.summary());
             });
}

}  // namespace copunctal
