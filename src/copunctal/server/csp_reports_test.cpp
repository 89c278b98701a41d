#include "copunctal/server/csp_reports.h"

#include <gtest/gtest.h>

#include "copunctal/server/guard.h"

using namespace copunctal;

namespace {

constexpr const char* by_uri =
    R"({"csp-report":{"document-uri":"http://127.0.0.1:8471/join","violated-directive":"script-src-elem",
       "effective-directive":"script-src-elem","blocked-uri":"inline","status-code":200}})";
constexpr const char* by_report_to =
    R"([{"type":"deprecation","body":{"id":"x"}},
        {"type":"csp-violation","url":"http://192.0.2.2:8471/","body":{"effectiveDirective":"img-src",
         "blockedURL":"https://elsewhere.example/secret?who=somebody"}}])";

struct Clock {
  std::int64_t now = 0;
  CspReports reports{[this] { return now; }};
};

Request report_with(const std::string& type, const std::string& origin) {
  Request request{"POST",
                  "/api/csp",
                  {{"host", "127.0.0.1:8471"}, {"content-type", type}},
                  by_uri,
                  local_arrival(8471)};
  if (!origin.empty()) request.headers.emplace_back("origin", origin);
  return request;
}

}  // namespace

TEST(CspReports, of_both_shapes_are_counted_and_keep_no_address) {
  Clock clock;
  ASSERT_TRUE(clock.reports.take(by_uri));
  ASSERT_TRUE(clock.reports.take(by_report_to));
  const CspSummary summary = clock.reports.summary();
  EXPECT_EQ(summary.reports, 2U);
  EXPECT_EQ(summary.last,
            (std::vector<CspReport>{{"img-src", "an address"}, {"script-src-elem", "inline"}}));
}

TEST(CspReports, hold_no_word_that_somebody_else_chose) {
  Clock clock;
  ASSERT_TRUE(clock.reports.take(
      R"x({"csp-report":{"effective-directive":"<b>ann</b>","blocked-uri":"javascript:alert(1)"}})x"));
  EXPECT_EQ(clock.reports.summary().last.at(0), (CspReport{"other", "an address"}));
}

TEST(CspReports, beyond_the_limit_of_a_minute_are_counted_but_not_looked_at) {
  Clock clock;
  for (std::size_t i = 0; i < CspReports::most_a_minute; ++i)
    ASSERT_TRUE(clock.reports.take(by_uri));
  const auto refused = clock.reports.take(by_uri);
  ASSERT_FALSE(refused);
  EXPECT_EQ(refused.error().status, 429);
  EXPECT_EQ(clock.reports.summary().left_aside, 1U);
  EXPECT_EQ(clock.reports.summary().reports, CspReports::most_a_minute + 1);
  EXPECT_EQ(clock.reports.summary().last.size(), CspReports::most_kept);
  clock.now += 60'000'000'000;
  EXPECT_TRUE(clock.reports.take(by_uri));
}

TEST(CspReports, that_are_none_or_too_large_are_refused) {
  Clock clock;
  for (const char* body :
       {"", "{", "{}", "[]", "7", R"({"csp-report":7})", R"([{"type":"csp-violation"}])"}) {
    const auto refused = clock.reports.take(body);
    ASSERT_FALSE(refused) << body;
    EXPECT_EQ(refused.error().status, 422) << body;
  }
  const auto refused = clock.reports.take(std::string(CspReports::largest_body + 1, ' '));
  ASSERT_FALSE(refused);
  EXPECT_EQ(refused.error().status, 413);
  EXPECT_EQ(clock.reports.summary().reports, 0U);
}

TEST(CspReports, pass_the_guard_as_browsers_send_them_and_no_other_way) {
  // No header of ours; with a page's Referrer-Policy the Origin may be "null".
  EXPECT_TRUE(check_request(report_with("application/csp-report", "null")));
  EXPECT_TRUE(check_request(report_with("application/reports+json", "http://127.0.0.1:8471")));
  for (const char* type : {"text/plain", "application/x-www-form-urlencoded", ""})
    EXPECT_FALSE(check_request(report_with(type, ""))) << type;
  EXPECT_FALSE(check_request(report_with("application/csp-report", "http://elsewhere.example")));
  Request elsewhere = report_with("application/csp-report", "");
  elsewhere.target = "/api/practicals";
  EXPECT_FALSE(check_request(elsewhere)) << "no other route takes this type";
}

TEST(CspReports, are_asked_for_by_every_answer) {
  Response response;
  protect(response);
  for (const auto& [name, value] : response.headers) {
    if (name == "Content-Security-Policy") {
      EXPECT_NE(value.find("; report-uri /api/csp"), std::string::npos);
      return;
    }
  }
  FAIL() << "no policy";
}
