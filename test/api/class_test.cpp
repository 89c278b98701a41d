// A class on its own devices: who may ask what, over real connections. 127.0.0.2 stands for this
// computer's address in the room's network, and other addresses of 127.0.0.0/8 for the devices:
// what decides is the address of ours that was asked, and the server takes that one for the
// network's.
#include <gtest/gtest.h>
#include <openssl/ssl.h>

#include <fstream>
#include <map>
#include <nlohmann/json.hpp>
#include <regex>
#include <sstream>

#include "api/http_client.h"
#include "api/running_server.h"
#include "api/tls_client.h"
#include "copunctal/server/join_code.h"

using namespace copunctal;
using namespace std::chrono_literals;
using nlohmann::json;

namespace {

constexpr const char* network = "127.0.0.2";
constexpr const char* unknown_id = "0123456789abcdef0123456789abcdef";

std::int64_t seconds_since_1970() {
  return std::chrono::duration_cast<std::chrono::seconds>(
             std::chrono::system_clock::now().time_since_epoch())
      .count();
}

/// A server that lets a class in.
struct ClassServer {
  ScratchDirectory keys, sets;
  PlateWorkshop workshop;
  ClassDoor door{kernel_random(), system_clocks().steady_ns};
  std::unique_ptr<RunningServer> server;

  explicit ClassServer(bool is_tls = false, ServerOptions options = {},
                       std::chrono::seconds open_for = ClassDoor::open_for, PlateSet in_use = {})
      : workshop(sets.path() / "sets", std::move(in_use)) {
    options.door = &door;
    options.workshop = &workshop;
    options.listener = ClassListener{network, std::nullopt, open_for};
    if (is_tls)
      options.listener->tls = *credentials_for(network, keys.path() / "k", seconds_since_1970());
    server = std::make_unique<RunningServer>(options);
  }
  std::uint16_t port() const { return server->port(); }

  Reply ask(const std::string& method, const std::string& target, const std::string& body = "",
            const std::string& token = "", const std::string& from = "127.0.0.3") {
    HttpClient client(port(), network, from);
    Headers headers;
    if (!token.empty()) headers.emplace_back("Cookie", "sid=" + token);
    auto reply = client.ask(method, target, body, headers);
    if (!reply) throw std::runtime_error("no reply to " + method + " " + target);
    return *reply;
  }
  Reply ask_here(const std::string& method, const std::string& target,
                 const std::string& body = "") {
    HttpClient client(port());
    auto reply = client.ask(method, target, body);
    if (!reply) throw std::runtime_error("no reply to " + method + " " + target);
    return *reply;
  }
  Reply try_code(const std::string& code, const std::string& from = "127.0.0.3") {
    return ask("POST", "/api/join", json{{"code", code}}.dump(), "", from);
  }
  /// The token in the cookie that joining gave.
  std::string join(const std::string& from = "127.0.0.3") {
    const Reply reply = try_code(door.state().code, from);
    std::smatch found;
    const std::string cookie =
        reply.headers.count("set-cookie") ? reply.headers.at("set-cookie") : "";
    if (!std::regex_search(cookie, found, std::regex("^sid=([0-9a-f]{64});")))
      throw std::runtime_error("no cookie: " + reply.body);
    return found[1];
  }
  std::string join_as_demonstrator() {
    const Reply reply = try_code(*door.make_demonstrator_code());
    const std::string cookie = reply.headers.at("set-cookie");
    return cookie.substr(4, 64);
  }
  std::string begin(const std::string& token) {
    const auto practical = server->desk().create_practical({});
    const Reply reply = ask("POST", "/api/practicals/" + practical->id + "/sittings",
                            R"({"consent":true,"tell":"tell","sex_at_birth":null})", token);
    EXPECT_EQ(reply.status, 201) << reply.body;
    return json::parse(reply.body).at("sitting");
  }
  std::vector<AccessRow> table() {
    return Site(server->desk(), sample_pages(), {}, &workshop).access_table();
  }
};

/// A path of the pattern, with this sitting and otherwise what nobody has.
std::string filled(const std::string& pattern, const std::string& sitting) {
  std::string path = pattern;
  if (path.starts_with("/api/sittings/:id")) path.replace(path.find(":id"), 3, sitting);
  return std::regex_replace(path, std::regex(":[a-z]+"), unknown_id);
}

/// A reply without what differs by address and time alone.
std::string shape_of(Reply reply, const std::string& path) {
  for (std::size_t at = 0; (at = reply.body.find(path, at)) != std::string::npos;)
    reply.body.replace(at, path.size(), "PATH");
  std::string shape = std::to_string(reply.status) + "\n";
  reply.headers.erase("content-length");
  for (const auto& [name, value] : reply.headers) shape += name + ": " + value + "\n";
  return shape + reply.body;
}

std::string document(const std::string& path) {
  std::ifstream file(COPUNCTAL_SOURCE_DIR "/" + path);
  std::ostringstream text;
  text << file.rdbuf();
  return text.str();
}

}  // namespace

