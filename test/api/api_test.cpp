// docs/api.md over a real connection: every route, every refusal.
#include <gtest/gtest.h>
#include <sys/resource.h>

#include <csignal>
#include <fstream>
#include <nlohmann/json.hpp>
#include <regex>
#include <set>
#include <sstream>

#include "api/http_client.h"
#include "api/running_server.h"
#include "copunctal/base/hash.h"

using namespace copunctal;
using nlohmann::json;

namespace {

constexpr const char* unknown_id = "0123456789abcdef0123456789abcdef";

struct Api : testing::Test {
  static inline std::unique_ptr<RunningServer> server;
  static void SetUpTestSuite() {
    server = std::make_unique<RunningServer>(ServerOptions{}, build_reading_tables);
  }
  static void TearDownTestSuite() { server.reset(); }

  std::unique_ptr<HttpClient> client = std::make_unique<HttpClient>(server->port());
  int next_answer = 0;

  Reply ask(const std::string& method, const std::string& target, const json& body = nullptr,
            const Headers& extra = {}) {
    auto reply = client->ask(method, target, body.is_null() ? "" : body.dump(), extra);
    if (!reply) throw std::runtime_error("no reply to " + method + " " + target);
    return *reply;
  }
  json ask_json(const std::string& method, const std::string& target, const json& body = nullptr) {
    const Reply reply = ask(method, target, body);
    EXPECT_LT(reply.status, 300) << method << " " << target << "\n" << reply.body;
    EXPECT_EQ(reply.headers.at("content-type"), "application/json");
    return json::parse(reply.body);
  }

  json begin(const std::string& tell = "tell") {
    const json practical = ask_json("POST", "/api/practicals", json::object());
    return ask_json("POST", "/api/practicals/" + practical["id"].get<std::string>() + "/sittings",
                    {{"consent", true}, {"tell", tell}, {"sex_at_birth", nullptr}});
  }
  static std::string address(const json& state) {
    return "/api/sittings/" + state["sitting"].get<std::string>();
  }
  static json answer_to(int item, json symbols = json::array()) {
    return {{"item", item},        {"symbols", symbols},     {"end", "answered"},
            {"onset_ms", 10234.5}, {"response_ms", 11890.1}, {"shown_ms", 1655.6},
            {"frames", 99},        {"hidden", false},        {"page_load", unknown_id}};
  }
  std::string new_answer(const json& state) {
    std::ostringstream id;
    id << state["sitting"].get<std::string>().substr(0, 24) << std::hex << std::setw(8)
       << std::setfill('0') << ++next_answer;
    return address(state) + "/answers/" + id.str();
  }
  json answer_all(json state) {
    while (!state["round"].is_null()) {
      const json items = state["round"]["items"];
      for (const json& item : items)
        if (!item["answered"].get<bool>())
          state = ask_json("PUT", new_answer(state), answer_to(item["item"].get<int>()))["state"];
    }
    return state;
  }

  /// Expects the one shape of error, and gives its object.
  json expect_refused(const Reply& reply, int status, const std::string& code) {
    EXPECT_EQ(reply.status, status) << reply.body;
    EXPECT_EQ(reply.headers.at("content-type"), "application/json");
    const json error = json::parse(reply.body).at("error");
    EXPECT_EQ(error.at("code"), code);
    for (const char* part : {"thing", "message", "remedy"})
      EXPECT_FALSE(error.at(part).get<std::string>().empty()) << part << "\n" << reply.body;
    EXPECT_TRUE(error.at("place").is_string());
    EXPECT_EQ(error.size(), 5U);
    return error;
  }
};

std::set<std::string> keys_of(const json& object) {
  std::set<std::string> keys;
  for (const auto& [key, value] : object.items()) keys.insert(key);
  return keys;
}

}  // namespace

