#include "copunctal/app/display_check.h"

#include <algorithm>
#include <chrono>
#include <cmath>
#include <cstdint>

#include <fmt/format.h>

#include "copunctal/app/run_sitting_checks.h"
#include "copunctal/base/expects.h"
#include "copunctal/base/text.h"
#include "copunctal/display/display.h"

namespace copunctal {
namespace {

constexpr double full_code = 255;
constexpr double least_gamma = 0.2, most_gamma = 8;

struct Channel {
  const char* key;
  const char* name;
};
constexpr std::array channels = {Channel{"r", "red"}, Channel{"g", "green"}, Channel{"b", "blue"}};

double squares_left(std::span<const ToneMatch> matches, double gamma) {
  double sum = 0;
  for (const ToneMatch& match : matches) {
    const double left =
        static_cast<double>(match.code) - full_code * std::pow(match.share, 1 / gamma);
    sum += left * left;
  }
  return sum;
}

std::vector<ToneMatch> matches_in(const ScreenCheck& check, std::string_view channel) {
  std::vector<ToneMatch> matches;
  for (const ToneMatch& match : check.tone_matches)
    if (match.channel == channel) matches.push_back(match);
  return matches;
}

// "red", "red and blue", "red, green and blue".
std::string listed(const std::vector<std::string>& names) {
  if (names.size() < 2) return joined(names, "");
  const std::vector<std::string> head(names.begin(), names.end() - 1);
  return joined(head, ", ") + " and " + names.back();
}

DisplayFinding tone_finding(const ScreenCheck& check,
                            const std::array<std::optional<ToneFit>, 3>& tone) {
  std::vector<std::string> fitted, unusual, unusable, scattered, unfitted, missing;
  for (std::size_t c = 0; c < channels.size(); ++c) {
    const std::string name = channels[c].name;
    if (!tone[c]) {
      (matches_in(check, channels[c].key).empty() ? missing : unfitted).push_back(name);
      continue;
    }
    const auto [gamma, rms] = *tone[c];
    fitted.push_back(name + " " + decimals(gamma, 2));
    if (gamma < usable_gamma_least || gamma > usable_gamma_most)
      unusable.push_back(name);
    else if (gamma < usual_gamma_least || gamma > usual_gamma_most)
      unusual.push_back(name);
    if (rms > usual_residual_codes) scattered.push_back(name);
  }
  if (missing.size() == channels.size())
    return {"tone curve", FindingState::note,
            "The tone curve was not compared; that of sRGB is assumed."};
  std::vector<std::string> words;
  if (!fitted.empty()) words.push_back("Gamma: " + joined(fitted, ", ") + ".");
  if (!unfitted.empty())
    words.push_back("No curve fits the matches of " + listed(unfitted) +
                    ": make them again, from farther away.");
  if (!unusable.empty())
    words.push_back(
        fmt::format("That of {} lies outside {} to {}: set the screen to its standard "
                    "or sRGB mode and check again.",
                    listed(unusable), shortest(usable_gamma_least), shortest(usable_gamma_most)));
  if (!unusual.empty())
    words.push_back(fmt::format(
        "That of {} lies outside {} to {}: contrasts differ from those "
        "computed.",
        listed(unusual), decimals(usual_gamma_least, 1), decimals(usual_gamma_most, 1)));
  if (!scattered.empty())
    words.push_back("The matches of " + listed(scattered) +
                    " disagree among themselves: make them again, more slowly.");
  if (!missing.empty()) words.push_back("Not compared: " + listed(missing) + ".");
  const bool is_usable = unusable.empty() && unfitted.empty();
  const bool is_usual = unusual.empty() && scattered.empty() && missing.empty();
  return {"tone curve",
          !is_usable  ? FindingState::mend
          : !is_usual ? FindingState::note
                      : FindingState::fine,
          joined(words, " ")};
}

// `distance` in codes from black or white to the first step seen.
DisplayFinding step_finding(const std::string& what, std::optional<std::int64_t> code,
                            std::optional<std::int64_t> distance, const std::string& lost) {
  if (!distance)
    // Skipping a step is a fair answer, and a page cannot send "looked, and saw none".
    return {what, FindingState::note,
            "Steps from " + what + " were not looked for, or none was seen; then " + lost + "."};
  const std::string seen = fmt::format("Code {} is the first told from {}", *code, what);
  if (*distance <= usual_step) return {what, FindingState::fine, seen + "."};
  return {what, *distance <= usable_step ? FindingState::note : FindingState::mend,
          seen + ": " + lost + "."};
}

std::optional<std::int64_t> below_white(std::optional<std::int64_t> code) {
  if (!code) return std::nullopt;
  return 255 - *code;
}

DisplayFinding neutral_finding(const ScreenCheck& check) {
  if (!check.neutral) return {"neutral", FindingState::note, "Greys were not judged."};
  if (*check.neutral == "neutral") return {"neutral", FindingState::fine, "Greys look neutral."};
  return {
      "neutral", FindingState::mend,
      "Greys look tinted: set the screen to its standard colour mode, or to a white of 6500 K."};
}

DisplayFinding night_mode_finding(const ScreenCheck& check) {
  if (check.night_mode_off)
    return {"night mode", FindingState::fine,
            "Night mode and automatic colours are said to be off."};
  return {"night mode", FindingState::mend,
          "Night mode or automatic colours may be on: turn them off, they change every colour."};
}

DisplayFinding adaptation_finding(const ScreenCheck& check) {
  if (check.adapted)
    return {"adaptation", FindingState::fine, "Some minutes were spent in this light first."};
  return {"adaptation", FindingState::note,
          "Eyes had not been in this light for some minutes; what they match still drifts."};
}

DisplayFinding light_finding(const ScreenCheck& check) {
  if (!check.room_light) return {"light", FindingState::note, "The room light was not stated."};
  if (*check.room_light != "bright")
    return {"light", FindingState::fine, "Room light: " + *check.room_light + "."};
  return {
      "light", FindingState::note,
      "Bright room light lies over the screen as a veil: it lowers every contrast, that of dark "
      "colours most. Darken the room, or turn the screen from the windows."};
}

DisplayFinding refresh_finding(const ScreenCheck& check) {
  if (!check.refresh_hz || !check.frame_spread_ms || !check.dropped_frames)
    return {"refresh", FindingState::note,
            "The refresh rate was not measured; how long a plate stands is less sure."};
  const auto dropped = static_cast<double>(*check.dropped_frames);
  const bool is_even = *check.frame_spread_ms <= usual_spread_ms;
  const bool is_whole = dropped <= usual_dropped_share * watched_seconds * *check.refresh_hz;
  const std::string words =
      fmt::format("{} Hz, frames vary by {} ms, {} of about {} missing",
                  decimals(*check.refresh_hz, 1), decimals(*check.frame_spread_ms, 1),
                  *check.dropped_frames, decimals(watched_seconds * *check.refresh_hz, 0));
  if (is_even && is_whole) return {"refresh", FindingState::fine, words + "."};
  return {"refresh", FindingState::note,
          words + ": close other programs; how long a plate stands is less sure."};
}

DisplayFinding size_finding(const ScreenCheck& check) {
  if (!check.card_px)
    return {"size", FindingState::note,
            "The size was not found with a card; how large a plate looks is not known."};
  return {"size", FindingState::fine,
          decimals(*check.card_px / card_mm, 2) + " CSS pixels to the millimetre, by a card."};
}

std::string sentence_on(const CheckedDisplay& checked) {
  const ScreenCheck& check = checked.record.check;
  std::string words = check.display + " is assumed; checked by eye on " +
                      checked.record.made_utc.substr(0, 10) + ", not measured";
  std::vector<std::string> to_mend;
  for (const DisplayFinding& finding : checked.findings)
    if (finding.state == FindingState::mend) to_mend.push_back(finding.what);
  if (!to_mend.empty()) words += "; to mend: " + joined(to_mend, ", ");
  if (checked.ended) words += "; this check holds no longer (" + *checked.ended + ")";
  return words + ".";
}

template <std::size_t n>
Result<void> check_word(const char* field, const std::string& word,
                        const std::array<const char*, n>& known) {
  if (std::find(known.begin(), known.end(), word) != known.end()) return {};
  std::vector<std::string> words(known.begin(), known.end());
  const std::string last = words.back();
  words.pop_back();
  return wrong_field(field, "must be '" + joined(words, "', '") + "' or '" + last + "'");
}

// Written so that a NaN is out of range.
Result<void> check_range(const char* field, double value, double least, double most) {
  if (value >= least && value <= most) return {};
  return wrong_field(field, "must lie between " + shortest(least) + " and " + shortest(most));
}
template <class Number>
Result<void> check_range(const char* field, const std::optional<Number>& value, double least,
                         double most) {
  return value ? check_range(field, static_cast<double>(*value), least, most) : Result<void>();
}
template <class Number>
Result<void> check_range(const char* field, const std::array<Number, 2>& values, double least,
                         double most) {
  for (const Number value : values)
    COPUNCTAL_TRY_VOID(check_range(field, static_cast<double>(value), least, most));
  return {};
}

Result<void> check_matches(const std::vector<ToneMatch>& matches) {
  // Three channels by three shares, each ten times over.
  constexpr std::size_t most_matches = 90;
  const char* const field = "tone_matches";
  if (matches.size() > most_matches)
    return wrong_field(field, "must hold at most " + std::to_string(most_matches) + " matches");
  for (const ToneMatch& match : matches) {
    COPUNCTAL_TRY_VOID(check_word(field, match.channel, std::array{"r", "g", "b"}));
    if (match.share != 0.25 && match.share != 0.5 && match.share != 0.75)
      return wrong_field(field, "must have a share of .25, .5 or .75");
    COPUNCTAL_TRY_VOID(check_range(field, static_cast<double>(match.code), 0, full_code));
  }
  return {};
}

}  // namespace

std::string_view name_of(FindingState state) {
  switch (state) {
    case FindingState::fine:
      return "fine";
    case FindingState::note:
      return "note";
    case FindingState::mend:
      return "mend";
  }
  return "note";
}

std::optional<ToneFit> tone_fit(std::span<const ToneMatch> matches) {
  if (matches.empty()) return std::nullopt;
  // The sum of squares may have more than one valley: a scan finds the deepest, in steps of a
  // hundredth; golden sections go to its ground.
  constexpr int steps = 780;
  const auto gamma_at = [](int step) {
    return least_gamma + (most_gamma - least_gamma) * step / steps;
  };
  int best = 0;
  double least = squares_left(matches, gamma_at(0));
  for (int step = 1; step <= steps; ++step)
    if (const double squares = squares_left(matches, gamma_at(step)); squares < least) {
      least = squares;
      best = step;
    }
  if (best == 0 || best == steps) return std::nullopt;
  double low = gamma_at(best - 1), high = gamma_at(best + 1);
  const double section = (std::sqrt(5.0) - 1) / 2;
  while (high - low > 1e-7) {
    const double a = high - section * (high - low), b = low + section * (high - low);
    if (squares_left(matches, a) < squares_left(matches, b))
      high = b;
    else
      low = a;
  }
  const double gamma = (low + high) / 2;
  return ToneFit{gamma,
                 std::sqrt(squares_left(matches, gamma) / static_cast<double>(matches.size()))};
}

Result<void> check_screen(const ScreenCheck& check) {
  const auto names = display_names();
  if (std::find(names.begin(), names.end(), check.display) == names.end())
    return wrong_field("display", "must be one of " + joined(names, ", "));
  COPUNCTAL_TRY_VOID(check_range("card_px", check.card_px, 40, 4000));
  COPUNCTAL_TRY_VOID(check_range("device_pixel_ratio", check.device_pixel_ratio, 0.1, 20));
  COPUNCTAL_TRY_VOID(check_range("screen_px", check.screen_px, 1, 100'000));
  COPUNCTAL_TRY_VOID(check_range("screen_at", check.screen_at, -1'000'000, 1'000'000));
  COPUNCTAL_TRY_VOID(check_range("colour_depth", static_cast<double>(check.colour_depth), 1, 128));
  COPUNCTAL_TRY_VOID(check_word("gamut", check.gamut, std::array{"srgb", "p3", "rec2020"}));
  COPUNCTAL_TRY_VOID(check_matches(check.tone_matches));
  COPUNCTAL_TRY_VOID(check_range("black_step", check.black_step, 1, full_code));
  COPUNCTAL_TRY_VOID(check_range("white_step", check.white_step, 0, full_code - 1));
  if (check.neutral)
    COPUNCTAL_TRY_VOID(check_word("neutral", *check.neutral, std::array{"neutral", "tinted"}));
  if (check.room_light)
    COPUNCTAL_TRY_VOID(
        check_word("room_light", *check.room_light, std::array{"dim", "office", "bright"}));
  constexpr std::size_t longest_statement = 200;
  if (characters_in(check.statement) > longest_statement)
    return wrong_field("statement", "must have at most 200 characters");
  std::string on_one_line = check.statement;
  std::replace(on_one_line.begin(), on_one_line.end(), '\n', ' ');
  if (has_control_character(on_one_line))
    return wrong_field("statement", "must not hold control characters");
  COPUNCTAL_TRY_VOID(check_range("refresh_hz", check.refresh_hz, 1, 1000));
  COPUNCTAL_TRY_VOID(check_range("frame_spread_ms", check.frame_spread_ms, 0, 10'000));
  COPUNCTAL_TRY_VOID(check_range("dropped_frames", check.dropped_frames, 0, 100'000));
  if (check.refresh_hz.has_value() != check.frame_spread_ms.has_value() ||
      check.refresh_hz.has_value() != check.dropped_frames.has_value())
    return wrong_field("refresh_hz", "goes with frame_spread_ms and dropped_frames: all or none");
  return {};
}

Result<DisplayRecord> new_record(const ScreenCheck& check, const std::string& now_utc,
                                 std::string id) {
  COPUNCTAL_TRY_VOID(check_screen(check));
  return DisplayRecord{.id = std::move(id),
                       .made_utc = now_utc,
                       .expires_utc = days_later(now_utc, days_valid),
                       .ended = std::nullopt,
                       .ended_utc = std::nullopt,
                       .check = check};
}

CheckedDisplay judged(DisplayRecord record, std::string_view now_utc) {
  CheckedDisplay checked;
  checked.record = std::move(record);
  const ScreenCheck& check = checked.record.check;
  checked.ended = checked.record.ended;
  // Times of one form sort as texts.
  if (!checked.ended && checked.record.expires_utc <= now_utc) checked.ended = "expired";
  checked.valid = !checked.ended;
  checked.status = "assumed";
  if (check.card_px) checked.pixels_per_mm = *check.card_px / card_mm;
  for (std::size_t c = 0; c < channels.size(); ++c)
    checked.tone[c] = tone_fit(matches_in(check, channels[c].key));
  checked.findings = {
      tone_finding(check, checked.tone),
      step_finding("black", check.black_step, check.black_step,
                   "dark colours run together; dim the room, or raise the screen's brightness"),
      step_finding("white", check.white_step, below_white(check.white_step),
                   "light colours run together; lower the screen's contrast setting"),
      neutral_finding(check),
      night_mode_finding(check),
      adaptation_finding(check),
      light_finding(check),
      refresh_finding(check),
      size_finding(check)};
  checked.words = sentence_on(checked);
  return checked;
}

std::string days_later(std::string_view utc, int days) {
  const auto number = [&](std::size_t at, std::size_t digits) {
    const auto found = whole_number_from(utc.substr(at, digits));
    expects(found.has_value());
    return static_cast<unsigned>(*found);
  };
  expects(utc.size() > 10);
  using std::chrono::day, std::chrono::month, std::chrono::year;
  const std::chrono::year_month_day date{year(static_cast<int>(number(0, 4))), month(number(5, 2)),
                                         day(number(8, 2))};
  expects(date.ok());
  const std::chrono::year_month_day later(std::chrono::sys_days{date} + std::chrono::days{days});
  return fmt::format("{:04}-{:02}-{:02}{}", static_cast<int>(later.year()),
                     static_cast<unsigned>(later.month()), static_cast<unsigned>(later.day()),
                     utc.substr(10));
}

}  // namespace copunctal