// docs/api.md has the table; each of its cells is one check here.
TEST(Access, of_every_route_is_as_documented_for_every_role) {
  ClassServer server;
  const std::string mine = server.join("127.0.0.3"), theirs = server.join("127.0.0.4");
  const std::string sitting = server.begin(mine);
  const std::string page = document("docs/api.md");
  // As if it were encrypted, so that a demonstrator may be let in.
  server.door.open({"127.0.0.2", 1, true, "AB"});
  const std::string demonstrator = server.join_as_demonstrator();
  int cells = 0;
  for (const AccessRow& row : server.table()) {
    const bool is_own = row.access == Access::own_sitting;
    // Deleting ends what the next checks ask for: a sitting of its own.
    const std::string path =
        filled(row.path, row.method == "DELETE" ? server.begin(mine) : sitting);
    SCOPED_TRACE(row.method + " " + path);
    const bool is_page = !row.path.starts_with("/api/");
    const std::string body = row.method == "GET" ? "" : "{}";
    const auto is_in = [&](const Reply& reply) {
      ++cells;
      // Past the door: whatever the handler says, it is not what the door says.
      if (reply.status == 401) return false;
      return reply.status != 404 || json::parse(reply.body)["error"]["thing"] != "page";
    };
    const auto is_absent = [&](const Reply& reply) {
      ++cells;
      const std::string nowhere = "/api/nothing/there";
      return shape_of(reply, path) == shape_of(server.ask(row.method, nowhere, body), nowhere);
    };
    const auto is_shut = [&](const Reply& reply) {
      ++cells;
      if (reply.status != 401 || !reply.headers.contains("www-authenticate")) return false;
      return is_page || json::parse(reply.body)["error"]["code"] == "not_joined";
    };

    switch (row.access) {
      case Access::anyone:
        EXPECT_TRUE(is_in(server.ask(row.method, path, body)));
        EXPECT_TRUE(is_in(server.ask(row.method, path, body, mine)));
        EXPECT_TRUE(is_in(server.ask(row.method, path, body, theirs)));
        break;
      case Access::participant:
        EXPECT_TRUE(is_shut(server.ask(row.method, path, body)));
        EXPECT_TRUE(is_in(server.ask(row.method, path, body, mine)));
        EXPECT_TRUE(is_in(server.ask(row.method, path, body, theirs)));
        break;
      case Access::own_sitting: {
        EXPECT_TRUE(is_shut(server.ask(row.method, path, body)));
        // Another person first: nothing of it may be changed by what they ask.
        const std::string none = filled(row.path, unknown_id);
        EXPECT_EQ(shape_of(server.ask(row.method, path, body, theirs), path),
                  shape_of(server.ask(row.method, none, body, theirs), none));
        ++cells;
        EXPECT_TRUE(is_in(server.ask(row.method, path, body, mine)));
        break;
      }
      case Access::demonstrator:
        EXPECT_TRUE(is_absent(server.ask(row.method, path, body)));
        EXPECT_TRUE(is_absent(server.ask(row.method, path, body, mine)));
        EXPECT_TRUE(is_absent(server.ask(row.method, path, body, theirs)));
        break;
      case Access::instructor:
        EXPECT_TRUE(is_absent(server.ask(row.method, path, body)));
        EXPECT_TRUE(is_absent(server.ask(row.method, path, body, mine)));
        EXPECT_TRUE(is_absent(server.ask(row.method, path, body, theirs)));
        break;
    }
    if (row.access == Access::instructor)
      EXPECT_TRUE(is_absent(server.ask(row.method, path, body, demonstrator)));
    else if (!is_own)
      EXPECT_TRUE(is_in(server.ask(row.method, path, body, demonstrator)));
    else
      EXPECT_EQ(server.ask(row.method, path, body, demonstrator).status,
                server.ask(row.method, filled(row.path, unknown_id), body, demonstrator).status);
    cells += is_own ? 1 : 0;
    EXPECT_TRUE(is_in(server.ask_here(row.method, path, body)));

    if (is_page && row.path.starts_with("/assets")) continue;
    const char* others = row.access == Access::anyone        ? "yes | yes | yes"
                         : row.access == Access::participant ? "401 | yes | yes"
                         : is_own                            ? "401 | yes | 404"
                                                             : "404 | 404 | 404";
    const std::string line = "| `" + row.method + " " + row.path + "` | " +
                             std::string(name_of(row.access)) + " | yes | " +
                             (row.access == Access::instructor ? "404"
                              : is_own                         ? "own"
                                                               : "yes") +
                             " | " + others + " |\n";
    EXPECT_NE(page.find(line), std::string::npos) << "docs/api.md lacks:\n" << line;
  }
  EXPECT_EQ(static_cast<std::size_t>(cells), 5 * server.table().size());
  RecordProperty("cells", cells);
}

// One device joins by it, even while joining is locked, and only where nobody can listen.
TEST(Demonstrators, join_by_a_code_of_their_own_once) {
  ClassServer server;
  EXPECT_EQ(server.door.make_demonstrator_code().error().status, 409) << "not encrypted";
  server.door.open({"127.0.0.2", 1, true, "AB"});
  const std::string code = *server.door.make_demonstrator_code();
  ASSERT_TRUE(server.door.set_joining(false).has_value());
  const Reply joined = server.try_code(code);
  ASSERT_EQ(joined.status, 200) << joined.body;
  const std::string token = joined.headers.at("set-cookie").substr(4, 64);
  EXPECT_EQ(json::parse(server.ask("GET", "/api/about", "", token).body)["role"], "demonstrator");
  EXPECT_EQ(server.try_code(code).status, 403);
  ASSERT_TRUE(server.door.set_joining(true).has_value());
  EXPECT_EQ(server.try_code(code).status, 403) << "the class does not join by it";

  // They run it and see stages, of nobody.
  const auto practical = server.server->desk().create_practical({});
  const std::string address = "/api/practicals/" + practical->id;
  server.begin(server.join());
  EXPECT_EQ(server.ask("GET", address + "/watch", "", token).status, 404);
  EXPECT_EQ(server.ask("GET", address + "/participations", "", token).status, 404);
  EXPECT_EQ(server.ask("GET", address + "/stages", "", token).status, 200);
  EXPECT_EQ(server.ask("POST", address + "/close", "{}", token).status, 200);
  const json stages = json::parse(server.ask("GET", address + "/stages", "", token).body);
  EXPECT_EQ(stages["stages"]["begun"], 0);
  EXPECT_EQ(stages["stages"].size(), 4U);
}

