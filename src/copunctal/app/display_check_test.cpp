#include "copunctal/app/display_check.h"

#include <cmath>
#include <functional>
#include <limits>

#include <gtest/gtest.h>

#include "copunctal/app/display_desk.h"
#include "copunctal/colour/encoding.h"
#include "copunctal/store/sample_records.h"
#include "copunctal/store/scratch_directory.h"
#include "copunctal/store/store.h"

namespace copunctal {
namespace {

constexpr std::string_view now = "2030-01-02T03:04:05.678Z";

/// A check with nothing to say against the screen.
ScreenCheck good_check() {
  ScreenCheck check = sample_display_record().check;
  check.tone_matches.clear();
  for (const char* channel : {"r", "g", "b"})
    for (const auto& [share, code] : {std::pair{0.25, 136}, {0.5, 186}, {0.75, 224}})
      check.tone_matches.push_back({channel, share, code});
  return check;
}

CheckedDisplay judged_now(const ScreenCheck& check) {
  DisplayRecord record = sample_display_record();
  record.check = check;
  return judged(record, now);
}

DisplayFinding finding_on(const ScreenCheck& check, const std::string& what) {
  for (DisplayFinding& finding : judged_now(check).findings)
    if (finding.what == what) return finding;
  throw std::logic_error("no finding on " + what);
}

FindingState state_of(const std::string& what, const std::function<void(ScreenCheck&)>& change) {
  ScreenCheck check = good_check();
  change(check);
  const DisplayFinding finding = finding_on(check, what);
  EXPECT_FALSE(finding.words.empty()) << what;
  EXPECT_EQ(finding.words.back(), '.') << finding.words;
  return finding.state;
}

std::string field_refused(const std::function<void(ScreenCheck&)>& change) {
  ScreenCheck check = good_check();
  change(check);
  const auto checked = check_screen(check);
  return checked ? "" : checked.error().thing;
}

// A raster of every other line has half the light: gamma = ln .5 / ln(188 / 255) = 2.274.
TEST(ToneFit, OfOneMatchSolvesItsEquation) {
  for (const auto& [share, code] : {std::pair{0.5, 188}, {0.25, 100}, {0.75, 230}}) {
    const auto fit = tone_fit(std::vector<ToneMatch>{{"r", share, code}});
    ASSERT_TRUE(fit);
    EXPECT_NEAR(fit->gamma, std::log(share) / std::log(code / 255.0), 1e-5) << code;
    EXPECT_NEAR(fit->rms_codes, 0, 1e-4);
  }
  EXPECT_NEAR(tone_fit(std::vector<ToneMatch>{{"r", 0.5, 188}})->gamma, 2.274, 0.0005);
}

// Codes rounded from a power law give it back; what is left is the rounding, at most half a code.
TEST(ToneFit, FindsThePowerLawBehindRoundedCodes) {
  for (const double gamma : {1.0, 1.8, 2.2, 2.4, 2.8}) {
    std::vector<ToneMatch> matches;
    for (const double share : {0.25, 0.5, 0.75})
      matches.push_back({"g", share, std::lround(255 * std::pow(share, 1 / gamma))});
    const auto fit = tone_fit(matches);
    ASSERT_TRUE(fit);
    EXPECT_NEAR(fit->gamma, gamma, 0.02 * gamma);
    EXPECT_LE(fit->rms_codes, 0.5);
  }
}

// The curve of IEC 61966-2-1 is no power law, yet near one of 2.2 at these three shares.
TEST(ToneFit, TakesTheStandardCurveForUsual) {
  std::vector<ToneMatch> matches;
  for (const double share : {0.25, 0.5, 0.75}) matches.push_back({"b", share, srgb_code(share)});
  const auto fit = tone_fit(matches);
  ASSERT_TRUE(fit);
  EXPECT_NEAR(fit->gamma, 2.2, 0.1);
  EXPECT_LT(fit->rms_codes, 2);
}

TEST(ToneFit, IsTheLeastOfSquares) {
  const std::vector<ToneMatch> matches = {
      {"r", 0.25, 120}, {"r", 0.5, 200}, {"r", 0.75, 215}, {"r", 0.5, 180}};
  const auto left = [&](double gamma) {
    double sum = 0;
    for (const ToneMatch& match : matches)
      sum += std::pow(static_cast<double>(match.code) - 255 * std::pow(match.share, 1 / gamma), 2);
    return sum;
  };
  const auto fit = tone_fit(matches);
  ASSERT_TRUE(fit);
  EXPECT_NEAR(fit->rms_codes, std::sqrt(left(fit->gamma) / 4), 1e-9);
  for (double gamma = 0.3; gamma < 8; gamma += 0.001)
    ASSERT_GE(left(gamma), left(fit->gamma) - 1e-6) << gamma;
}

TEST(ToneFit, DoesNotGuess) {
  EXPECT_FALSE(tone_fit({}));
  EXPECT_FALSE(tone_fit(std::vector<ToneMatch>{{"r", 0.5, 0}}));
  EXPECT_FALSE(tone_fit(std::vector<ToneMatch>{{"r", 0.5, 255}}));
}

TEST(DisplayCheck, OfAGoodScreenFindsAllFineInOneOrder) {
  const CheckedDisplay checked = judged_now(good_check());
  std::vector<std::string> what;
  for (const DisplayFinding& finding : checked.findings) {
    what.push_back(finding.what);
    EXPECT_EQ(finding.state, FindingState::fine) << finding.what << ": " << finding.words;
  }
  EXPECT_EQ(what, (std::vector<std::string>{"tone curve", "black", "white", "neutral", "night mode",
                                            "adaptation", "light", "refresh", "size"}));
  ASSERT_TRUE(checked.tone[0] && checked.tone[1] && checked.tone[2]);
  // 323.5 / 85.60, the long side of a card of ISO/IEC 7810 ID-1.
  EXPECT_NEAR(*checked.pixels_per_mm, 3.779, 0.0005);
  EXPECT_EQ(checked.status, "assumed") << "eyes are no instrument";
  EXPECT_NE(checked.words.find("checked by eye on 2030-01-02"), std::string::npos);
  EXPECT_EQ(checked.words.find("mend"), std::string::npos);
}

TEST(DisplayCheck, JudgesTheToneCurveByItsGamma) {
  const auto of_red = [](std::int64_t code) {
    return state_of("tone curve", [&](ScreenCheck& check) {
      for (ToneMatch& match : check.tone_matches)
        if (match.channel == "r") match = {"r", 0.5, code};
    });
  };
  // gamma = ln .5 / ln(code / 255): 169 is 1.685, 170 1.710, 180 1.990, 181 2.022, 191 2.398,
  // 192 2.443, 199 2.795, 200 2.853.
  EXPECT_EQ(of_red(169), FindingState::mend);
  EXPECT_EQ(of_red(170), FindingState::note);
  EXPECT_EQ(of_red(180), FindingState::note);
  EXPECT_EQ(of_red(181), FindingState::fine);
  EXPECT_EQ(of_red(191), FindingState::fine);
  EXPECT_EQ(of_red(192), FindingState::note);
  EXPECT_EQ(of_red(199), FindingState::note);
  EXPECT_EQ(of_red(200), FindingState::mend);
  EXPECT_EQ(of_red(0), FindingState::mend) << "no curve";

  EXPECT_EQ(state_of("tone curve", [](ScreenCheck& check) { check.tone_matches.clear(); }),
            FindingState::note);
  EXPECT_EQ(state_of("tone curve", [](ScreenCheck& check) { check.tone_matches.resize(6); }),
            FindingState::note)
      << "blue was not compared";
  EXPECT_EQ(state_of("tone curve",
                     [](ScreenCheck& check) {
                       check.tone_matches.push_back({"g", 0.5, 200});
                       check.tone_matches.push_back({"g", 0.5, 172});
                     }),
            FindingState::note)
      << "green disagrees with itself";
  ScreenCheck blue = good_check();
  blue.tone_matches.back().code = 20;
  EXPECT_NE(finding_on(blue, "tone curve").words.find("blue"), std::string::npos);
}

TEST(DisplayCheck, JudgesTheRestByTheLimitsStated) {
  using S = FindingState;
  const auto black = [](std::optional<std::int64_t> code) {
    return state_of("black", [&](ScreenCheck& check) { check.black_step = code; });
  };
  EXPECT_EQ(black(8), S::fine);
  EXPECT_EQ(black(9), S::note);
  EXPECT_EQ(black(16), S::note);
  EXPECT_EQ(black(17), S::mend);
  EXPECT_EQ(black(std::nullopt), S::note);
  const auto white = [](std::optional<std::int64_t> code) {
    return state_of("white", [&](ScreenCheck& check) { check.white_step = code; });
  };
  EXPECT_EQ(white(247), S::fine);
  EXPECT_EQ(white(246), S::note);
  EXPECT_EQ(white(239), S::note);
  EXPECT_EQ(white(238), S::mend);
  EXPECT_EQ(white(std::nullopt), S::note);
  EXPECT_EQ(state_of("neutral", [](ScreenCheck& check) { check.neutral = "tinted"; }), S::mend);
  EXPECT_EQ(state_of("neutral", [](ScreenCheck& check) { check.neutral.reset(); }), S::note);
  EXPECT_EQ(state_of("night mode", [](ScreenCheck& check) { check.night_mode_off = false; }),
            S::mend);
  EXPECT_EQ(state_of("adaptation", [](ScreenCheck& check) { check.adapted = false; }), S::note);
  EXPECT_EQ(state_of("light", [](ScreenCheck& check) { check.room_light = "dim"; }), S::fine);
  EXPECT_EQ(state_of("light", [](ScreenCheck& check) { check.room_light = "bright"; }), S::note);
  EXPECT_EQ(state_of("light", [](ScreenCheck& check) { check.room_light.reset(); }), S::note);
  ScreenCheck bright = good_check();
  bright.room_light = "bright";
  EXPECT_NE(finding_on(bright, "light").words.find("veil"), std::string::npos) << "says why";
  EXPECT_EQ(state_of("size", [](ScreenCheck& check) { check.card_px.reset(); }), S::note);

  const auto refresh = [](double hz, double spread, std::int64_t dropped) {
    return state_of("refresh", [&](ScreenCheck& check) {
      check.refresh_hz = hz;
      check.frame_spread_ms = spread;
      check.dropped_frames = dropped;
    });
  };
  EXPECT_EQ(refresh(60, 2, 1), S::fine) << "1 of 120 is below 1 %";
  EXPECT_EQ(refresh(60, 2.1, 0), S::note);
  EXPECT_EQ(refresh(60, 0, 2), S::note);
  EXPECT_EQ(refresh(120, 0, 2), S::fine) << "2 of 240";
  EXPECT_EQ(state_of("refresh",
                     [](ScreenCheck& check) {
                       check.refresh_hz.reset();
                       check.frame_spread_ms.reset();
                       check.dropped_frames.reset();
                     }),
            S::note);
}

TEST(DisplayCheck, SaysInOneSentenceWhatToMend) {
  ScreenCheck check = good_check();
  check.neutral = "tinted";
  check.night_mode_off = false;
  const std::string words = judged_now(check).words;
  EXPECT_NE(words.find("to mend: neutral, night mode"), std::string::npos) << words;
  EXPECT_NE(words.find("srgb/oled is assumed"), std::string::npos) << words;
  EXPECT_NE(words.find("not measured"), std::string::npos) << words;
}

TEST(DisplayCheck, RefusesWhatCannotBeMeantAndNamesIt) {
  constexpr double nan = std::numeric_limits<double>::quiet_NaN();
  constexpr double infinity = std::numeric_limits<double>::infinity();
  EXPECT_EQ(field_refused([](ScreenCheck&) {}), "");
  EXPECT_EQ(field_refused([](ScreenCheck& c) { c.display = "srgb/tube"; }), "display");
  EXPECT_EQ(field_refused([](ScreenCheck& c) { c.display = "srgb"; }), "display");
  for (const double odd : {nan, infinity, -infinity, 0.0, -1.0, 1e9}) {
    EXPECT_EQ(field_refused([&](ScreenCheck& c) { c.card_px = odd; }), "card_px") << odd;
    EXPECT_EQ(field_refused([&](ScreenCheck& c) { c.device_pixel_ratio = odd; }),
              "device_pixel_ratio");
    EXPECT_EQ(field_refused([&](ScreenCheck& c) { c.refresh_hz = odd; }), "refresh_hz");
    EXPECT_EQ(field_refused([&](ScreenCheck& c) { c.tone_matches[0].share = odd; }),
              "tone_matches");
  }
  for (const double odd : {nan, infinity, -0.1, 1e9})
    EXPECT_EQ(field_refused([&](ScreenCheck& c) { c.frame_spread_ms = odd; }), "frame_spread_ms");
  EXPECT_EQ(field_refused([](ScreenCheck& c) { c.screen_px = {1920, 0}; }), "screen_px");
  EXPECT_EQ(field_refused([](ScreenCheck& c) { c.screen_at = {-2'000'000, 0}; }), "screen_at");
  EXPECT_EQ(field_refused([](ScreenCheck& c) { c.colour_depth = 0; }), "colour_depth");
  EXPECT_EQ(field_refused([](ScreenCheck& c) { c.gamut = "wide"; }), "gamut");
  EXPECT_EQ(field_refused([](ScreenCheck& c) { c.tone_matches[0].channel = "k"; }), "tone_matches");
  EXPECT_EQ(field_refused([](ScreenCheck& c) { c.tone_matches[0].share = 0.3; }), "tone_matches");
  EXPECT_EQ(field_refused([](ScreenCheck& c) { c.tone_matches[0].code = 256; }), "tone_matches");
  EXPECT_EQ(field_refused([](ScreenCheck& c) { c.tone_matches[0].code = -1; }), "tone_matches");
  EXPECT_EQ(field_refused([](ScreenCheck& c) { c.tone_matches.resize(91, c.tone_matches[0]); }),
            "tone_matches");
  EXPECT_EQ(field_refused([](ScreenCheck& c) { c.tone_matches.resize(90, c.tone_matches[0]); }),
            "");
  EXPECT_EQ(field_refused([](ScreenCheck& c) { c.black_step = 0; }), "black_step");
  EXPECT_EQ(field_refused([](ScreenCheck& c) { c.black_step = 256; }), "black_step");
  EXPECT_EQ(field_refused([](ScreenCheck& c) { c.white_step = 255; }), "white_step");
  EXPECT_EQ(field_refused([](ScreenCheck& c) { c.white_step = -1; }), "white_step");
  EXPECT_EQ(field_refused([](ScreenCheck& c) { c.neutral = "grey"; }), "neutral");
  EXPECT_EQ(field_refused([](ScreenCheck& c) { c.room_light = "dark"; }), "room_light");
  std::string umlauts;
  for (int i = 0; i < 200; ++i) umlauts += "ü";
  EXPECT_EQ(field_refused([&](ScreenCheck& c) { c.statement = umlauts; }), "");
  EXPECT_EQ(field_refused([&](ScreenCheck& c) { c.statement = umlauts + "."; }), "statement");
  EXPECT_EQ(field_refused([](ScreenCheck& c) { c.statement = "two\nlines"; }), "");
  EXPECT_EQ(field_refused([](ScreenCheck& c) { c.statement = "\x1b[0m"; }), "statement");
  EXPECT_EQ(field_refused([](ScreenCheck& c) { c.dropped_frames = -1; }), "dropped_frames");
  EXPECT_EQ(field_refused([](ScreenCheck& c) { c.dropped_frames.reset(); }), "refresh_hz");
}

TEST(DisplayCheck, CountsDaysByTheCalendar) {
  EXPECT_EQ(days_later("2030-01-02T03:04:05.678Z", 30), "2030-02-01T03:04:05.678Z");
  EXPECT_EQ(days_later("2028-02-01T00:00:00.000Z", 30), "2028-03-02T00:00:00.000Z");
  EXPECT_EQ(days_later("2029-02-01T00:00:00.000Z", 30), "2029-03-03T00:00:00.000Z");
  EXPECT_EQ(days_later("2029-12-31T23:59:59.999Z", 1), "2030-01-01T23:59:59.999Z");
}

/// A desk whose clock stands where the test puts it.
struct Desk : testing::Test {
  ScratchDirectory scratch;
  std::string time{now};
  int next_id = 0;
  std::unique_ptr<Store> store = *Store::open(scratch.path(), now);
  DisplayDesk desk{*store, [this] { return time; },
                   [this](std::span<std::byte> bytes) {
                     for (std::byte& byte : bytes) byte = std::byte{0};
                     bytes.back() = static_cast<std::byte>(++next_id);
                   }};
};

TEST_F(Desk, KeepsACheckThatHoldsForThirtyDays) {
  EXPECT_FALSE(*desk.current());
  const auto kept = desk.keep(good_check());
  ASSERT_TRUE(kept) << kept.error().message;
  EXPECT_TRUE(is_id(kept->record.id));
  EXPECT_EQ(kept->record.made_utc, now);
  EXPECT_EQ(kept->record.expires_utc, "2030-02-01T03:04:05.678Z");
  time = "2030-02-01T03:04:05.677Z";
  const auto last = *desk.current();
  ASSERT_TRUE(last);
  EXPECT_EQ(last->record.id, kept->record.id);
  EXPECT_TRUE(last->valid);
  EXPECT_FALSE(last->ended);
  EXPECT_EQ(last->findings.size(), kept->findings.size());
  time = "2030-02-01T03:04:05.678Z";
  const auto over = *desk.current();
  EXPECT_FALSE(over->valid);
  EXPECT_EQ(over->ended, "expired");
  EXPECT_NE(over->words.find("expired"), std::string::npos);
  EXPECT_EQ(desk.end(kept->record.id, "zoom")->ended, "expired") << "it was over before";
}

TEST_F(Desk, LetsTheNewestCheckHold) {
  const std::string first = desk.keep(good_check())->record.id;
  time = "2030-01-03T00:00:00.000Z";
  ScreenCheck other = good_check();
  other.display = "srgb/wled";
  const std::string second = desk.keep(other)->record.id;
  EXPECT_EQ((*desk.current())->record.id, second);
  const auto replaced = desk.end(first, "zoom");
  ASSERT_TRUE(replaced);
  EXPECT_EQ(replaced->ended, "replaced");
  EXPECT_EQ(replaced->record.ended_utc, time);
  EXPECT_FALSE(replaced->valid);
  time = "2031-01-01T00:00:00.000Z";
  ASSERT_TRUE(desk.keep(good_check()));
  EXPECT_EQ(desk.end(second, "mode")->record.ended, "expired") << "too old before it was replaced";
}

TEST_F(Desk, EndsACheckOnce) {
  const std::string id = desk.keep(good_check())->record.id;
  time = "2030-01-02T04:00:00.000Z";
  const auto ended = desk.end(id, "moved");
  ASSERT_TRUE(ended);
  EXPECT_EQ(ended->ended, "moved");
  EXPECT_EQ(ended->record.ended_utc, time);
  EXPECT_EQ((*desk.current())->ended, "moved") << "and it is still the newest";
  time = "2030-01-02T05:00:00.000Z";
  const auto again = desk.end(id, "zoom");
  ASSERT_TRUE(again);
  EXPECT_EQ(again->ended, "moved");
  EXPECT_EQ(again->record.ended_utc, "2030-01-02T04:00:00.000Z");
  EXPECT_EQ(desk.end(sample_id(99), "zoom").error().kind, Error::Kind::not_found);
  for (const char* reason : {"", "expired", "replaced", "boredom"})
    EXPECT_EQ(desk.end(id, reason).error().thing, "reason") << reason;
}

TEST_F(Desk, KeepsNothingOfACheckItRefuses) {
  ScreenCheck odd = good_check();
  odd.card_px = std::numeric_limits<double>::quiet_NaN();
  const auto refused = desk.keep(odd);
  ASSERT_FALSE(refused);
  EXPECT_EQ(refused.error().kind, Error::Kind::bad_input);
  EXPECT_FALSE(*desk.current());
}

}  // namespace
}  // namespace copunctal
