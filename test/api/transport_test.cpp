// What the network may do to the server: be slow, be rude, be many, go away.
#include <gtest/gtest.h>

#include <csignal>
#include <future>
#include <nlohmann/json.hpp>

#include "api/http_client.h"
#include "api/running_server.h"

using namespace copunctal;
using namespace std::chrono_literals;

namespace {

ServerOptions impatient() {
  ServerOptions options;
  options.idle = 300ms;
  options.header = 300ms;
  options.body = 300ms;
  options.drain = 1000ms;
  return options;
}

bool is_well(std::uint16_t port) {
  HttpClient client(port);
  const auto reply = client.ask("GET", "/api/health");
  return reply && reply->status == 200;
}

/// The status of the reply to these very bytes; 0 when the server just hangs up.
int status_of(std::uint16_t port, const std::string& bytes) {
  HttpClient client(port);
  (void)client.send(bytes);
  const auto reply = client.receive(true, 3s);
  return reply ? reply->status : 0;
}

std::string host_line(std::uint16_t port) {
  return "Host: 127.0.0.1:" + std::to_string(port) + "\r\n";
}

}  // namespace

TEST(Transport, keeps_a_connection_for_many_requests) {
  RunningServer server;
  HttpClient client(server.port());
  for (int i = 0; i < 100; ++i) {
    const auto reply = client.ask("GET", "/api/health");
    ASSERT_TRUE(reply) << i;
    ASSERT_EQ(reply->status, 200);
  }
  // Three at once: each gets its reply, in order.
  const std::string one = client.request_text("GET", "/api/health");
  const std::string other = client.request_text("GET", "/nothing");
  ASSERT_TRUE(client.send(one + other + one));
  EXPECT_EQ(client.receive()->status, 200);
  EXPECT_EQ(client.receive()->status, 404);
  EXPECT_EQ(client.receive()->status, 200);
}

TEST(Transport, closes_when_asked_to) {
  RunningServer server;
  HttpClient client(server.port());
  const auto reply = client.ask("GET", "/api/health", "", {{"Connection", "close"}});
  ASSERT_TRUE(reply);
  EXPECT_TRUE(client.is_closed_within(1s));
}

TEST(Transport, answers_head_with_the_headers_alone) {
  RunningServer server;
  HttpClient client(server.port());
  const auto head = client.ask("HEAD", "/");
  ASSERT_TRUE(head);
  EXPECT_EQ(head->status, 200);
  EXPECT_EQ(head->headers.at("content-length"),
            std::to_string(client.ask("GET", "/")->body.size()));
}

TEST(Transport, serves_both_loopback_addresses_and_no_other) {
  RunningServer server;
  HttpClient six(server.port(), /*over_ipv6=*/true);
  if (!six.is_connected()) GTEST_SKIP() << "no IPv6 loopback here";
  const auto reply = six.ask("PUT", "/api/health");
  ASSERT_TRUE(reply);
  EXPECT_EQ(reply->status, 405) << "past the checks of Host and Origin";
}

TEST(Transport, hangs_up_on_who_says_nothing_or_says_it_too_slowly) {
  RunningServer server(impatient());
  HttpClient silent(server.port());
  HttpClient half_header(server.port());
  HttpClient half_body(server.port());
  ASSERT_TRUE(half_header.send("GET /api/health HTTP/1.1\r\nHost: 127."));
  ASSERT_TRUE(half_body.send(
      half_body.request_text("POST", "/api/practicals", "{", {{"Content-Length", "2"}})));
  EXPECT_TRUE(silent.is_closed_within(3s));
  EXPECT_TRUE(half_header.is_closed_within(3s));
  EXPECT_TRUE(half_body.is_closed_within(3s));
  EXPECT_TRUE(is_well(server.port()));
}

TEST(Transport, is_not_held_up_by_others_that_wait) {
  RunningServer server;
  std::vector<std::unique_ptr<HttpClient>> waiting;
  for (int i = 0; i < 200; ++i) {
    waiting.push_back(std::make_unique<HttpClient>(server.port()));
    (void)waiting.back()->send("GET /api/health HTTP/1.1\r\nHost:");
  }
  const auto start = std::chrono::steady_clock::now();
  EXPECT_TRUE(is_well(server.port()));
  EXPECT_LT(std::chrono::steady_clock::now() - start, 2s);
}