TEST(Access, of_another_person_changes_nothing) {
  ClassServer server;
  const std::string mine = server.join(), theirs = server.join();
  const std::string address = "/api/sittings/" + server.begin(mine);
  const std::string before = server.ask("GET", address, "", mine).body;
  EXPECT_EQ(server.ask("DELETE", address, "", theirs).status, 404);
  const json answer = {{"item", 0},       {"symbols", json::array()}, {"end", "answered"},
                       {"onset_ms", 1.5}, {"response_ms", 2.5},       {"shown_ms", 1.0},
                       {"frames", 1},     {"hidden", false},          {"page_load", unknown_id}};
  const std::string put = address + "/answers/" + unknown_id;
  EXPECT_EQ(server.ask("PUT", put, answer.dump(), theirs).status, 404);
  EXPECT_EQ(server.ask("GET", address, "", mine).body, before);
  EXPECT_EQ(server.ask("PUT", put, answer.dump(), mine).status, 200);
  EXPECT_EQ(server.ask("DELETE", address, "", mine).status, 204);
}

// What says who asks is the transport, not the client.
TEST(Access, is_not_given_by_what_a_client_says) {
  ClassServer server;
  const std::string here = "127.0.0.1:" + std::to_string(server.port());
  const auto status = [&](const Headers& headers) {
    HttpClient client(server.port(), network, "127.0.0.1");
    return client.ask("GET", "/api/practicals", "", headers)->status;
  };
  EXPECT_EQ(status({}), 404) << "from a loopback address, but by the network's";
  EXPECT_EQ(status({{"Host", here}}), 421);
  EXPECT_EQ(status({{"Host", "localhost:" + std::to_string(server.port())}}), 421);
  for (const char* name : {"X-Forwarded-For", "X-Real-IP", "Forwarded", "X-Forwarded-Host"})
    EXPECT_EQ(status({{name, "127.0.0.1"}}), 404) << name;
  EXPECT_EQ(status({{"Cookie", "sid=" + std::string(64, '0')}}), 404);
  EXPECT_EQ(server.ask_here("GET", "/api/practicals").status, 200);
}

TEST(Joining, gives_a_cookie_for_the_code_alone) {
  ClassServer server;
  EXPECT_EQ(json::parse(server.ask("GET", "/api/about").body)["role"], "anyone");
  const std::string code = server.door.state().code;
  const Reply joined = server.try_code(code.substr(0, 4) + "-" + code.substr(4));
  ASSERT_EQ(joined.status, 200) << joined.body;
  const std::string cookie = joined.headers.at("set-cookie");
  EXPECT_TRUE(std::regex_match(
      cookie, std::regex("sid=[0-9a-f]{64}; Path=/; HttpOnly; SameSite=Strict; Max-Age=28800")))
      << cookie;
  EXPECT_EQ(joined.body.find(cookie.substr(4, 64)), std::string::npos) << "scripts never see it";
  const json about = json::parse(server.ask("GET", "/api/about", "", cookie.substr(4, 64)).body);
  EXPECT_EQ(about["role"], "participant");
  EXPECT_EQ(about["transport"], "plain");
  EXPECT_EQ(about["device"], 1);
  EXPECT_EQ(json::parse(server.ask_here("GET", "/api/about").body)["role"], "instructor");
  EXPECT_EQ(server.ask("POST", "/api/join", R"({"code":7})").status, 422);
  EXPECT_EQ(server.ask("POST", "/api/join", R"({"code":"x","role":"instructor"})").status, 422);
  EXPECT_FALSE(server.try_code("00000000").headers.contains("set-cookie"));
}

TEST(Joining, is_for_others_while_somebody_guesses) {
  ClassServer server;
  int heard = 0;
  std::string retry_after;
  for (int i = 0; i < 200; ++i) {
    std::string guess = "0000000" + std::string(1, join_alphabet[static_cast<std::size_t>(i) % 32]);
    guess[0] = join_alphabet[static_cast<std::size_t>(i) / 32];
    const Reply reply = server.try_code(guess, "127.0.0.66");
    heard += reply.status == 403 ? 1 : 0;
    if (reply.status == 429) retry_after = reply.headers.at("retry-after");
  }
  EXPECT_EQ(heard, 5);
  EXPECT_GT(std::stoi(retry_after), 0);
  EXPECT_LE(std::stoi(retry_after), 60);
  for (int i = 0; i < 300; ++i) ASSERT_NO_THROW(server.join("127.0.0.3")) << i;
  EXPECT_EQ(server.door.state().devices.size(), 300U);
}

