#include "copunctal/server/guard.h"

#include <gtest/gtest.h>

#include <map>

using namespace copunctal;

namespace {

constexpr std::uint16_t port = 8471;

Request from_our_page(std::string method = "PUT") {
  Request request;
  request.method = std::move(method);
  request.target = "/api/practicals";
  request.arrival = local_arrival(port);
  request.headers = {{"host", "127.0.0.1:8471"},
                     {"content-type", "application/json"},
                     {"x-copunctal", "1"},
                     {"origin", "http://127.0.0.1:8471"},
                     {"sec-fetch-site", "same-origin"}};
  return request;
}

Request with(Request request, const std::string& name, const std::string& value) {
  std::erase_if(request.headers, [&](const auto& header) { return header.first == name; });
  request.headers.emplace_back(name, value);
  return request;
}

Request without(Request request, const std::string& name) {
  std::erase_if(request.headers, [&](const auto& header) { return header.first == name; });
  return request;
}

int status_of(const Request& request) {
  const auto checked = check_request(request);
  return checked ? 200 : checked.error().status;
}

}  // namespace

TEST(Guard, lets_our_own_pages_pass) {
  for (const char* method : {"GET", "HEAD", "PUT", "POST", "DELETE"})
    EXPECT_EQ(status_of(from_our_page(method)), 200);
  EXPECT_EQ(status_of(without(without(from_our_page(), "origin"), "sec-fetch-site")), 200)
      << "a command-line client, or an older browser";
  EXPECT_EQ(status_of(with(from_our_page(), "content-type", "Application/JSON; charset=utf-8")),
            200);
  EXPECT_EQ(status_of(with(with(from_our_page(), "host", "LOCALHOST:8471"), "origin",
                           "http://localhost:8471")),
            200);
  EXPECT_EQ(
      status_of(with(with(from_our_page(), "host", "[::1]:8471"), "origin", "http://[::1]:8471")),
      200);
}

// A name that its owner re-binds to 127.0.0.1 makes the browser take our answers for theirs.
TEST(Guard, answers_under_loopback_names_only) {
  for (const char* host : {"example.org", "example.org:8471", "127.0.0.1", "127.0.0.1:80",
                           "127.0.0.1:84710", "127.0.0.2:8471", "localhost.example.org:8471",
                           "127.0.0.1:8471.example.org", "[::2]:8471", "", "0.0.0.0:8471"})
    for (const char* method : {"GET", "PUT"})
      EXPECT_EQ(status_of(with(from_our_page(method), "host", host)), 421) << host;
  EXPECT_EQ(status_of(without(from_our_page("GET"), "host")), 421);
}

TEST(Guard, refuses_changes_that_another_page_can_send) {
  EXPECT_EQ(status_of(without(from_our_page(), "content-type")), 403);
  EXPECT_EQ(status_of(without(from_our_page(), "x-copunctal")), 403);
  EXPECT_EQ(status_of(with(from_our_page(), "x-copunctal", "0")), 403);
  for (const char* type : {"text/plain", "application/x-www-form-urlencoded", "multipart/form-data",
                           "text/plain; application/json", "application/jsonp", ""})
    EXPECT_EQ(status_of(with(from_our_page(), "content-type", type)), 403) << type;
  for (const char* origin : {"http://example.org", "null", "https://127.0.0.1:8471",
                             "http://127.0.0.1:8472", "http://localhost:8471", ""})
    EXPECT_EQ(status_of(with(from_our_page(), "origin", origin)), 403) << origin;
  for (const char* site : {"cross-site", "same-site", "none", ""})
    EXPECT_EQ(status_of(with(from_our_page(), "sec-fetch-site", site)), 403) << site;
  for (const char* method : {"POST", "DELETE", "PATCH", "OPTIONS"})
    EXPECT_EQ(status_of(without(from_our_page(method), "x-copunctal")), 403) << method;
}

TEST(Guard, does_not_echo) {
  EXPECT_EQ(status_of(from_our_page("TRACE")), 405);
  EXPECT_EQ(status_of(without(from_our_page("TRACE"), "x-copunctal")), 405);
}