TEST(Transport, takes_no_more_connections_than_it_may) {
  ServerOptions options;
  options.most_connections = 5;
  RunningServer server(options);
  std::vector<std::unique_ptr<HttpClient>> clients;
  for (int i = 0; i < 5; ++i) {
    clients.push_back(std::make_unique<HttpClient>(server.port()));
    ASSERT_TRUE(clients.back()->ask("GET", "/api/health"));
  }
  EXPECT_FALSE(is_well(server.port()));
  clients.pop_back();
  bool is_taken = false;
  for (int i = 0; i < 100 && !is_taken; ++i) {
    std::this_thread::sleep_for(10ms);
    is_taken = is_well(server.port());
  }
  EXPECT_TRUE(is_taken) << "a place given back is a place again";
}

TEST(Transport, refuses_a_body_over_one_megabyte_legibly) {
  RunningServer server;
  HttpClient announced(server.port());
  const std::string body = "{\"name\":\"" + std::string(20'000'000, 'x') + "\"}";
  // A browser sends everything before it looks for a reply.
  EXPECT_TRUE(announced.send(announced.request_text("POST", "/api/practicals", body)));
  const auto reply = announced.receive();
  ASSERT_TRUE(reply);
  EXPECT_EQ(reply->status, 413);
  EXPECT_EQ(nlohmann::json::parse(reply->body)["error"]["code"], "too_large");

  HttpClient chunked(server.port());
  ASSERT_TRUE(chunked.send(chunked.request_text(
      "POST", "/api/practicals", "", {{"Content-Length", ""}, {"Transfer-Encoding", "chunked"}})));
  for (int i = 0; i < 20; ++i)
    if (!chunked.send("10000\r\n" + std::string(0x10000, 'x') + "\r\n")) break;
  const auto chunked_reply = chunked.receive();
  ASSERT_TRUE(chunked_reply);
  EXPECT_EQ(chunked_reply->status, 413);
  EXPECT_TRUE(is_well(server.port()));
}

TEST(Transport, takes_a_chunked_body_and_one_held_back) {
  RunningServer server;
  HttpClient chunked(server.port());
  ASSERT_TRUE(chunked.send(
      chunked.request_text("POST", "/api/practicals", "2\r\n{}\r\n0\r\n\r\n",
                           {{"Content-Length", ""}, {"Transfer-Encoding", "chunked"}})));
  EXPECT_EQ(chunked.receive()->status, 201);

  HttpClient polite(server.port());
  ASSERT_TRUE(polite.send(polite.request_text(
      "POST", "/api/practicals", "", {{"Content-Length", "2"}, {"Expect", "100-continue"}})));
  EXPECT_EQ(polite.receive(false)->status, 100);
  ASSERT_TRUE(polite.send("{}"));
  EXPECT_EQ(polite.receive()->status, 201);
}

// Two readings of where one request ends are how requests are smuggled past a check.
TEST(Transport, refuses_requests_that_can_be_read_in_two_ways) {
  RunningServer server;
  const std::uint16_t port = server.port();
  const std::string head = "POST /api/practicals HTTP/1.1\r\n" + host_line(port) +
                           "Content-Type: application/json\r\nX-Copunctal: 1\r\n";
  const auto refused = [&](const std::string& bytes) {
    const int status = status_of(port, bytes);
    return status == 400 || status == 0;
  };
  EXPECT_TRUE(refused(head + "Content-Length: 2\r\nTransfer-Encoding: chunked\r\n\r\n{}"));
  EXPECT_TRUE(refused(head + "Transfer-Encoding: chunked\r\nContent-Length: 2\r\n\r\n{}"));
  EXPECT_TRUE(refused(head + "Content-Length: 2\r\nContent-Length: 3\r\n\r\n{}"));
  EXPECT_TRUE(refused(head + "Content-Length: -1\r\n\r\n{}"));
  EXPECT_TRUE(refused(head + "Content-Length: 2x\r\n\r\n{}"));
  EXPECT_TRUE(refused(head + "Content-Length: 99999999999999999999999\r\n\r\n{}"));
  EXPECT_TRUE(refused(head + "Content-Length : 2\r\n\r\n{}"));
  EXPECT_TRUE(refused("GET /api/health HTTP/1.1\n" + host_line(port) + "\n"));
  EXPECT_TRUE(refused("GET /api/health\r\n\r\n"));
  EXPECT_TRUE(refused("GET /api/health HTTP/1.1\r\n" + host_line(port) + host_line(port) + "\r\n"));
  EXPECT_TRUE(refused("GET /api/health HTTP/9.9\r\n" + host_line(port) + "\r\n"));
  EXPECT_TRUE(refused(std::string("GET /\0 HTTP/1.1\r\n", 18) + host_line(port) + "\r\n"));
  EXPECT_TRUE(refused("\x16\x03\x01\x02\x00 TLS, this is not\r\n\r\n"));
  EXPECT_EQ(status_of(port, head + "Content-Length: 2\r\n\r\n{}"), 201) << "the base must be good";
}