TEST(Class, is_seen_and_ruled_from_this_computer) {
  ClassServer server;
  const std::string token = server.join();
  server.begin(token);
  json state = json::parse(server.ask_here("GET", "/api/class").body);
  const std::string port = std::to_string(server.port());
  EXPECT_EQ(state["network"]["address"], "http://127.0.0.2:" + port + "/");
  EXPECT_EQ(state["network"]["transport"], "plain");
  EXPECT_TRUE(state["network"]["fingerprint"].is_null());
  EXPECT_EQ(state["joining"], "open");
  ASSERT_EQ(state["devices"].size(), 1U);
  EXPECT_EQ(state["devices"][0]["device"], 1);
  EXPECT_EQ(state["devices"][0]["sittings"], 1);
  const std::string code = state["code"];
  EXPECT_EQ(state["network"]["join_address"],
            "http://127.0.0.2:" + port + "/join#" + code.substr(0, 4) + code.substr(5));
  EXPECT_EQ(server.ask_here("GET", "/api/class").body.find(token), std::string::npos);

  const Reply qr = server.ask_here("GET", "/api/class/qr");
  EXPECT_EQ(qr.headers.at("content-type"), "image/svg+xml");
  EXPECT_TRUE(qr.body.starts_with("<svg "));
  EXPECT_EQ(qr.headers.at("cache-control"), "no-store");

  state = json::parse(server.ask_here("POST", "/api/class/code", "{}").body);
  EXPECT_NE(state["code"], code);
  EXPECT_EQ(server.try_code(code).status, 403);
  EXPECT_EQ(server.ask_here("PUT", "/api/class/joining", R"({"state":"locked"})").status, 200);
  EXPECT_EQ(server.try_code(state["code"]).status, 403);
  EXPECT_EQ(server.ask_here("PUT", "/api/class/joining", R"({"state":"shut"})").status, 422);

  EXPECT_EQ(server.ask("GET", "/api/displays", "", token).status, 200);
  EXPECT_EQ(server.ask_here("DELETE", "/api/class/devices/1").status, 204);
  EXPECT_EQ(server.ask_here("DELETE", "/api/class/devices/1").status, 404);
  EXPECT_EQ(server.ask("GET", "/api/displays", "", token).status, 401);
}

TEST(Class, is_not_let_in_unless_asked_for) {
  RunningServer server;
  HttpClient outside(server.port(), network, "127.0.0.3");
  EXPECT_FALSE(outside.is_connected());
  HttpClient client(server.port());
  const json state = json::parse(client.ask("GET", "/api/class")->body);
  EXPECT_TRUE(state["network"].is_null());
  EXPECT_TRUE(state["code"].is_null());
  EXPECT_EQ(client.ask("POST", "/api/join", R"({"code":"00000000"})")->status, 409);
  EXPECT_EQ(client.ask("GET", "/api/class/qr")->status, 409);
  EXPECT_EQ(client.ask("POST", "/api/class/code", "{}")->status, 409);
}

TEST(Class, is_over_when_its_time_is) {
  ClassServer server(false, {}, 1s);
  const std::string token = server.join();
  HttpClient kept(server.port(), network, "127.0.0.3");
  ASSERT_EQ(kept.ask("GET", "/api/about")->status, 200);
  EXPECT_TRUE(kept.is_closed_within(3s));
  HttpClient late(server.port(), network, "127.0.0.3");
  EXPECT_FALSE(late.is_connected());
  EXPECT_EQ(server.ask_here("GET", "/api/practicals").status, 200) << "this computer goes on";
  EXPECT_TRUE(json::parse(server.ask_here("GET", "/api/class").body)["network"].is_null());
}

TEST(Class, sends_pages_with_a_401_to_who_has_to_join) {
  ClassServer server;
  const std::string page = server.ask("GET", "/").body;
  const Reply reply = server.ask("GET", "/sitting/" + std::string(unknown_id));
  EXPECT_EQ(reply.status, 401);
  EXPECT_EQ(reply.body, page) << "a link from elsewhere comes without the cookie";
  EXPECT_EQ(reply.headers.at("cache-control"), "no-store");
}

// Who reads is told by the page; a page that asks for data, by data. An address somebody may not
// know of is like one that is not there.
TEST(Class, sends_the_page_to_who_reads_where_nothing_is) {
  ClassServer server;
  const std::string token = server.join();
  const std::string page = server.ask("GET", "/").body;
  const auto read = [&](const std::string& path, bool is_reader) {
    HttpClient client(server.port(), network, "127.0.0.3");
    Headers headers{{"Cookie", "sid=" + token}};
    if (is_reader) headers.emplace_back("Accept", "text/html,application/xhtml+xml,*/*;q=0.8");
    return *client.ask("GET", path, "", headers);
  };
  for (const char* path : {"/practicl", "/plates", "/practical/of/nobody"}) {
    const Reply told = read(path, true);
    EXPECT_EQ(told.status, 404) << path;
    EXPECT_EQ(told.body, page) << path;
    EXPECT_EQ(told.headers.at("cache-control"), "no-store");
    EXPECT_FALSE(told.headers.contains("www-authenticate"));
    EXPECT_EQ(read(path, false).headers.at("content-type"), "application/json") << path;
  }
  for (const char* path : {"/api/nothing", "/assets/nothing.js"})
    EXPECT_EQ(read(path, true).headers.at("content-type"), "application/json") << path;
}

// 20 MB are for pictures, and pictures for this computer.
TEST(Class, may_not_send_what_only_this_computer_may) {
  ClassServer server;
  HttpClient client(server.port(), network, "127.0.0.3");
  ASSERT_TRUE(client.send(client.request_text("POST", "/api/pictures", std::string(2'000'000, 'x'),
                                              {{"Content-Type", "application/octet-stream"}})));
  EXPECT_EQ(client.receive()->status, 413);
}

