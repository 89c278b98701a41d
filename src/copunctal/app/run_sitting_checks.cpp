#include "copunctal/app/run_sitting_checks.h"

#include <algorithm>
#include <array>
#include <chrono>
#include <cmath>
#include <ctime>
#include <nlohmann/json.hpp>

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
  return sha256_hex(body.dump());
}

Result<void> check_practical(std::string_view name, std::int64_t exposure_ms) {
  if (name.empty() || characters_in(name) > longest_name)
    return wrong_field("name", "must have 1 to 64 characters");
  if (has_control_character(name)) return wrong_field("name", "must not hold control characters");
  if (exposure_ms < 1000 || exposure_ms > 20'000)
    return wrong_field("exposure_ms", "must lie between 1000 and 20000");
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
  return fail(Error::Kind::bad_input, field + " " + why, field, "", "send a corrected request");
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
