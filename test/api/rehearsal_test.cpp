// A rehearsal beside a server: its own port and store, its own words on everything.
#include <gtest/gtest.h>

#include <filesystem>
#include <nlohmann/json.hpp>

#include "api/http_client.h"
#include "api/running_server.h"
#include "copunctal/server/loopback_client.h"
#include "copunctal/server/rehearsal.h"

using namespace copunctal;
using nlohmann::json;

namespace {

namespace fs = std::filesystem;

/// A server that can rehearse, with the sample set.
struct RehearsingServer {
  ScratchDirectory data;
  Rehearsals rehearsals{[this] {
    return Rehearsal::Rests{rehearsal_directory(data.path()),
                            sample_set(),
                            {sample_pages().begin(), sample_pages().end()},
                            {},
                            without_tables};
  }};
  RehearsalControl control = rehearsals.control();
  std::unique_ptr<RunningServer> server;

  RehearsingServer() {
    ServerOptions options;
    options.rehearsals = &control;
    server = std::make_unique<RunningServer>(options);
  }
  ~RehearsingServer() { server->stop(); }
  RouteReply ask(const std::string& method, const std::string& path,
                 const std::string& body = "{}") {
    return ask_loopback(server->port(), method, path, body);
  }
};

constexpr const char* wish = R"({"people":6,"seed":1,"lasts_s":0})";

}  // namespace

TEST(Rehearsal, is_marked_everywhere_and_ends_without_a_trace) {
  RehearsingServer real;
  EXPECT_EQ(json::parse(real.ask("GET", "/api/rehearsal").body)["rehearsal"], nullptr);
  const RouteReply begun = real.ask("POST", "/api/rehearsal", wish);
  ASSERT_EQ(begun.status, 201) << begun.body;
  const json rehearsal = json::parse(begun.body)["rehearsal"];
  const std::string address = rehearsal["address"];
  const auto port = static_cast<std::uint16_t>(
      std::stoi(address.substr(std::string("http://127.0.0.1:").size())));
  EXPECT_NE(port, real.server->port());
  EXPECT_TRUE(fs::exists(rehearsal_directory(real.data.path()) / "copunctal.db"));

  const std::string practical = "/api/practicals/" + rehearsal["practical"].get<std::string>();
  for (const std::string& path : {std::string("/api/about"), practical, practical + "/watch",
                                  std::string("/api/practicals"), std::string("/api/nowhere")}) {
    const json body = json::parse(ask_loopback(port, "GET", path, "").body);
    EXPECT_EQ(body["invented"], invented_words) << path;
  }
  EXPECT_EQ(json::parse(ask_loopback(port, "GET", practical, "").body)["name"], invented_words);
  EXPECT_NE(ask_loopback(port, "GET", "/practical/x", "")
                .body.find("<title>" + std::string(invented_words)),
            std::string::npos);
  // None of it at the real one.
  EXPECT_EQ(json::parse(real.ask("GET", "/api/practicals").body)["practicals"].size(), 0U);
  EXPECT_EQ(real.ask("GET", practical).status, 404);
  EXPECT_FALSE(json::parse(real.ask("GET", "/api/about").body).contains("invented"));
  EXPECT_EQ(real.ask("GET", "/practical/x").body.find("INVENTED"), std::string::npos);

  EXPECT_EQ(real.ask("POST", "/api/rehearsal", wish).status, 409) << "one at a time";
  EXPECT_EQ(ask_loopback(port, "POST", "/api/rehearsal", wish).status, 409) << "none inside one";
  EXPECT_EQ(real.ask("DELETE", "/api/rehearsal").status, 200);
  EXPECT_TRUE(fs::is_empty(real.data.path()));
  EXPECT_EQ(ask_loopback(port, "GET", "/api/about", "").status, 0) << "nobody answers any more";
  EXPECT_EQ(real.ask("POST", "/api/rehearsal", wish).status, 201) << "and then another";
}

TEST(Rehearsal, that_cannot_be_meant_is_refused) {
  RehearsingServer real;
  for (const char* body :
       {"{}", R"({"people":5,"seed":1,"lasts_s":0})", R"({"people":301,"seed":1,"lasts_s":0})",
        R"({"people":6,"seed":-1,"lasts_s":0})", R"({"people":6,"seed":1,"lasts_s":3601})",
        R"({"people":6.5,"seed":1,"lasts_s":0})"})
    EXPECT_EQ(real.ask("POST", "/api/rehearsal", body).status, 422) << body;
  EXPECT_TRUE(fs::is_empty(real.data.path()));
}

TEST(Rehearsal, plays_its_class_to_the_end_the_same_way_every_time) {
  const auto played = [] {
    const ScratchDirectory data;
    RehearsalWish wish;
    wish.people = 8;
    wish.seed = 11;
    wish.lasts = std::chrono::seconds(0);
    wish.loans = {};
    auto rehearsal = Rehearsal::start({rehearsal_directory(data.path()),
                                       sample_set(),
                                       {sample_pages().begin(), sample_pages().end()},
                                       {},
                                       build_reading_tables},
                                      wish);
    EXPECT_TRUE(rehearsal) << rehearsal.error().message;
    const std::string practical = "/api/practicals/" + (*rehearsal)->state().practical;
    const RouteReply open =
        (*rehearsal)->ask("POST", practical + "/open", R"({"men":4,"women":4,"misses":3})");
    EXPECT_EQ(open.status, 200) << open.body;
    while ((*rehearsal)->state().stage == "waits to be opened" ||
           (*rehearsal)->state().stage == "plays")
      std::this_thread::sleep_for(std::chrono::milliseconds(20));
    const RehearsalState state = (*rehearsal)->state();
    EXPECT_EQ(state.stage, "has played") << state.trouble;
    EXPECT_EQ(state.report.sittings, 7U) << "all but the one who refuses";
    EXPECT_EQ(state.report.ended, 7U);
    EXPECT_EQ(state.report.late, 2U);
    EXPECT_EQ(state.report.refused, 1U);
    EXPECT_EQ(state.report.off_record, 1U);
    EXPECT_GT(state.report.queued, 0U);
    EXPECT_GT(state.report.sent_again, 0U);
    const json watch = json::parse((*rehearsal)->ask("GET", practical + "/watch", "").body);
    EXPECT_EQ(watch["sittings"].size(), 6U) << "off the record nobody watching sees it";
    EXPECT_EQ((*rehearsal)->ask("POST", practical + "/close", "{}").status, 200);
    const std::string debrief = (*rehearsal)->ask("GET", practical + "/debrief", "").body;
    EXPECT_EQ(json::parse(debrief)["own"], 6) << debrief;
    return debrief;
  };
  EXPECT_EQ(played(), played());
}