TEST(Class, of_one_address_leaves_room_to_others_and_to_this_computer) {
  ServerOptions options;
  options.most_connections = 12;
  options.most_from_network = 10;
  options.most_from_address = 6;
  ClassServer server(false, options);
  const auto is_taken = [&](HttpClient& client) {
    const auto reply = client.ask("GET", "/api/health");
    return reply && reply->status == 200;
  };
  std::vector<std::unique_ptr<HttpClient>> clients;
  const auto taken_from = [&](const std::string& from, int tries) {
    int taken = 0;
    for (int i = 0; i < tries; ++i) {
      auto client = std::make_unique<HttpClient>(server.port(), network, from);
      if (!is_taken(*client)) continue;
      ++taken;
      clients.push_back(std::move(client));
    }
    return taken;
  };
  EXPECT_EQ(taken_from("127.0.0.66", 20), 6);
  EXPECT_EQ(taken_from("127.0.0.3", 20), 4);
  HttpClient here(server.port()), too(server.port());
  EXPECT_TRUE(is_taken(here));
  EXPECT_TRUE(is_taken(too));
  clients.clear();
  int again = 0;
  for (int i = 0; i < 100 && again == 0; ++i) {
    std::this_thread::sleep_for(10ms);
    again = taken_from("127.0.0.66", 1);
  }
  EXPECT_EQ(again, 1) << "a place given back is a place again";
}

TEST(Class, of_three_hundred_fits_behind_one_address) {
  const ServerOptions usual;
  EXPECT_GE(usual.most_from_address, 3U * 300U);
  EXPECT_LT(usual.most_from_address, usual.most_from_network);
  EXPECT_LT(usual.most_from_network, usual.most_connections);
  ClassServer server;
  std::vector<std::unique_ptr<HttpClient>> clients;
  for (int i = 0; i < 300; ++i) {
    clients.push_back(std::make_unique<HttpClient>(server.port(), network, "127.0.0.3"));
    const auto reply = clients.back()->ask("GET", "/api/health");
    ASSERT_TRUE(reply && reply->status == 200) << i;
  }
  EXPECT_EQ(server.ask_here("GET", "/api/health").status, 200);
}

TEST(Class, of_slow_devices_is_hung_up_on) {
  ServerOptions options;
  options.header = 300ms;
  for (const bool is_tls : {false, true}) {
    ClassServer server(is_tls, options);
    HttpClient half(server.port(), network, "127.0.0.3");
    ASSERT_TRUE(
        half.send(is_tls ? std::string("\x16\x03\x01", 3) : "GET /api/health HTTP/1.1\r\nHo"));
    EXPECT_TRUE(half.is_closed_within(3s)) << is_tls;
  }
}

namespace {

std::string check_of_a_screen(const std::string& display) {
  return json{{"display", display},
              {"card_px", nullptr},
              {"device_pixel_ratio", 1.25},
              {"screen_px", {1920, 1080}},
              {"screen_at", {0, 0}},
              {"colour_depth", 24},
              {"gamut", "srgb"},
              {"tone_matches", json::array()},
              {"black_step", nullptr},
              {"white_step", nullptr},
              {"neutral", nullptr},
              {"night_mode_off", true},
              {"adapted", true},
              {"room_light", nullptr},
              {"statement", ""},
              {"refresh_hz", nullptr},
              {"frame_spread_ms", nullptr},
              {"dropped_frames", nullptr}}
      .dump();
}

}  // namespace

// A device's check of its screen is its own: the instructor's stays, and others do not see it.
TEST(Class, checks_each_screen_by_itself) {
  ClassServer server;
  const std::string mine = server.join(), theirs = server.join();
  const auto current = [](const Reply& reply) { return json::parse(reply.body).at("current"); };
  const std::string check = check_of_a_screen("srgb/oled");
  const std::string records = "/api/display-records", now = records + "/current";
  const json here = json::parse(server.ask_here("POST", records, check).body);
  const Reply made = server.ask("POST", records, check, mine);
  ASSERT_EQ(made.status, 201) << made.body;
  const std::string id = json::parse(made.body).at("record");
  EXPECT_NE(here.at("record"), id);
  EXPECT_EQ(current(server.ask("GET", now, "", mine)).at("record"), id);
  EXPECT_TRUE(current(server.ask("GET", now, "", theirs)).is_null());
  EXPECT_EQ(current(server.ask_here("GET", now)).at("record"), here.at("record"));

  const std::string body = R"({"reason":"zoom"})";
  const auto end_of = [&](const std::string& record) { return records + "/" + record + "/end"; };
  EXPECT_EQ(server.ask("POST", end_of(id), body, theirs).status, 404);
  EXPECT_EQ(server.ask("POST", end_of(here.at("record")), body, mine).status, 404);
  EXPECT_EQ(server.ask("POST", end_of(id), R"({"reason":"bored"})", mine).status, 422);
  EXPECT_EQ(current(server.ask("GET", now, "", mine)).at("valid"), true);
  EXPECT_EQ(json::parse(server.ask("POST", end_of(id), body, mine).body).at("ended"), "zoom");
  EXPECT_EQ(current(server.ask("GET", now, "", mine)).at("valid"), false);
  EXPECT_EQ(current(server.ask_here("GET", now)).at("valid"), true);
  EXPECT_EQ(server.ask("POST", records, "{}", mine).status, 422);
}