TEST_F(Api, documents_the_routes_it_has_and_has_those_it_documents) {
  std::ifstream file(COPUNCTAL_SOURCE_DIR "/docs/api.md");
  std::ostringstream text;
  text << file.rdbuf();
  const std::string page = text.str();
  std::set<std::string> documented;
  const std::regex route("`(GET|POST|PUT|DELETE) (/api/[a-z:/-]+)");
  for (std::sregex_iterator it(page.begin(), page.end(), route), end; it != end; ++it)
    documented.insert((*it)[1].str() + " " + (*it)[2].str());

  std::set<std::string> served;
  PlateWorkshop workshop("no such directory", PlateSet{});
  for (const std::string& name : Site(server->desk(), sample_pages(), {}, &workshop).routes())
    if (name.find(" /api/") != std::string::npos) served.insert(name);
  EXPECT_EQ(documented, served);
  EXPECT_GE(served.size(), 11U);
}

TEST_F(Api, says_it_is_well) {
  EXPECT_EQ(ask_json("GET", "/api/health"), json({{"ok", true}}));
}

TEST_F(Api, makes_and_lists_practicals) {
  const Reply made = ask("POST", "/api/practicals", {{"name", "Grüße <b>"}, {"exposure_ms", 4000}});
  EXPECT_EQ(made.status, 201);
  const json practical = json::parse(made.body);
  EXPECT_EQ(
      keys_of(practical),
      (std::set<std::string>{"id", "name", "created_utc", "display", "set_hash", "plates",
                             "exposure_ms", "grace_ms", "sittings", "state", "loans", "course",
                             "group", "lateness", "again", "keep_until", "intended_use"}));
  EXPECT_EQ(practical["name"], "Grüße <b>");
  EXPECT_EQ(practical["exposure_ms"], 4000);
  EXPECT_EQ(practical["plates"], 18);
  const json list = ask_json("GET", "/api/practicals")["practicals"];
  EXPECT_NE(std::find(list.begin(), list.end(), practical), list.end());
  expect_refused(ask("POST", "/api/practicals", {{"name", std::string(65, 'x')}}), 422, "invalid");
  expect_refused(ask("POST", "/api/practicals", {{"exposure_ms", 20'001}}), 422, "invalid");
}

TEST_F(Api, begins_a_sitting_with_consent_only) {
  const json state = begin("later");
  EXPECT_EQ(keys_of(state),
            (std::set<std::string>{"sitting", "practical", "practical_name", "pseudonym", "on_loan",
                                   "off_record", "examined", "eye", "state", "tell", "made_for",
                                   "size_px", "exposure_ms", "grace_ms", "family", "symbols",
                                   "answered", "round"}));
  EXPECT_EQ(state["family"], "digits");
  EXPECT_EQ(state["symbols"], (json{"1", "2", "4", "7"}));
  EXPECT_EQ(state["round"]["name"], "warm-up");
  EXPECT_EQ(ask_json("GET", address(state)), state);

  const std::string sittings =
      "/api/practicals/" + state["practical"].get<std::string>() + "/sittings";
  const json without = {{"consent", false}, {"tell", "tell"}, {"sex_at_birth", nullptr}};
  EXPECT_EQ(expect_refused(ask("POST", sittings, without), 422, "invalid")["thing"], "consent");
  const json with = {{"consent", true}, {"tell", "tell"}, {"sex_at_birth", "female"}};
  EXPECT_EQ(ask("POST", sittings, with).status, 201);
  expect_refused(ask("POST", std::string("/api/practicals/") + unknown_id + "/sittings", with), 404,
                 "not_found");
}

// Whatever the page may know before the end must not say which plate is which.
TEST_F(Api, gives_no_answer_away_while_a_sitting_runs) {
  const json state = begin();
  const Reply first = ask("PUT", new_answer(state), answer_to(0));
  for (const std::string& text : {state.dump(), first.body, ask("GET", address(state)).body})
    for (const char* word : {"drawn", "kind\"", "aim", "vanishing", "opener", "sample ", "seed"})
      EXPECT_EQ(text.find(word), std::string::npos) << word;
  expect_refused(ask("GET", address(state) + "/outcome"), 409, "conflict");
  expect_refused(ask("GET", address(state) + "/outcome/plates/0?as=original"), 409, "conflict");
}

TEST_F(Api, sends_a_plate_as_bytes_once_its_round_is_reached) {
  const json state = begin();
  const std::string plates = address(state) + "/plates/";
  const Reply picture = ask("GET", plates + state["round"]["items"][0]["plate"].get<std::string>());
  EXPECT_EQ(picture.status, 200);
  EXPECT_EQ(picture.headers.at("content-type"), "application/octet-stream");
  EXPECT_EQ(picture.headers.at("cache-control"), "no-store");
  EXPECT_EQ(picture.body.size(), 32U * 32U * 3U);
  EXPECT_GT(std::set<char>(picture.body.begin(), picture.body.end()).size(), 3U);
  expect_refused(ask("GET", plates + unknown_id), 404, "not_found");
}

TEST_F(Api, stores_an_answer_once) {
  const json state = begin();
  const std::string answer = new_answer(state);
  const json body = answer_to(0, {"4"});
  const json receipt = ask_json("PUT", answer, body);
  EXPECT_EQ(receipt["status"], "stored");
  EXPECT_EQ(receipt["state"]["answered"], 1);
  EXPECT_EQ(receipt["state"]["round"]["items"].size(), 11U);
  EXPECT_EQ(ask_json("PUT", answer, body)["status"], "duplicate");
  expect_refused(ask("PUT", answer, answer_to(0, {"7"})), 409, "conflict");
  expect_refused(ask("PUT", new_answer(state), body), 409, "conflict");
  const json kept = *server->store().read<json>([&](const Records& records) -> Result<json> {
    const auto answers = *records.answers_of(state["sitting"].get<std::string>());
    return json{
        {"stored", answers.size()},
        {"refused", records.refused_answers_of(state["sitting"].get<std::string>())->size()},
        {"hash", answers.at(0).body_sha256}};
  });
  EXPECT_EQ(kept["stored"], 1);
  EXPECT_EQ(kept["refused"], 2);
  EXPECT_EQ(kept["hash"], sha256_hex(body.dump())) << "sorted keys, no spaces";
}

TEST_F(Api, refuses_answers_that_cannot_be) {
  const json state = begin();
  const auto refused = [&](const std::string& field, const json& value) {
    json body = answer_to(0);
    body[field] = value;
    return expect_refused(ask("PUT", new_answer(state), body), 422, "invalid")["thing"]
        .get<std::string>();
  };
  EXPECT_EQ(refused("item", 3), "item") << "a round not reached";
  EXPECT_EQ(refused("item", 99), "item");
  EXPECT_EQ(refused("symbols", {"3"}), "symbols");
  EXPECT_EQ(refused("symbols", {"1", "2"}), "symbols");
  EXPECT_EQ(refused("end", "expired"), "response_ms");
  EXPECT_EQ(refused("score", 1), "score");
  EXPECT_EQ(refused("page_load", "x"), "page_load");
  expect_refused(ask("PUT", address(state) + "/answers/short", answer_to(0)), 422, "invalid");
  expect_refused(ask("PUT", std::string("/api/sittings/") + unknown_id + "/answers/" + unknown_id,
                     answer_to(0)),
                 404, "not_found");
  EXPECT_EQ(ask_json("GET", address(state))["answered"], 0);
}

// A whole sitting of a set without digits, its own symbols answered; with paths the fork plates'
// round has another row, that of rings.
TEST_F(Api, sits_a_practical_of_rings_and_one_of_paths) {
  for (const SymbolFamily family : {SymbolFamily::rings, SymbolFamily::paths}) {
    const PlateSet set = sample_set(family);
    RunningServer other({}, build_reading_tables, set);
    client = std::make_unique<HttpClient>(other.port());
    json state = begin();
    std::map<std::string, std::pair<std::string, json>> rows;
    while (!state["round"].is_null()) {
      const std::string round = state["round"]["name"];
      rows[round] = {state["family"], state["symbols"]};
      const json items = state["round"]["items"], row = state["symbols"];
      const bool two = state["round"]["figures"] == 2;
      expect_refused(ask("PUT", new_answer(state), answer_to(items[0]["item"], {"4"})), 422,
                     "invalid");
      for (const json& item : items)
        state =
            ask_json("PUT", new_answer(state),
                     answer_to(item["item"], two ? json{row[1], row[3]} : json{row[2]}))["state"];
    }
    EXPECT_EQ(rows.size(), 4U);
    const bool paths = family == SymbolFamily::paths;
    for (const auto& [round, row] : rows) {
      const bool turned = paths && round == "which-kind";
      EXPECT_EQ(row.first, paths && !turned ? "paths" : "rings") << round;
      EXPECT_EQ(row.second, json(turned ? set.fork_symbols : set.symbols)) << round;
    }
    EXPECT_EQ(state["family"], std::string(name_of(family)));
    EXPECT_EQ(state["symbols"], json(set.symbols));

    const json told = ask_json("GET", address(state) + "/outcome");
    ASSERT_EQ(told["plates"].size(), 18U);
    int as_drawn = 0, forks = 0;
    for (const json& plate : told["plates"]) {
      as_drawn += plate["as_drawn"].get<bool>();
      const auto& row = plate["kind"] == "fork" && paths ? set.fork_symbols : set.symbols;
      forks += plate["kind"] == "fork";
      for (const json& symbol : plate["drawn"])
        EXPECT_NE(std::find(row.begin(), row.end(), symbol.get<std::string>()), row.end());
      if (plate["kind"] == "fork") {
        EXPECT_EQ(plate["answered"], (json{row[1], row[3]}));
      }
    }
    EXPECT_EQ(forks, 4);
    // The third of the row was answered to every plate of one figure; no fork plate shows the
    // second and the fourth.
    EXPECT_EQ(as_drawn, std::count_if(set.plates.begin(), set.plates.end(), [&](const Plate& p) {
                return p.figures.size() == 1 && p.figures[0].symbol == set.symbols[2];
              }));
  }
}

TEST_F(Api, keeps_a_late_answer_but_calls_it_gone) {
  const json end = answer_all(begin());
  EXPECT_EQ(end["state"], "ended");
  EXPECT_TRUE(end["round"].is_null());
  EXPECT_EQ(end["answered"], 18) << "every plate missed, so every round came";
  const json error = expect_refused(ask("PUT", new_answer(end), answer_to(0, {"4"})), 410, "gone");
  EXPECT_NE(error["remedy"].get<std::string>().find("kept"), std::string::npos);
}

TEST_F(Api, lets_a_person_choose_once_and_withdraw) {
  const json state = begin("later");
  expect_refused(ask("PUT", address(state) + "/choice", {{"tell", "later"}}), 422, "invalid");
  EXPECT_EQ(ask_json("PUT", address(state) + "/choice", {{"tell", "dont_tell"}})["tell"],
            "dont_tell");
  expect_refused(ask("PUT", address(state) + "/choice", {{"tell", "tell"}}), 409, "conflict");

  const Reply removed = ask("DELETE", address(state));
  EXPECT_EQ(removed.status, 204);
  EXPECT_TRUE(removed.body.empty());
  expect_refused(ask("GET", address(state)), 404, "not_found");
  expect_refused(ask("DELETE", address(state)), 404, "not_found");
  EXPECT_EQ(ask("GET", "/api/health").status, 200) << "the connection survived the empty reply";
}

TEST_F(Api, tells_the_outcome_to_who_asked) {
  const json end = answer_all(begin("later"));
  const std::string outcome = address(end) + "/outcome";
  const json quiet = ask_json("GET", outcome);
  EXPECT_EQ(keys_of(quiet), (std::set<std::string>{"told", "can_choose", "waits", "caution"}));
  EXPECT_EQ(quiet["told"], false);
  EXPECT_EQ(quiet["can_choose"], true);
  EXPECT_EQ(quiet["caution"]["intended_use"], intended_use());
  expect_refused(ask("GET", outcome + "/plates/0?as=original"), 403, "forbidden");

  ask_json("PUT", address(end) + "/choice", {{"tell", "tell"}});
  const json told = ask_json("GET", outcome);
  EXPECT_EQ(keys_of(told),
            (std::set<std::string>{"told", "lent", "interpretable", "caution", "verdict", "summary",
                                   "evidence", "kinds", "separation", "prior_text", "assumptions",
                                   "plates", "again"}));
  EXPECT_EQ(told["told"], true);
  EXPECT_EQ(told["caution"], quiet["caution"]);
  ASSERT_EQ(told["plates"].size(), 18U);
  for (const json& plate : told["plates"])
    EXPECT_EQ(keys_of(plate),
              (std::set<std::string>{"item", "round", "name", "kind", "aim", "drawn", "answered",
                                     "end", "as_drawn", "void", "repeat", "hesitated",
                                     "first_symbols", "line", "flaw", "predictions"}));
  EXPECT_EQ(told["plates"][0]["kind"], "opener");

  const Reply original = ask("GET", outcome + "/plates/0?as=original");
  const Reply seen = ask("GET", outcome + "/plates/0?as=protan%3A0");
  EXPECT_EQ(original.status, 200);
  EXPECT_EQ(seen.status, 200) << seen.body;
  EXPECT_EQ(original.body.size(), 32U * 32U * 3U);
  EXPECT_EQ(seen.body.size(), original.body.size());
  expect_refused(ask("GET", outcome + "/plates/0?as=nobody"), 422, "invalid");
  expect_refused(ask("GET", outcome + "/plates/0"), 422, "invalid");
  expect_refused(ask("GET", outcome + "/plates/99?as=original"), 404, "not_found");
  expect_refused(ask("GET", outcome + "/plates/x?as=original"), 404, "not_found");
  expect_refused(ask("GET", outcome + "/plates/99999999999999999999?as=original"), 404,
                 "not_found");
}

TEST_F(Api, says_nothing_to_who_did_not_ask) {
  const json end = answer_all(begin("dont_tell"));
  const json outcome = ask_json("GET", address(end) + "/outcome");
  EXPECT_EQ(outcome["told"], false);
  EXPECT_EQ(outcome["can_choose"], false);
  expect_refused(ask("GET", address(end) + "/outcome/plates/0?as=original"), 403, "forbidden");
}

/// The body docs/api.md shows for a check of a screen.
json screen_check() {
  return {{"display", "srgb/oled"},
          {"card_px", 323.5},
          {"device_pixel_ratio", 1.25},
          {"screen_px", {1920, 1080}},
          {"screen_at", {0, 0}},
          {"colour_depth", 24},
          {"gamut", "srgb"},
          {"tone_matches",
           {{{"channel", "r"}, {"share", 0.5}, {"code", 188}},
            {{"channel", "g"}, {"share", 0.5}, {"code", 186}},
            {{"channel", "b"}, {"share", 0.25}, {"code", 137}}}},
          {"black_step", 4},
          {"white_step", 252},
          {"neutral", "neutral"},
          {"night_mode_off", true},
          {"adapted", true},
          {"room_light", "bright"},
          {"statement", "Blinds down – Gruppe \"Ü\""},
          {"refresh_hz", 59.94},
          {"frame_spread_ms", 0.4},
          {"dropped_frames", 0}};
}

TEST_F(Api, keeps_checks_of_the_screen_and_ends_them) {
  RunningServer fresh;
  HttpClient there(fresh.port());
  const auto asked = [&](const std::string& method, const std::string& target,
                         const json& body = nullptr) {
    return *there.ask(method, target, body.is_null() ? "" : body.dump());
  };
  const auto current = [&] {
    return json::parse(asked("GET", "/api/display-records/current").body).at("current");
  };
  EXPECT_TRUE(current().is_null());

  const Reply made = asked("POST", "/api/display-records", screen_check());
  ASSERT_EQ(made.status, 201) << made.body;
  const json record = json::parse(made.body);
  EXPECT_EQ(keys_of(record), (std::set<std::string>{"record", "made_utc", "expires_utc", "valid",
                                                    "ended", "status", "words", "pixels_per_mm",
                                                    "tone", "findings", "asked", "intended_use"}));
  EXPECT_EQ(record["asked"], screen_check());
  EXPECT_EQ(record["status"], "assumed");
  EXPECT_EQ(record["intended_use"], intended_use());
  EXPECT_NEAR(record["pixels_per_mm"].get<double>(), 323.5 / 85.60, 1e-9);
  // ln .5 / ln(188 / 255)
  EXPECT_NEAR(record["tone"]["r"]["gamma"].get<double>(), 2.274, 0.0005);
  EXPECT_NEAR(record["tone"]["r"]["rms_codes"].get<double>(), 0, 1e-3);
  EXPECT_EQ(record["findings"].size(), 9U);
  for (const json& finding : record["findings"]) {
    EXPECT_EQ(keys_of(finding), (std::set<std::string>{"what", "state", "words"}));
    EXPECT_EQ(finding["state"], finding["what"] == "light" ? "note" : "fine") << finding;
  }
  EXPECT_EQ(current(), record);

  const std::string end = "/api/display-records/" + record["record"].get<std::string>() + "/end";
  const Reply ended = asked("POST", end, {{"reason", "zoom"}});
  EXPECT_EQ(ended.status, 200);
  EXPECT_EQ(json::parse(ended.body)["ended"], "zoom");
  EXPECT_EQ(json::parse(ended.body)["valid"], false);
  EXPECT_EQ(json::parse(asked("POST", end, {{"reason", "moved"}}).body)["ended"], "zoom");
  EXPECT_EQ(current()["ended"], "zoom");

  const json second = json::parse(asked("POST", "/api/display-records", screen_check()).body);
  const json third = json::parse(asked("POST", "/api/display-records", screen_check()).body);
  EXPECT_EQ(current()["record"], third["record"]);
  const Reply replaced =
      asked("POST", "/api/display-records/" + second["record"].get<std::string>() + "/end",
            {{"reason", "zoom"}});
  EXPECT_EQ(json::parse(replaced.body)["ended"], "replaced");
  EXPECT_EQ(current(), third);
}

TEST_F(Api, refuses_checks_of_the_screen_that_cannot_be) {
  const json before = ask_json("GET", "/api/display-records/current");
  const auto refused = [&](const std::string& field, const json& value) {
    json body = screen_check();
    body[field] = value;
    return expect_refused(ask("POST", "/api/display-records", body), 422, "invalid")["thing"]
        .get<std::string>();
  };
  const std::vector<std::pair<std::string, json>> odd = {
      {"display", "srgb/tube"}, {"card_px", 0},
      {"card_px", "nan"},       {"device_pixel_ratio", 1e9},
      {"screen_px", {1920}},    {"screen_at", {1e7, 0}},
      {"colour_depth", 24.5},   {"gamut", "wide"},
      {"tone_matches", "none"}, {"black_step", 256},
      {"white_step", -1},       {"neutral", "pink"},
      {"night_mode_off", 1},    {"adapted", nullptr},
      {"room_light", "dark"},   {"statement", std::string(201, 'x')},
      {"refresh_hz", 0},        {"frame_spread_ms", -1},
      {"dropped_frames", 1e12}, {"score", 1}};
  for (const auto& [field, value] : odd) EXPECT_EQ(refused(field, value), field) << value;
  EXPECT_EQ(refused("tone_matches", {{{"channel", "r"}, {"share", 0.3}, {"code", 188}}}),
            "tone_matches");
  EXPECT_EQ(refused("dropped_frames", nullptr), "refresh_hz");
  json missing = screen_check();
  missing.erase("adapted");
  expect_refused(ask("POST", "/api/display-records", missing), 422, "invalid");
  const auto not_a_number = client->ask("POST", "/api/display-records", R"({"card_px":NaN})");
  ASSERT_TRUE(not_a_number);
  expect_refused(*not_a_number, 400, "bad_request");

  const std::string end = std::string("/api/display-records/") + unknown_id + "/end";
  expect_refused(ask("POST", end, {{"reason", "zoom"}}), 404, "not_found");
  EXPECT_EQ(expect_refused(ask("POST", end, {{"reason", "expired"}}), 422, "invalid")["thing"],
            "reason");
  expect_refused(ask("POST", "/api/display-records", screen_check(), {{"X-Copunctal", ""}}), 403,
                 "forbidden");
  EXPECT_EQ(ask_json("GET", "/api/display-records/current"), before);
}

TEST_F(Api, gives_every_page_the_same_file_and_assets_for_ever) {
  const Reply start = ask("GET", "/");
  EXPECT_EQ(start.status, 200);
  EXPECT_EQ(start.headers.at("content-type"), "text/html; charset=utf-8");
  EXPECT_EQ(start.headers.at("cache-control"), "no-store");
  for (const std::string page : {"/sit/x", "/sitting/x", "/sitting/x/outcome", "/index.html"})
    EXPECT_EQ(ask("GET", page).body, start.body) << page;
  const Reply script = ask("GET", "/assets/app-1a2b3c.js");
  EXPECT_EQ(script.body, "export {};");
  EXPECT_EQ(script.headers.at("content-type"), "text/javascript; charset=utf-8");
  EXPECT_EQ(script.headers.at("cache-control"), "public, max-age=31536000, immutable");
}

TEST_F(Api, finds_nothing_elsewhere) {
  for (const std::string target :
       {"/nothing", "/api", "/api/", "/api/nothing", "/assets/other.js", "/assets/../index.html",
        "/%2e%2e/etc/passwd", "/assets/..%2findex.html", "//etc/passwd", "/sit", "/sit/",
        "/sitting/x/y", "/assets/app-1a2b3c.js/", "/copunctal.db", "/..\\index.html"}) {
    const json error = expect_refused(ask("GET", target), 404, "not_found");
    EXPECT_EQ(error["place"], target);
  }
}

TEST_F(Api, names_the_methods_of_an_address) {
  const Reply reply = ask("DELETE", "/api/practicals");
  expect_refused(reply, 405, "method_not_allowed");
  EXPECT_EQ(reply.headers.at("allow"), "GET, POST");
  expect_refused(ask("PATCH", "/api/health"), 405, "method_not_allowed");
  expect_refused(ask("TRACE", "/"), 405, "method_not_allowed");
  expect_refused(ask("POST", "/"), 405, "method_not_allowed");
}

TEST_F(Api, refuses_changes_from_other_pages_and_changes_nothing) {
  const auto practicals = ask_json("GET", "/api/practicals")["practicals"].size();
  const json body = json::object();
  for (const Headers& headers :
       {Headers{{"Content-Type", "text/plain"}}, Headers{{"X-Copunctal", ""}},
        Headers{{"Origin", "http://example.org"}}, Headers{{"Sec-Fetch-Site", "cross-site"}}})
    expect_refused(ask("POST", "/api/practicals", body, headers), 403, "forbidden");
  EXPECT_EQ(ask_json("GET", "/api/practicals")["practicals"].size(), practicals);
}

TEST_F(Api, answers_under_its_own_name_only) {
  expect_refused(ask("GET", "/api/health", nullptr, {{"Host", "example.org"}}), 421, "misdirected");
  expect_refused(ask("GET", "/", nullptr, {{"Host", "example.org"}}), 421, "misdirected");
  EXPECT_EQ(
      ask("GET", "/api/health", nullptr, {{"Host", "localhost:" + std::to_string(server->port())}})
          .status,
      200);
}

TEST_F(Api, refuses_bodies_that_are_no_json) {
  const auto reply = client->ask("POST", "/api/practicals", "{\"name\":\"a\",\"name\":\"b\"}");
  ASSERT_TRUE(reply);
  expect_refused(*reply, 400, "bad_request");
  const auto empty = client->ask("POST", "/api/practicals", "");
  ASSERT_TRUE(empty);
  expect_refused(*empty, 400, "bad_request");
}

TEST_F(Api, carries_its_protection_on_every_kind_of_reply) {
  for (const auto& [method, target] : std::vector<std::pair<std::string, std::string>>{
           {"GET", "/"}, {"GET", "/api/health"}, {"GET", "/nothing"}, {"DELETE", "/"}}) {
    const Reply reply = ask(method, target);
    EXPECT_EQ(reply.headers.count("server"), 0U);
    EXPECT_EQ(reply.headers.count("access-control-allow-origin"), 0U);
    EXPECT_EQ(reply.headers.at("x-content-type-options"), "nosniff");
    EXPECT_EQ(reply.headers.at("cross-origin-opener-policy"), "same-origin");
    EXPECT_NE(reply.headers.at("content-security-policy").find("default-src 'none'"),
              std::string::npos);
  }
}

TEST_F(Api, with_another_set_loaded_names_the_missing_one) {
  PlateSet other = sample_set();
  other.hash = std::string(64, 'd');
  const auto desk =
      *SittingDesk::open(server->store(), other, system_clocks(), kernel_random(), without_tables);
  const Site site(*desk, sample_pages(), {});
  const json state = begin();
  Request request;
  request.method = "GET";
  request.target = address(state);
  request.headers = {{"host", "127.0.0.1:1"}};
  request.arrival = local_arrival(1);
  const Response response = site.answer(request);
  EXPECT_EQ(response.status, 409);
  EXPECT_EQ(json::parse(response.text)["error"]["thing"], "practical");
}

// The kernel refuses to let any file of this process grow, as a full disk would.
TEST_F(Api, on_a_full_disk_confirms_nothing_and_asks_to_be_tried_again) {
  RunningServer other;
  HttpClient there(other.port());
  const auto write_limit_of = [&](rlim_t bytes) {
    rlimit limit{};
    getrlimit(RLIMIT_FSIZE, &limit);
    limit.rlim_cur = std::min(bytes, limit.rlim_max);
    return setrlimit(RLIMIT_FSIZE, &limit) == 0;
  };
  ASSERT_TRUE(there.ask("POST", "/api/practicals", "{}"));
  std::signal(SIGXFSZ, SIG_IGN);
  ASSERT_TRUE(write_limit_of(1));
  const auto refused = there.ask("POST", "/api/practicals", "{}");
  ASSERT_TRUE(write_limit_of(RLIM_INFINITY));
  ASSERT_TRUE(refused);
  expect_refused(*refused, 503, "unavailable");
  EXPECT_EQ(refused->headers.at("retry-after"), "1");

  EXPECT_EQ(there.ask("POST", "/api/practicals", "{}")->status, 201) << "it went on";
  EXPECT_EQ(json::parse(there.ask("GET", "/api/practicals")->body)["practicals"].size(), 2U);
}

TEST_F(Api, admits_a_mistake_of_its_own_without_its_insides) {
  const auto broken = [](const PlateSet&) -> Result<std::shared_ptr<const ReadingTables>> {
    throw std::runtime_error("secret insides");
  };
  const auto desk =
      *SittingDesk::open(server->store(), sample_set(), system_clocks(), kernel_random(), broken);
  std::string reported;
  const Site site(*desk, sample_pages(), [&](std::string_view trouble) { reported = trouble; });
  Request request;
  request.method = "GET";
  request.target = address(answer_all(begin())) + "/outcome";
  request.headers = {{"host", "127.0.0.1:1"}};
  request.arrival = local_arrival(1);
  const Response response = site.answer(request);
  EXPECT_EQ(response.status, 500);
  EXPECT_EQ(json::parse(response.text)["error"]["code"], "internal");
  EXPECT_EQ(response.text.find("secret"), std::string::npos);
  EXPECT_EQ(reported, "secret insides");
}