// On the class's network the address that was asked is the only name, and its scheme the only one.
TEST(Guard, on_the_network_answers_under_the_address_alone) {
  for (const bool is_tls : {false, true}) {
    const std::string scheme = is_tls ? "https://" : "http://",
                      other_scheme = is_tls ? "http://" : "https://";
    const auto from_the_class = [&](const std::string& host, const std::string& origin) {
      Request request = with(with(from_our_page(), "host", host), "origin", origin);
      request.arrival = {.is_local = false,
                         .is_tls = is_tls,
                         .peer = "192.0.2.7",
                         .address = "192.0.2.2",
                         .port = port};
      return request;
    };
    const std::string ours = "192.0.2.2:8471";
    EXPECT_EQ(status_of(from_the_class(ours, scheme + ours)), 200);
    EXPECT_EQ(status_of(from_the_class(ours, other_scheme + ours)), 403);
    EXPECT_EQ(status_of(from_the_class(ours, scheme + "127.0.0.1:8471")), 403);
    for (const char* host : {"127.0.0.1:8471", "localhost:8471", "[::1]:8471", "192.0.2.2",
                             "192.0.2.3:8471", "192.0.2.2:8472", "class.example.org:8471", ""})
      EXPECT_EQ(status_of(from_the_class(host, scheme + ours)), 421) << host;
    Request standard = from_the_class("192.0.2.2", scheme + "192.0.2.2");
    standard.arrival.port = is_tls ? 443 : 80;
    EXPECT_EQ(status_of(standard), 200) << "a scheme's own port is not written";
  }
  Request unknown = from_our_page();
  unknown.arrival = {};
  EXPECT_EQ(status_of(unknown), 421) << "by no door we know";
  EXPECT_EQ(status_of(with(unknown, "host", ":0")), 421);
}

// The type in which pictures come is for the instructor's pages alone.
TEST(Guard, takes_bytes_on_loopback_only) {
  Request picture = with(from_our_page("POST"), "content-type", "application/octet-stream");
  picture.target = picture_path;
  EXPECT_EQ(status_of(picture), 200);
  picture = with(with(picture, "host", "192.0.2.2:8471"), "origin", "http://192.0.2.2:8471");
  picture.arrival = {.is_local = false,
                     .is_tls = false,
                     .peer = "192.0.2.7",
                     .address = "192.0.2.2",
                     .port = port};
  EXPECT_EQ(status_of(picture), 403);
}

TEST(Guard, refuses_headers_said_twice) {
  for (const char* name : {"host", "content-type", "origin", "x-copunctal"}) {
    Request request = from_our_page();
    request.headers.emplace_back(name, *request.header(name));
    EXPECT_EQ(status_of(request), 400) << name;
  }
}

TEST(Guard, protects_every_response) {
  Response response;
  protect(response);
  std::map<std::string, std::string> headers;
  for (const auto& [name, value] : response.headers)
    EXPECT_TRUE(headers.emplace(name, value).second) << name << " twice";
  EXPECT_EQ(headers["X-Content-Type-Options"], "nosniff");
  EXPECT_EQ(headers["Referrer-Policy"], "no-referrer");
  EXPECT_EQ(headers["X-Frame-Options"], "DENY");
  EXPECT_EQ(headers["Cross-Origin-Opener-Policy"], "same-origin");
  EXPECT_EQ(headers["Cross-Origin-Embedder-Policy"], "require-corp");
  EXPECT_EQ(headers["Cross-Origin-Resource-Policy"], "same-origin");
  EXPECT_EQ(headers["Cache-Control"], "no-store");
  const std::string policy = headers["Content-Security-Policy"];
  EXPECT_TRUE(policy.starts_with("default-src 'none';"));
  // WebAssembly of our own may be compiled; nothing else that is called unsafe is allowed.
  const std::string compiled = "script-src 'self' 'wasm-unsafe-eval';";
  const std::size_t at = policy.find(compiled);
  ASSERT_NE(at, std::string::npos);
  EXPECT_EQ((policy.substr(0, at) + policy.substr(at + compiled.size())).find("unsafe"),
            std::string::npos);
  EXPECT_EQ(policy.find("http"), std::string::npos) << "nothing is loaded from elsewhere";
  EXPECT_EQ(headers.count("Access-Control-Allow-Origin"), 0U);
  EXPECT_EQ(headers.count("Server"), 0U);

  Response hashed;
  hashed.headers.emplace_back("Cache-Control", "public, max-age=31536000, immutable");
  protect(hashed);
  EXPECT_EQ(std::count_if(hashed.headers.begin(), hashed.headers.end(),
                          [](const auto& h) { return h.first == "Cache-Control"; }),
            1);
}