// The same plates for a kind of display that joined come into use while the program runs: sittings
// begun before keep theirs.
TEST(Class, is_given_plates_for_the_displays_that_joined) {
  ClassServer server(false, {}, ClassDoor::open_for, sample_set());
  const std::string wide = server.join(), usual = server.join();
  ASSERT_EQ(
      server.ask("POST", "/api/display-records", check_of_a_screen("display-p3/oled"), wide).status,
      201);
  const std::string displays = "/api/class/displays";
  const auto has_plates = [&] {
    const json listed = json::parse(server.ask_here("GET", displays).body);
    for (const json& one : listed.at("devices"))
      if (one.at("display") == "display-p3/oled") return one.at("has_plates").get<bool>();
    throw std::runtime_error("not listed: " + listed.dump());
  };
  const auto made_for = [&](const std::string& token) {
    const std::string sitting = server.begin(token);
    return json::parse(server.ask("GET", "/api/sittings/" + sitting, "", token).body)
        .at("made_for")
        .get<std::string>();
  };
  EXPECT_FALSE(has_plates());
  EXPECT_EQ(made_for(wide), "srgb/oled");
  const auto ask_for = [&](const std::string& display) {
    return server.ask_here("POST", "/api/set-for-display", json{{"display", display}}.dump());
  };
  EXPECT_EQ(ask_for("srgb/oled").status, 422);
  EXPECT_EQ(ask_for("a television").status, 422);
  EXPECT_EQ(server.ask_here("POST", "/api/set-for-display", "{}").status, 422);

  // Plates of another seed are others; those of the same are taken as soon as they are asked for.
  std::filesystem::create_directories(server.sets.path() / "sets");
  PlateSet other = sample_set();
  other.display = "display-p3/oled";
  PlateSet stranger = other;
  stranger.plates.pop_back();
  other.hash = set_hash(other);
  stranger.hash = set_hash(stranger);
  ASSERT_TRUE(save_set(stranger, server.sets.path() / "sets" / "a").has_value());
  ASSERT_TRUE(save_set(other, server.sets.path() / "sets" / "b").has_value());
  EXPECT_FALSE(has_plates());
  const Reply made = ask_for("display-p3/oled");
  EXPECT_EQ(made.status, 200) << made.body;
  EXPECT_EQ(json::parse(made.body).at("set"), "b");
  EXPECT_TRUE(has_plates());
  EXPECT_EQ(made_for(wide), "display-p3/oled");
  EXPECT_EQ(made_for(usual), "srgb/oled");
  EXPECT_EQ(ask_for("display-p3/oled").status, 200);
}

// Sheets of paper are scored as the program's own command scores them, whole or not at all.
TEST(Class, has_its_sheets_of_paper_scored) {
  const PlateSet set = sample_set();
  ClassServer server(false, {}, ClassDoor::open_for, set);
  const auto listed = json::parse(server.ask_here("GET", "/api/sets").body);
  const std::string one = "/api/sets/" + listed.at("sets").at(0).at("set").get<std::string>();
  const json rows = json::parse(server.ask_here("GET", one + "/answer-rows").body).at("plates");
  ASSERT_EQ(rows.size(), set.plates.size());
  EXPECT_EQ(rows.at(0).at("symbols"), json(set.symbols));
  EXPECT_EQ(rows.at(12).at("figures"), 2);  // a fork plate
  const Reply table = server.ask_here("GET", one + "/answer-table");
  EXPECT_EQ(table.headers.at("content-type"), "text/csv; charset=utf-8");
  EXPECT_TRUE(table.body.starts_with("pseudonym,sample a,sample b,")) << table.body;

  std::string csv = "pseudonym,plate,reading\n";
  for (std::size_t p = 0; p < set.plates.size(); ++p) {
    std::string reading;
    for (const std::string& symbol : drawn_in_sample(set, p))
      reading += (reading.empty() ? "" : "+") + symbol;
    csv += "calm ferry," + std::to_string(p + 1) + "," + reading + "\n";
  }
  csv += "near gate,1,none\nnear gate,2,none\n";
  const auto score = [&](const std::string& answers) {
    return server.ask_here("POST", one + "/scores", json{{"csv", answers}}.dump());
  };
  const Reply scored = score(csv);
  ASSERT_EQ(scored.status, 200) << scored.body;
  const json people = json::parse(scored.body).at("people");
  ASSERT_EQ(people.size(), 2U);
  EXPECT_EQ(people.at(0).at("verdict"), "normal");
  EXPECT_EQ(people.at(0).at("misses").at("vanishing").at("missed"), 0);
  // The opener was not read: nothing is said of that person's eyes.
  EXPECT_EQ(people.at(1).at("interpretable"), false);
  EXPECT_TRUE(people.at(1).at("kinds").empty());
  EXPECT_NE(scored.body.find("not for diagnosis"), std::string::npos);

  const Reply wrong = score(csv + "near gate,3,9\n");
  EXPECT_EQ(wrong.status, 422);
  const std::string place = "answers:" + std::to_string(set.plates.size() + 4) + ", column 3";
  EXPECT_EQ(json::parse(wrong.body).at("error").at("place"), place) << wrong.body;
  EXPECT_EQ(score("pseudonym\n").status, 422);
  EXPECT_EQ(server.ask_here("POST", one + "/scores", R"({"csv":7})").status, 422);
  EXPECT_EQ(server.ask_here("GET", "/api/sets/none/answer-rows").status, 404);
  EXPECT_EQ(server.ask("GET", one + "/answer-rows", "", server.join()).status, 404);
}

