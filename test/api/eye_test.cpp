// The routes of the eye page over a real connection: the same numbers as the library, the same
// codes as a written view, and every refusal.
#include <cstdlib>

#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

#include "api/http_client.h"
#include "api/running_server.h"
#include "copunctal/app/view_picture.h"
#include "copunctal/display/confusion.h"
#include "copunctal/image/png.h"
#include "copunctal/image/sandboxed.h"

using namespace copunctal;
using nlohmann::json;

namespace {

struct EyeRoutes : testing::Test {
  RunningServer server;
  HttpClient client{server.port()};

  Reply ask(const std::string& target) {
    auto reply = client.ask("GET", target, "", {});
    if (!reply) throw std::runtime_error("no reply to " + target);
    return *reply;
  }
  json eye(const std::string& questions) {
    const Reply reply = ask("/api/eye?" + questions);
    EXPECT_EQ(reply.status, 200) << questions << "\n" << reply.body;
    return json::parse(reply.body);
  }
};

TEST_F(EyeRoutes, curves_are_the_librarys_own) {
  const json seen = eye("observer=deutan%3A7,age%3D50");
  EXPECT_EQ(seen["observer"], "deutan:7,age=50");
  EXPECT_EQ(seen["separation_nm"], 7);
  const Fundamentals f = fundamentals_of(*observer_from("deutan:7,age=50"));
  ASSERT_EQ(seen["nm"].size(), seen["curves"]["m"].size());
  for (std::size_t i = 0; i < seen["nm"].size(); ++i)
    EXPECT_NEAR(seen["curves"]["m"][i].get<double>(), f.m.at(seen["nm"][i].get<int>()), 5.1e-6);
  EXPECT_EQ(seen["display_status"], "assumed");
  EXPECT_TRUE(seen["intended_use"].get<std::string>().find("not for diagnosis") !=
              std::string::npos);
}

TEST_F(EyeRoutes, confusion_lines_run_through_the_point_toward_the_copunctal_point) {
  const json seen = eye("observer=protan&at=0.35,0.4");
  ASSERT_EQ(seen["diagrams"].size(), 3U);
  for (const json& diagram : seen["diagrams"]) {
    const auto at = diagram["at"];
    int own = 0;
    for (const json& line : diagram["lines"]) {
      own += line["own"].get<bool>() ? 1 : 0;
      const auto &a = line["points"][0], &b = line["points"][1];
      const double abx = b[0].get<double>() - a[0].get<double>(),
                   aby = b[1].get<double>() - a[1].get<double>();
      const double apx = at[0].get<double>() - a[0].get<double>(),
                   apy = at[1].get<double>() - a[1].get<double>();
      EXPECT_NEAR(abx * apy - aby * apx, 0, 2e-4) << diagram["name"];
    }
    EXPECT_EQ(own, 1) << diagram["name"];
  }
}

// The page shows the codes that the command writes: one map, one way.
TEST_F(EyeRoutes, pictures_have_the_codes_of_a_written_view) {
  const ScratchDirectory scratch;
  const Display display = *display_from("srgb/wled");
  for (const std::string picture : {"pebbles", "plate"}) {
    const std::string about = "display=srgb/wled&picture=" + picture;
    const Reply original = ask("/api/eye/picture?" + about);
    ASSERT_EQ(original.status, 200) << original.body;
    constexpr std::size_t side = 320;
    ASSERT_EQ(original.body.size(), side * side * 3);
    Picture before(side, side);
    std::copy(original.body.begin(), original.body.end(), before.rgb.begin());
    const auto file = scratch.path() / (picture + ".png");
    ASSERT_TRUE(write_png(before, file).has_value());
    for (const std::string observer : {"deutan:0", "protan:6", "tritan", "rod-monochromat"}) {
      const auto out = scratch.path() / (picture + observer + ".png");
      const auto report = view_picture({.in = file, .out = out, .trusted = true},
                                       *observer_from(observer), display);
      ASSERT_TRUE(report.has_value()) << report.error().message;
      const Picture written = *read_picture(out, {.trusted = true});
      const Reply shown = ask("/api/eye/picture?observer=" + observer + "&" + about);
      EXPECT_EQ(shown.headers.at("x-copunctal-view-method"), report->method);
      EXPECT_TRUE(
          std::equal(shown.body.begin(), shown.body.end(), written.rgb.begin(), written.rgb.end(),
                     [](char a, std::uint8_t b) { return static_cast<std::uint8_t>(a) == b; }))
          << picture << " " << observer;
      // The file's audit is of some of its pixels.
      EXPECT_NEAR(std::strtod(shown.headers.at("x-copunctal-view-error").c_str(), nullptr),
                  report->error.reduced.mean, 0.1 * report->error.reduced.mean + 0.01);
    }
  }
}

TEST_F(EyeRoutes, displays_are_named_with_their_status) {
  const json displays = json::parse(ask("/api/displays").body)["displays"];
  ASSERT_EQ(displays.size(), display_names().size());
  for (const json& display : displays) {
    EXPECT_EQ(display["status"], "assumed");
    EXPECT_TRUE(display["words"].get<std::string>().starts_with("assumed:"));
  }
}

TEST_F(EyeRoutes, what_cannot_be_is_refused_and_no_file_is_opened) {
  for (const std::string wrong :
       {"/api/eye?observer=protan:99", "/api/eye?observer=", "/api/eye?observer=a&observer=b",
        "/api/eye?at=0.3", "/api/eye?at=nan,0.3", "/api/eye?at=5,5", "/api/eye?at=0.3,0",
        "/api/eye?colour=red", "/api/eye?observer=%00", "/api/eye?observer=%zz",
        "/api/eye?display=/usr/share/color/icc/colord/sRGB.icc", "/api/eye?display=srgb,peak=0",
        "/api/eye/picture?picture=portrait", "/api/eye/picture?observer=nobody"}) {
    const Reply reply = ask(wrong);
    EXPECT_EQ(reply.status, 422) << wrong;
    const json error = json::parse(reply.body)["error"];
    EXPECT_FALSE(error["message"].get<std::string>().empty()) << wrong;
    EXPECT_FALSE(error["remedy"].get<std::string>().empty()) << wrong;
  }
  EXPECT_EQ(ask("/api/eye?observer=" + std::string(600, 'a')).status, 422);
}

}  // namespace
