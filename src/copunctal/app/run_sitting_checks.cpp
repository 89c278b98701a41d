#include "copunctal/app/run_sitting_checks.h"

#include <algorithm>
#include <array>
#include <chrono>
#include <cmath>
#include <ctime>
#include <nlohmann/json.hpp>

#include "copunctal/base/expects.h"
#include "copunctal/base/hash.h"
#include "copunctal/base/random.h"
#include "copunctal/base/text.h"

namespace copunctal {
namespace {

constexpr std::size_t longest_name = 64;
constexpr double largest_ms = 1e12;
constexpr std::int64_t most_frames = 1'000'000'000;

bool is_time(double ms) {
  return std::isfinite(ms) && std::abs(ms) <= largest_ms;
}

std::int64_t steady_now_ns() {
  return std::chrono::duration_cast<std::chrono::nanoseconds>(
             std::chrono::steady_clock::now().time_since_epoch())
      .count();
}

bool is_day(const std::string& text) {
  std::tm parts{};
  const char* end = strptime(text.c_str(), "%Y-%m-%d", &parts);
  if (end == nullptr || *end != '\0' || text.size() != 10) return false;
  // The library takes 31 February for what it would be in March.
  const int day = parts.tm_mday;
  return timegm(&parts) != -1 && parts.tm_mday == day;
}

Result<void> check_strokes(const std::vector<DrawnStroke>& strokes) {
  constexpr std::size_t most_strokes = 64, most_points = 4000;
  std::size_t points = 0;
  for (const DrawnStroke& stroke : strokes) {
    points += stroke.size();
    if (stroke.empty()) return wrong_field("strokes", "holds a stroke without points");
    double last = -largest_ms;
    for (const auto& [x, y, ms] : stroke) {
      // A pen may leave the picture, though not the room.
      if (!(std::abs(x - 0.5) <= 1.5 && std::abs(y - 0.5) <= 1.5))
        return wrong_field("strokes", "holds a point that is far off the picture");
      if (!is_time(ms) || ms < last)
        return wrong_field("strokes", "holds times that are not ascending");
      last = ms;
    }
  }
  if (strokes.size() > most_strokes || points > most_points)
    return wrong_field("strokes", "holds more than " + std::to_string(most_strokes) +
                                      " strokes or " + std::to_string(most_points) + " points");
  return {};
}

std::string utc_now() {
  const auto now =
      std::chrono::time_point_cast<std::chrono::milliseconds>(std::chrono::system_clock::now());
  const std::time_t seconds = std::chrono::system_clock::to_time_t(now);
  std::tm parts{};
  gmtime_r(&seconds, &parts);
  std::array<char, 32> text{};
  std::strftime(text.data(), text.size(), "%Y-%m-%dT%H:%M:%S", &parts);
  const std::string milliseconds =
      std::to_string(1000 + now.time_since_epoch().count() % 1000).substr(1);
  return std::string(text.data()) + "." + milliseconds + "Z";
}

}  // namespace

DeskClocks system_clocks() {
  return {utc_now, steady_now_ns};
}

std::string body_hash(const SentAnswer& answer) {
  nlohmann::json body = {
      {"item", answer.item},         {"symbols", answer.symbols},     {"end", answer.end},
      {"onset_ms", answer.onset_ms}, {"shown_ms", answer.shown_ms},   {"frames", answer.frames},
      {"hidden", answer.hidden},     {"page_load", answer.page_load}, {"response_ms", nullptr}};
  if (answer.response_ms) body["response_ms"] = *answer.response_ms;
  // As older pages sent it where there is nothing to say.
  if (answer.dropped > 0) body["dropped"] = answer.dropped;
  if (answer.hesitated) body["hesitated"] = true;
  if (answer.first_symbols) body["first_symbols"] = *answer.first_symbols;
  if (!answer.strokes.empty()) body["strokes"] = answer.strokes;
  return sha256_hex(body.dump());
}

Result<void> check_practical(const PracticalRecord& practical) {
  if (practical.name.empty()) return wrong_field("name", "must have 1 to 64 characters");
  for (const auto& [field, text] : {std::pair{"name", &practical.name},
                                    {"course", &practical.course},
                                    {"group", &practical.group}}) {
    if (characters_in(*text) > longest_name)
      return wrong_field(field, "must have no more than 64 characters");
    if (has_control_character(*text)) return wrong_field(field, "must not hold control characters");
  }
  if (practical.exposure_ms < 1000 || practical.exposure_ms > 20'000)
    return wrong_field("exposure_ms", "must lie between 1000 and 20000");
  constexpr std::array policies = {"ignore", "note", "miss"};
  if (std::find(policies.begin(), policies.end(), practical.lateness) == policies.end())
    return wrong_field("lateness", "must be 'ignore', 'note' or 'miss'");
  if (practical.keep_until && !is_day(*practical.keep_until))
    return wrong_field("keep_until", "must be a day such as 2030-01-31");
  return {};
}

Result<void> check_way(const NewSitting& wish) {
  constexpr std::array eyes = {"both", "right", "left"};
  if (std::find(eyes.begin(), eyes.end(), wish.eye) == eyes.end())
    return wrong_field("eye", "must be 'both', 'right' or 'left'");
  if (!wish.examined && wish.eye != "both")
    return wrong_field("eye", "can be chosen where an examiner sees that the other one is covered");
  if (wish.examined && (wish.off_record || wish.on_loan))
    return wrong_field("examined", "needs a sitting that is kept, with own eyes");
  return {};
}

Result<void> check_answer(const SentAnswer& answer) {
  constexpr std::array ends = {"answered", "late", "expired", "interrupted"};
  if (std::find(ends.begin(), ends.end(), answer.end) == ends.end())
    return wrong_field("end", "must be 'answered', 'late', 'expired' or 'interrupted'");
  const bool is_read = answer.end == "answered" || answer.end == "late";
  if (is_read && !answer.response_ms)
    return wrong_field("response_ms", "is missing from an answer that was given");
  if (!is_read && answer.response_ms)
    return wrong_field("response_ms", "must be null when no answer was given");
  if (!is_read && !answer.symbols.empty())
    return wrong_field("symbols", "must be empty when no answer was given");
  if (!is_time(answer.onset_ms)) return wrong_field("onset_ms", "is not a time");
  if (answer.response_ms && !is_time(*answer.response_ms))
    return wrong_field("response_ms", "is not a time");
  if (!is_time(answer.shown_ms) || answer.shown_ms < 0)
    return wrong_field("shown_ms", "is not a duration");
  if (answer.frames < 0 || answer.frames > most_frames)
    return wrong_field("frames", "is not a number of frames");
  if (answer.dropped < 0 || answer.dropped > most_frames)
    return wrong_field("dropped", "is not a number of frames");
  if (!is_read && (answer.hesitated || answer.first_symbols))
    return wrong_field("hesitated", "cannot be noted where no answer was given");
  if (answer.first_symbols && *answer.first_symbols == answer.symbols)
    return wrong_field("first_symbols", "must differ from what it was corrected to");
  COPUNCTAL_TRY_VOID(check_strokes(answer.strokes));
  if (!is_id(answer.page_load))
    return wrong_field("page_load", "must be 32 lower-case hexadecimal digits");
  return {};
}

Result<void> check_symbols(const std::vector<std::string>& symbols,
                           const std::vector<std::string>& row, int figures) {
  if (symbols.size() > static_cast<std::size_t>(figures))
    return wrong_field(
        "symbols", "holds more symbols than this round allows (" + std::to_string(figures) + ")");
  auto from = row.begin();
  for (const std::string& symbol : symbols) {
    if (std::find(row.begin(), row.end(), symbol) == row.end())
      return wrong_field("symbols", "holds a symbol that is not in the answer row");
    const auto place = std::find(from, row.end(), symbol);
    if (place == row.end()) return wrong_field("symbols", "must be ascending, each symbol once");
    from = place + 1;
  }
  return {};
}

void take_by_policy(AnswerRecord& answer, const PracticalRecord& practical) {
  answer.is_miss_by_policy = practical.lateness == "miss" &&
                             (answer.end == "late" || answer.hesitated || answer.first_symbols);
}

std::vector<PlateReading> readings_in(const SittingRecord& sitting,
                                      const std::vector<AnswerRecord>& answers) {
  std::vector<PlateReading> readings;
  for (const AnswerRecord& answer : answers) {
    const auto item = std::find_if(sitting.items.begin(), sitting.items.end(),
                                   [&](const ItemRecord& one) { return one.item == answer.item; });
    expects(item != sitting.items.end());
    if (item->round == "again") continue;
    PlateReading reading{.plate = static_cast<std::size_t>(item->plate),
                         .symbols = answer.symbols,
                         .out_of_time = answer.end == "expired",
                         .interrupted = answer.end == "interrupted" || answer.is_void};
    if (answer.is_miss_by_policy) {
      reading.symbols.clear();
      reading.out_of_time = true;
    }
    readings.push_back(std::move(reading));
  }
  return readings;
}

std::string flaw_of(const AnswerRecord& answer) {
  // More than two are beyond what a screen does by itself (docs/api.md).
  constexpr std::int64_t harmless = 2;
  if (answer.hidden) return "hidden";
  return answer.dropped > harmless ? "dropped frames" : "";
}

std::string two_words(std::uint64_t seed) {
  constexpr std::array first = {"amber",   "breezy", "candid", "early",  "gentle",  "hollow",
                                "kindly",  "lively", "mellow", "narrow", "patient", "quiet",
                                "rolling", "sunlit", "tidy",   "winding"};
  constexpr std::array second = {"bridge", "canal",   "dune",    "ferry",  "garden",  "harbour",
                                 "island", "jetty",   "lantern", "meadow", "orchard", "pasture",
                                 "quarry", "rampart", "sluice",  "terrace"};
  RandomStream stream(seed);
  const char* const adjective = first[stream.below(first.size())];
  const char* const noun = second[stream.below(second.size())];
  return std::string(adjective) + " " + noun;
}

tl::unexpected<Error> no_such(const std::string& thing) {
  return fail(Error::Kind::not_found, "there is no such " + thing, thing, "",
              "check the address, or start from the first page");
}

tl::unexpected<Error> wrong_field(const std::string& field, const std::string& why) {
  return fail(Error::Kind::bad_input, field + " " + why, field, "", "mend it, and send it again");
}

tl::unexpected<Error> other_set(const PracticalRecord& practical) {
  return fail(Error::Kind::conflict,
              "the practical '" + practical.name + "' uses a set of plates that is not loaded",
              "practical", "",
              "start the program with the set it was made with (hash " +
                  practical.set_hash.substr(0, 12) + "...)");
}

tl::unexpected<Error> still_running() {
  return fail(Error::Kind::conflict, "this sitting is still running", "sitting", "",
              "answer the remaining plates first");
}

tl::unexpected<Error> unknown_display(const Error& cause) {
  return fail(Error::Kind::conflict, "the answers cannot be weighed: " + cause.message, "set", "",
              "use the program that made this set");
}

tl::unexpected<Error> unknown_observer(Error cause) {
  if (cause.thing.empty()) cause.thing = "observer";
  if (cause.remedy.empty()) cause.remedy = "name an observer like protan:0, deutan:10 or tritan";
  return tl::unexpected(std::move(cause));
}

}  // namespace copunctal