// The protecting headers, on a reply of each kind and by each way in.
TEST(Headers, are_on_every_reply_and_no_others) {
  const std::map<std::string, std::string> all = {
      {"x-content-type-options", "nosniff"},
      {"referrer-policy", "no-referrer"},
      {"x-frame-options", "DENY"},
      {"cross-origin-opener-policy", "same-origin"},
      {"cross-origin-embedder-policy", "require-corp"},
      {"cross-origin-resource-policy", "same-origin"},
      {"permissions-policy",
       "camera=(), microphone=(), geolocation=(), usb=(), payment=(), interest-cohort=(), "
       "fullscreen=(self), screen-wake-lock=(self)"},
      {"content-security-policy",
       "default-src 'none'; script-src 'self' 'wasm-unsafe-eval'; style-src 'self'; img-src 'self' "
       "blob:; font-src 'self'; connect-src 'self'; worker-src 'self'; manifest-src 'self'; "
       "form-action 'self'; frame-ancestors 'none'; base-uri 'none'; object-src 'none'; "
       "require-trusted-types-for 'script'; report-uri /api/csp"}};
  ClassServer server;
  const std::string token = server.join();
  const auto check = [&](const Reply& reply, int status, const std::string& cache) {
    EXPECT_EQ(reply.status, status);
    for (const auto& [name, value] : all) {
      ASSERT_TRUE(reply.headers.contains(name)) << name;
      EXPECT_EQ(reply.headers.at(name), value);
    }
    EXPECT_EQ(reply.headers.at("cache-control"), cache);
    for (const char* never : {"strict-transport-security", "server", "x-powered-by",
                              "access-control-allow-origin", "access-control-allow-credentials"})
      EXPECT_FALSE(reply.headers.contains(never)) << never;
  };
  const std::string fresh = "no-store", for_ever = "public, max-age=31536000, immutable";
  check(server.ask("GET", "/"), 200, fresh);
  check(server.ask("GET", "/assets/app-1a2b3c.js"), 200, for_ever);
  check(server.ask("GET", "/api/about"), 200, fresh);
  check(server.ask("GET", "/nothing"), 404, fresh);
  check(server.ask("GET", "/api/displays"), 401, fresh);
  check(server.ask("GET", "/api/displays", "", token), 200, fresh);
  check(server.ask("GET", "/sitting/x"), 401, fresh);
  check(server.try_code("00000000"), 403, fresh);
  check(server.ask("PUT", "/api/about", "{}"), 405, fresh);
  check(server.ask("TRACE", "/"), 405, fresh);
  check(server.ask("TRACE", "/api/practicals"), 405, fresh);
  check(server.ask_here("TRACE", "/"), 405, fresh);
  check(server.ask_here("GET", "/api/practicals"), 200, fresh);
  HttpClient rebound(server.port(), network, "127.0.0.3");
  check(*rebound.ask("GET", "/", "", {{"Host", "class.example.org"}}), 421, fresh);
  HttpClient rude(server.port(), network, "127.0.0.3");
  ASSERT_TRUE(rude.send("nonsense\r\n\r\n"));
  check(*rude.receive(), 400, fresh);
}

TEST(Changes, from_other_sites_are_refused_by_the_network_too) {
  ClassServer server;
  const std::string code = server.door.state().code, port = std::to_string(server.port());
  const auto status = [&](const Headers& headers) {
    HttpClient client(server.port(), network, "127.0.0.3");
    return client.ask("POST", "/api/join", json{{"code", code}}.dump(), headers)->status;
  };
  EXPECT_EQ(status({{"Origin", "http://127.0.0.1:" + port}}), 403);
  EXPECT_EQ(status({{"Origin", "https://127.0.0.2:" + port}}), 403);
  EXPECT_EQ(status({{"Origin", "http://example.org"}}), 403);
  EXPECT_EQ(status({{"X-Copunctal", ""}}), 403);
  EXPECT_EQ(status({{"Content-Type", "text/plain"}}), 403);
  EXPECT_EQ(server.door.state().devices.size(), 0U);
  EXPECT_EQ(status({{"Origin", "http://127.0.0.2:" + port}}), 200);
}

TEST(Tls, speaks_1_2_and_1_3_only) {
  ClassServer server(true);
  const std::string host = std::string(network) + ":" + std::to_string(server.port());
  const std::string request =
      "GET /api/about HTTP/1.1\r\nHost: " + host + "\r\nConnection: close\r\n\r\n";
  const auto with = [&](int oldest, int newest) {
    return ask_over_tls(network, server.port(), request, oldest, newest);
  };
  for (const auto& [version, name] :
       {std::pair(TLS1_2_VERSION, "TLSv1.2"), {TLS1_3_VERSION, "TLSv1.3"}}) {
    const TlsReply reply = with(version, version);
    ASSERT_TRUE(reply.is_connected) << name;
    EXPECT_EQ(reply.version, name);
    EXPECT_TRUE(reply.names_address);
    EXPECT_EQ(reply.fingerprint, server.door.state().network->fingerprint);
    EXPECT_TRUE(reply.text.starts_with("HTTP/1.1 200 ")) << reply.text;
    EXPECT_NE(reply.text.find(R"("transport":"tls")"), std::string::npos);
    EXPECT_EQ(reply.text.find("Strict-Transport-Security"), std::string::npos);
  }
  EXPECT_FALSE(with(TLS1_VERSION, TLS1_VERSION).is_connected);
  EXPECT_FALSE(with(TLS1_1_VERSION, TLS1_1_VERSION).is_connected);

  HttpClient plain(server.port(), network, "127.0.0.3");
  const auto reply = plain.ask("GET", "/api/about");
  EXPECT_FALSE(reply) << "plain HTTP gets no answer by the address that is encrypted";
  EXPECT_EQ(server.ask_here("GET", "/api/health").status, 200) << "loopback stays plain";
}