TEST(Transport, refuses_headers_without_end) {
  RunningServer server;
  const std::string start = "GET /api/health HTTP/1.1\r\n" + host_line(server.port());
  EXPECT_EQ(status_of(server.port(), start + "X: " + std::string(40'000, 'x') + "\r\n\r\n"), 400);
  std::string many = start;
  for (int i = 0; i < 10'000; ++i) many += "X" + std::to_string(i) + ": y\r\n";
  EXPECT_EQ(status_of(server.port(), many + "\r\n"), 400);
  EXPECT_EQ(status_of(server.port(), "GET /" + std::string(40'000, 'x')), 400);
  EXPECT_TRUE(is_well(server.port()));
}

TEST(Transport, names_a_port_that_is_taken) {
  RunningServer server;
  ServerOptions options;
  options.port = server.port();
  const auto second = serve(server.desk(), {}, options, [](std::uint16_t) { FAIL(); });
  ASSERT_FALSE(second);
  EXPECT_EQ(second.error().kind, Error::Kind::io);
  EXPECT_NE(second.error().message.find(std::to_string(server.port())), std::string::npos);
  EXPECT_NE(second.error().remedy.find("--port"), std::string::npos);
}

TEST(Transport, finishes_what_is_under_way_when_stopped) {
  RunningServer server(impatient());
  HttpClient idle(server.port());
  ASSERT_TRUE(idle.ask("GET", "/api/health"));
  HttpClient busy(server.port());
  ASSERT_TRUE(
      busy.send(busy.request_text("POST", "/api/practicals", "{", {{"Content-Length", "2"}})));
  std::this_thread::sleep_for(50ms);
  server.ask_to_stop();
  std::this_thread::sleep_for(50ms);
  ASSERT_TRUE(busy.send("}"));
  const auto reply = busy.receive();
  ASSERT_TRUE(reply);
  EXPECT_EQ(reply->status, 201);
  EXPECT_TRUE(busy.is_closed_within(1s));
  EXPECT_TRUE(idle.is_closed_within(1s));
  EXPECT_TRUE(server.stop());
  EXPECT_FALSE(is_well(server.port()));
}

TEST(Transport, does_not_wait_for_ever_when_stopped) {
  ServerOptions options;
  options.drain = 200ms;
  RunningServer server(options);
  HttpClient busy(server.port());
  ASSERT_TRUE(busy.send("GET /api/health HTTP/1.1\r\nHost:"));
  std::this_thread::sleep_for(50ms);
  const auto start = std::chrono::steady_clock::now();
  EXPECT_TRUE(server.stop());
  EXPECT_LT(std::chrono::steady_clock::now() - start, 3s);
}

TEST(Transport, stops_at_a_signal) {
  RunningServer server(impatient());
  ASSERT_TRUE(is_well(server.port()));
  std::raise(SIGTERM);
  std::this_thread::sleep_for(100ms);
  EXPECT_FALSE(is_well(server.port()));
  EXPECT_TRUE(server.stop());
}

// A class's answers end at the same moment.
TEST(Transport, takes_a_burst_of_answers) {
  RunningServer server;
  constexpr int people = 60;
  std::vector<std::future<bool>> replies;
  const std::string practical = server.desk().create_practical({})->id;
  for (int person = 0; person < people; ++person)
    replies.push_back(std::async(std::launch::async, [&] {
      HttpClient client(server.port());
      const auto begun = client.ask("POST", "/api/practicals/" + practical + "/sittings",
                                    R"({"consent":true,"tell":"tell","sex_at_birth":null})");
      return begun && begun->status == 201;
    }));
  for (auto& reply : replies) EXPECT_TRUE(reply.get());
  EXPECT_EQ(server.desk().practicals()->front().sittings, people);
}