TEST(Tls, gives_a_cookie_bound_to_it) {
  ClassServer server(true);
  const std::string host = std::string(network) + ":" + std::to_string(server.port());
  const std::string body = json{{"code", server.door.state().code}}.dump();
  const auto post = [&](const std::string& origin) {
    return ask_over_tls(
               network, server.port(),
               "POST /api/join HTTP/1.1\r\nHost: " + host + "\r\nOrigin: " + origin +
                   "\r\nContent-Type: application/json\r\nX-Copunctal: 1\r\nContent-Length: " +
                   std::to_string(body.size()) + "\r\nConnection: close\r\n\r\n" + body,
               TLS1_2_VERSION, TLS1_3_VERSION)
        .text;
  };
  EXPECT_TRUE(post("http://" + host).starts_with("HTTP/1.1 403 "));
  const std::string joined = post("https://" + host);
  ASSERT_TRUE(joined.starts_with("HTTP/1.1 200 ")) << joined;
  std::smatch found;
  ASSERT_TRUE(std::regex_search(
      joined, found,
      std::regex("Set-Cookie: (__Host-sid=[0-9a-f]{64}); Path=/; HttpOnly; SameSite=Strict; "
                 "Max-Age=28800; Secure\r\n")))
      << joined;
  const std::string about =
      ask_over_tls(network, server.port(),
                   "GET /api/about HTTP/1.1\r\nHost: " + host + "\r\nCookie: " + found[1].str() +
                       "\r\nConnection: close\r\n\r\n",
                   TLS1_2_VERSION, TLS1_3_VERSION)
          .text;
  EXPECT_NE(about.find(R"("role":"participant")"), std::string::npos) << about;
}

namespace {

json good_look() {
  return {
      {"secure_context", true},  {"window_px", {390, 844}},
      {"device_pixel_ratio", 2}, {"pinch_zoom", 1},
      {"refresh_hz", 60},        {"frame_spread_ms", .4},
      {"dropped_frames", 0},     {"colour_depth", 24},
      {"gamut", "srgb"},         {"codes", {{"checked", 3072}, {"wrong", 0}, {"largest", 0}}},
      {"storage", true},         {"clock_ms", 1000.0 * static_cast<double>(seconds_since_1970())}};
}

}  // namespace

TEST(Preflight, of_a_device_is_for_the_instructor_to_see_and_never_its_address) {
  ClassServer server;
  const std::string mine = server.join("127.0.0.3"), theirs = server.join("127.0.0.4");
  json small = good_look();
  small["device_pixel_ratio"] = 1;
  EXPECT_EQ(server.ask("POST", "/api/preflight", good_look().dump(), mine).status, 201);
  const Reply found = server.ask("POST", "/api/preflight", small.dump(), theirs);
  ASSERT_EQ(found.status, 201) << found.body;
  EXPECT_EQ(json::parse(found.body)["state"], "mend");
  EXPECT_EQ(server.ask_here("POST", "/api/preflight", good_look().dump()).status, 201);
  const Reply list = server.ask_here("GET", "/api/preflight-devices");
  const json all = json::parse(list.body);
  ASSERT_EQ(all["devices"].size(), 3U) << list.body;
  EXPECT_EQ(all["devices"][0]["device"], 0);
  EXPECT_EQ(all["devices"][0]["transport"], "loopback");
  EXPECT_EQ(all["devices"][1]["transport"], "plain");
  EXPECT_EQ(all["devices"][1]["findings"].size(), 8U);
  EXPECT_EQ(all["devices"][2]["state"], "mend");
  EXPECT_EQ(all["joined"], 2);
  for (const char* address : {"127.0.0.3", "127.0.0.4"})
    EXPECT_EQ(list.body.find(address), std::string::npos);
}

TEST(Preflight, without_a_desk_lets_devices_look_and_has_no_practicals) {
  ClassDoor door{kernel_random(), system_clocks().steady_ns};
  std::vector<CheckedDevice> heard;
  const Site site(sample_pages(), {}, door,
                  [&](const CheckedDevice& device) { heard.push_back(device); });
  const auto ask = [&](const std::string& method, const std::string& target,
                       const std::string& body = "") {
    return site.answer(
        {method,
         target,
         {{"host", "127.0.0.1:80"}, {"content-type", "application/json"}, {"x-copunctal", "1"}},
         body,
         local_arrival(80)});
  };
  EXPECT_EQ(json::parse(ask("GET", "/api/about").text)["serves"], "preflight");
  EXPECT_EQ(ask("POST", "/api/preflight", good_look().dump()).status, 201);
  ASSERT_EQ(heard.size(), 1U);
  EXPECT_EQ(worst_of(heard[0].findings), FindingState::fine);
  for (const char* none : {"/api/practicals", "/api/sets", "/api/open-practicals"})
    EXPECT_EQ(ask("GET", none).status, 404) << none;
  json wrong = good_look();
  wrong["codes"]["wrong"] = 4000;
  EXPECT_EQ(ask("POST", "/api/preflight", wrong.dump()).status, 422);
  wrong = good_look();
  wrong["name"] = "ann";
  EXPECT_EQ(ask("POST", "/api/preflight", wrong.dump()).status, 422);
  EXPECT_EQ(site.checked_devices().size(), 1U);
}
