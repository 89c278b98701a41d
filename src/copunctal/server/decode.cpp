#include "copunctal/server/decode.h"

#include <algorithm>
#include <array>
#include <charconv>
#include <initializer_list>
#include <limits>
#include <nlohmann/json.hpp>
#include <optional>
#include <set>
#include <string>
#include <vector>

#include "copunctal/app/invented_class.h"
#include "copunctal/base/text.h"

namespace copunctal {
namespace {

using nlohmann::json;

constexpr int deepest = 32;

/// Stops the parser; never leaves parse_strictly().
struct Unacceptable {
  const char* why;
};

/// Watches the parser for what it would let pass: depth, and keys said twice.
class Strictness {
 public:
  bool operator()(int depth, json::parse_event_t event, const json& parsed) {
    if (depth > deepest) throw Unacceptable{"it is nested too deeply"};
    if (event == json::parse_event_t::object_start) keys_.emplace_back();
    if (event == json::parse_event_t::object_end) keys_.pop_back();
    if (event == json::parse_event_t::key && !keys_.back().insert(parsed.get<std::string>()).second)
      throw Unacceptable{"it says one key twice"};
    return true;
  }

 private:
  std::vector<std::set<std::string>> keys_;
};

tl::unexpected<Refusal> bad_json(const std::string& why) {
  return refuse(400, "body", "the body cannot be read as JSON: " + why, "send one JSON object");
}

Answered<json> parse_strictly(std::string_view text) {
  try {
    Strictness strictness;
    json parsed = json::parse(text, [&](int depth, json::parse_event_t event, json& value) {
      return strictness(depth, event, value);
    });
    if (!parsed.is_object()) return bad_json("it is not an object");
    return parsed;
  } catch (const Unacceptable& trouble) {
    return bad_json(trouble.why);
  } catch (const json::parse_error& trouble) {
    return bad_json("mistake at byte " + std::to_string(trouble.byte));
  } catch (const json::exception&) {
    return bad_json("it holds a number that is too large");
  }
}

tl::unexpected<Refusal> wrong(const std::string& field, const std::string& why) {
  return refuse(422, field, "'" + field + "' " + why, "mend it, and send it again");
}

/// An object whose keys were checked, and its fields by type.
class Fields {
 public:
  /// Refuses keys that are in neither list, and requires those in the first.
  static Answered<Fields> in(std::string_view body,
                             std::initializer_list<std::string_view> required,
                             std::initializer_list<std::string_view> optional = {}) {
    COPUNCTAL_TRY(json object, parse_strictly(body));
    return of(std::move(object), required, optional);
  }
  /// The same for an object inside the body, already parsed.
  static Answered<Fields> of(json object, std::initializer_list<std::string_view> required,
                             std::initializer_list<std::string_view> optional = {}) {
    const auto is_known = [&](std::string_view key) {
      return std::find(required.begin(), required.end(), key) != required.end() ||
             std::find(optional.begin(), optional.end(), key) != optional.end();
    };
    for (const auto& [key, value] : object.items())
      if (!is_known(key)) return wrong(key.substr(0, 64), "is not a known key");
    for (const std::string_view key : required)
      if (!object.contains(key)) return wrong(std::string(key), "is missing");
    return Fields(std::move(object));
  }

  bool has(const char* key) const { return object_.contains(key); }
  bool is_null(const char* key) const { return object_.at(key).is_null(); }

  Answered<std::string> text(const char* key) const {
    if (!object_.at(key).is_string()) return wrong(key, "must be a text");
    return object_.at(key).get<std::string>();
  }
  Answered<bool> truth(const char* key) const {
    if (!object_.at(key).is_boolean()) return wrong(key, "must be true or false");
    return object_.at(key).get<bool>();
  }
  Answered<double> number(const char* key) const {
    if (!object_.at(key).is_number()) return wrong(key, "must be a number");
    return object_.at(key).get<double>();
  }
  Answered<std::int64_t> whole(const char* key) const {
    const json& value = object_.at(key);
    if (!value.is_number_integer() || !is_small(value)) return wrong(key, "must be a whole number");
    return value.get<std::int64_t>();
  }
  // The same, or nothing where the value is null.
  Answered<std::optional<std::string>> text_or_null(const char* key) const {
    return or_null<std::string>(key, &Fields::text);
  }
  Answered<std::optional<double>> number_or_null(const char* key) const {
    return or_null<double>(key, &Fields::number);
  }
  Answered<std::optional<std::int64_t>> whole_or_null(const char* key) const {
    return or_null<std::int64_t>(key, &Fields::whole);
  }

  Answered<std::array<std::int64_t, 2>> two_wholes(const char* key) const {
    const json& value = object_.at(key);
    const bool fits = value.is_array() && value.size() == 2 &&
                      std::all_of(value.begin(), value.end(), [](const json& v) {
                        return v.is_number_integer() && is_small(v);
                      });
    if (!fits) return wrong(key, "must be two whole numbers");
    return value.get<std::array<std::int64_t, 2>>();
  }
  Answered<std::vector<json>> objects(const char* key) const {
    const json& value = object_.at(key);
    const bool fits = value.is_array() && std::all_of(value.begin(), value.end(),
                                                      [](const json& v) { return v.is_object(); });
    if (!fits) return wrong(key, "must be a list of objects");
    return std::vector<json>(value.begin(), value.end());
  }
  // Lists of points, each of three numbers.
  Answered<std::vector<DrawnStroke>> strokes(const char* key) const {
    const json& value = object_.at(key);
    const auto is_point = [](const json& point) {
      return point.is_array() && point.size() == 3 &&
             std::all_of(point.begin(), point.end(), [](const json& n) { return n.is_number(); });
    };
    const bool fits =
        value.is_array() && std::all_of(value.begin(), value.end(), [&](const json& stroke) {
          return stroke.is_array() && std::all_of(stroke.begin(), stroke.end(), is_point);
        });
    if (!fits) return wrong(key, "must be a list of strokes, lists of points of three numbers");
    return value.get<std::vector<DrawnStroke>>();
  }
  Answered<json> object(const char* key) const {
    const json& value = object_.at(key);
    if (!value.is_object()) return wrong(key, "must be an object");
    return value;
  }
  Answered<std::vector<std::string>> texts(const char* key) const {
    const json& value = object_.at(key);
    const bool fits = value.is_array() && std::all_of(value.begin(), value.end(),
                                                      [](const json& v) { return v.is_string(); });
    if (!fits) return wrong(key, "must be a list of texts");
    return value.get<std::vector<std::string>>();
  }

 private:
  explicit Fields(json object) : object_(std::move(object)) {}

  template <class T>
  Answered<std::optional<T>> or_null(const char* key,
                                     Answered<T> (Fields::*read)(const char*) const) const {
    if (is_null(key)) return std::optional<T>();
    COPUNCTAL_TRY(T value, (this->*read)(key));
    return std::optional<T>(std::move(value));
  }
  static bool is_small(const json& whole) {
    constexpr auto largest = std::uint64_t{std::numeric_limits<std::int64_t>::max()};
    return !whole.is_number_unsigned() || whole.get<std::uint64_t>() <= largest;
  }

  json object_;
};

Answered<Tell> tell_in(const Fields& fields) {
  COPUNCTAL_TRY(const std::string word, fields.text("tell"));
  for (const Tell tell : {Tell::tell, Tell::dont_tell, Tell::later})
    if (word == name_of(tell)) return tell;
  return wrong("tell", "must be 'tell', 'dont_tell' or 'later'");
}

std::optional<std::string> unescaped(std::string_view text) {
  std::string plain;
  for (std::size_t i = 0; i < text.size(); ++i) {
    if (text[i] != '%') {
      plain += text[i];
      continue;
    }
    unsigned byte = 0;
    const std::string_view digits = text.substr(i + 1, 2);
    const auto [end, trouble] =
        std::from_chars(digits.data(), digits.data() + digits.size(), byte, 16);
    if (digits.size() != 2 || trouble != std::errc() || end != digits.data() + 2 || byte < 0x20U ||
        byte > 0x7eU)
      return std::nullopt;
    plain += static_cast<char>(byte);
    i += 2;
  }
  return plain;
}

}  // namespace

Answered<std::string> join_code_in(std::string_view body) {
  COPUNCTAL_TRY(const Fields fields, Fields::in(body, {"code"}));
  return fields.text("code");
}

Answered<bool> joining_in(std::string_view body) {
  COPUNCTAL_TRY(const Fields fields, Fields::in(body, {"state"}));
  COPUNCTAL_TRY(const std::string state, fields.text("state"));
  if (state != "open" && state != "locked") return wrong("state", "must be 'open' or 'locked'");
  return state == "open";
}

Answered<void> nothing_in(std::string_view body) {
  COPUNCTAL_TRY_VOID(Fields::in(body, {}));
  return {};
}

Answered<NewPractical> new_practical_in(std::string_view body) {
  COPUNCTAL_TRY(const Fields fields,
                Fields::in(body, {},
                           {"name", "exposure_ms", "prepare", "loans", "course", "group",
                            "lateness", "again", "keep_until"}));
  NewPractical wish;
  if (fields.has("name")) {
    COPUNCTAL_TRY(wish.name, fields.text("name"));
  }
  if (fields.has("exposure_ms")) {
    COPUNCTAL_TRY(wish.exposure_ms, fields.whole("exposure_ms"));
  }
  if (fields.has("prepare")) {
    COPUNCTAL_TRY(wish.prepare, fields.truth("prepare"));
  }
  if (fields.has("loans")) {
    COPUNCTAL_TRY(wish.loans, fields.texts("loans"));
  }
  if (fields.has("course")) {
    COPUNCTAL_TRY(wish.course, fields.text("course"));
  }
  if (fields.has("group")) {
    COPUNCTAL_TRY(wish.group, fields.text("group"));
  }
  if (fields.has("lateness")) {
    COPUNCTAL_TRY(wish.lateness, fields.text("lateness"));
  }
  if (fields.has("again")) {
    COPUNCTAL_TRY(wish.again, fields.truth("again"));
  }
  if (fields.has("keep_until")) {
    COPUNCTAL_TRY(wish.keep_until, fields.text_or_null("keep_until"));
  }
  return wish;
}

Answered<ClassExpected> class_expected_in(std::string_view body) {
  COPUNCTAL_TRY(const Fields fields, Fields::in(body, {"men", "women", "misses"}));
  ClassExpected expected;
  COPUNCTAL_TRY(expected.men, fields.whole("men"));
  COPUNCTAL_TRY(expected.women, fields.whole("women"));
  COPUNCTAL_TRY(expected.misses, fields.whole("misses"));
  return expected;
}

Answered<NewSitting> new_sitting_in(std::string_view body) {
  COPUNCTAL_TRY(const Fields fields,
                Fields::in(body, {"consent", "tell", "sex_at_birth"},
                           {"on_loan", "off_record", "purposes", "examined", "eye"}));
  NewSitting wish;
  if (fields.has("on_loan")) {
    COPUNCTAL_TRY(wish.on_loan, fields.truth("on_loan"));
  }
  if (fields.has("purposes")) {
    COPUNCTAL_TRY(const auto purposes, fields.texts("purposes"));
    for (const std::string& purpose : purposes) {
      if (purpose != "class" && purpose != "research")
        return wrong("purposes", "may name 'class' and 'research'");
      (purpose == "class" ? wish.for_class : wish.for_research) = true;
    }
  }
  if (fields.has("off_record")) {
    COPUNCTAL_TRY(wish.off_record, fields.truth("off_record"));
  }
  if (fields.has("examined")) {
    COPUNCTAL_TRY(wish.examined, fields.truth("examined"));
  }
  if (fields.has("eye")) {
    COPUNCTAL_TRY(wish.eye, fields.text("eye"));
  }
  COPUNCTAL_TRY(wish.consent, fields.truth("consent"));
  COPUNCTAL_TRY(wish.tell, tell_in(fields));
  if (fields.is_null("sex_at_birth")) return wish;
  COPUNCTAL_TRY(const std::string sex, fields.text("sex_at_birth"));
  if (sex != "female" && sex != "male")
    return wrong("sex_at_birth", "must be 'female', 'male' or null");
  wish.sex_at_birth = sex == "female" ? SexAtBirth::female : SexAtBirth::male;
  return wish;
}

Answered<SentAnswer> sent_answer_in(std::string_view body) {
  COPUNCTAL_TRY(const Fields fields,
                Fields::in(body,
                           {"item", "symbols", "end", "onset_ms", "response_ms", "shown_ms",
                            "frames", "hidden", "page_load"},
                           {"hesitated", "first_symbols", "strokes", "dropped"}));
  SentAnswer answer;
  COPUNCTAL_TRY(answer.item, fields.whole("item"));
  COPUNCTAL_TRY(answer.symbols, fields.texts("symbols"));
  COPUNCTAL_TRY(answer.end, fields.text("end"));
  COPUNCTAL_TRY(answer.onset_ms, fields.number("onset_ms"));
  if (!fields.is_null("response_ms")) {
    COPUNCTAL_TRY(answer.response_ms, fields.number("response_ms"));
  }
  COPUNCTAL_TRY(answer.shown_ms, fields.number("shown_ms"));
  COPUNCTAL_TRY(answer.frames, fields.whole("frames"));
  COPUNCTAL_TRY(answer.hidden, fields.truth("hidden"));
  COPUNCTAL_TRY(answer.page_load, fields.text("page_load"));
  if (fields.has("hesitated")) {
    COPUNCTAL_TRY(answer.hesitated, fields.truth("hesitated"));
  }
  if (fields.has("first_symbols") && !fields.is_null("first_symbols")) {
    COPUNCTAL_TRY(answer.first_symbols, fields.texts("first_symbols"));
  }
  if (fields.has("dropped")) {
    COPUNCTAL_TRY(answer.dropped, fields.whole("dropped"));
  }
  if (fields.has("strokes")) {
    COPUNCTAL_TRY(answer.strokes, fields.strokes("strokes"));
  }
  return answer;
}

Answered<std::pair<std::int64_t, std::string>> void_in(std::string_view body) {
  COPUNCTAL_TRY(const Fields fields, Fields::in(body, {"item", "reason"}));
  COPUNCTAL_TRY(const std::int64_t item, fields.whole("item"));
  COPUNCTAL_TRY(std::string reason, fields.text("reason"));
  return std::pair(item, std::move(reason));
}

Answered<SignOff> sign_off_in(std::string_view body) {
  COPUNCTAL_TRY(const Fields fields,
                Fields::in(body, {"done", "examiner", "supervisor", "remark"}));
  SignOff sign_off;
  COPUNCTAL_TRY(sign_off.done, fields.texts("done"));
  COPUNCTAL_TRY(sign_off.examiner, fields.text("examiner"));
  COPUNCTAL_TRY(sign_off.supervisor, fields.text("supervisor"));
  COPUNCTAL_TRY(sign_off.remark, fields.text("remark"));
  return sign_off;
}

Answered<CopyWish> copy_in(std::string_view body) {
  COPUNCTAL_TRY(const Fields fields, Fields::in(body, {"name", "course", "group"}));
  CopyWish wish;
  COPUNCTAL_TRY(wish.name, fields.text("name"));
  COPUNCTAL_TRY(wish.course, fields.text("course"));
  COPUNCTAL_TRY(wish.group, fields.text("group"));
  return wish;
}

Answered<std::optional<std::string>> last_day_in(std::string_view body) {
  COPUNCTAL_TRY(const Fields fields, Fields::in(body, {"until"}));
  return fields.text_or_null("until");
}

Answered<std::string> entry_in(std::string_view body) {
  COPUNCTAL_TRY(const Fields fields, Fields::in(body, {"entry"}));
  return fields.text("entry");
}

Answered<RatedSheet> sheet_rating_in(std::string_view body) {
  COPUNCTAL_TRY(const Fields fields, Fields::in(body, {"rater", "rating", "kind"}));
  RatedSheet rated;
  COPUNCTAL_TRY(rated.rater, fields.text("rater"));
  COPUNCTAL_TRY(rated.rating, fields.whole("rating"));
  COPUNCTAL_TRY(rated.kind, fields.text("kind"));
  return rated;
}

Answered<Tell> choice_in(std::string_view body) {
  COPUNCTAL_TRY(const Fields fields, Fields::in(body, {"tell"}));
  COPUNCTAL_TRY(const Tell tell, tell_in(fields));
  if (tell == Tell::later) return wrong("tell", "must be 'tell' or 'dont_tell'");
  return tell;
}

Answered<ScreenCheck> screen_check_in(std::string_view body) {
  COPUNCTAL_TRY(
      const Fields fields,
      Fields::in(body, {"display", "card_px", "device_pixel_ratio", "screen_px", "screen_at",
                        "colour_depth", "gamut", "tone_matches", "black_step", "white_step",
                        "neutral", "night_mode_off", "adapted", "room_light", "statement",
                        "refresh_hz", "frame_spread_ms", "dropped_frames"}));
  ScreenCheck check;
  COPUNCTAL_TRY(check.display, fields.text("display"));
  COPUNCTAL_TRY(check.card_px, fields.number_or_null("card_px"));
  COPUNCTAL_TRY(check.device_pixel_ratio, fields.number("device_pixel_ratio"));
  COPUNCTAL_TRY(check.screen_px, fields.two_wholes("screen_px"));
  COPUNCTAL_TRY(check.screen_at, fields.two_wholes("screen_at"));
  COPUNCTAL_TRY(check.colour_depth, fields.whole("colour_depth"));
  COPUNCTAL_TRY(check.gamut, fields.text("gamut"));
  COPUNCTAL_TRY(const auto matches, fields.objects("tone_matches"));
  for (const json& object : matches) {
    COPUNCTAL_TRY(const Fields match, Fields::of(object, {"channel", "share", "code"}));
    ToneMatch& to = check.tone_matches.emplace_back();
    COPUNCTAL_TRY(to.channel, match.text("channel"));
    COPUNCTAL_TRY(to.share, match.number("share"));
    COPUNCTAL_TRY(to.code, match.whole("code"));
  }
  COPUNCTAL_TRY(check.black_step, fields.whole_or_null("black_step"));
  COPUNCTAL_TRY(check.white_step, fields.whole_or_null("white_step"));
  COPUNCTAL_TRY(check.neutral, fields.text_or_null("neutral"));
  COPUNCTAL_TRY(check.night_mode_off, fields.truth("night_mode_off"));
  COPUNCTAL_TRY(check.adapted, fields.truth("adapted"));
  COPUNCTAL_TRY(check.room_light, fields.text_or_null("room_light"));
  COPUNCTAL_TRY(check.statement, fields.text("statement"));
  COPUNCTAL_TRY(check.refresh_hz, fields.number_or_null("refresh_hz"));
  COPUNCTAL_TRY(check.frame_spread_ms, fields.number_or_null("frame_spread_ms"));
  COPUNCTAL_TRY(check.dropped_frames, fields.whole_or_null("dropped_frames"));
  return check;
}

Answered<std::string> reason_in(std::string_view body) {
  COPUNCTAL_TRY(const Fields fields, Fields::in(body, {"reason"}));
  return fields.text("reason");
}

Answered<DeviceLook> device_look_in(std::string_view body) {
  COPUNCTAL_TRY(const Fields fields,
                Fields::in(body, {"secure_context", "window_px", "device_pixel_ratio", "pinch_zoom",
                                  "refresh_hz", "frame_spread_ms", "dropped_frames", "colour_depth",
                                  "gamut", "codes", "storage", "clock_ms"}));
  DeviceLook look;
  COPUNCTAL_TRY(look.is_secure_context, fields.truth("secure_context"));
  COPUNCTAL_TRY(look.window_px, fields.two_wholes("window_px"));
  COPUNCTAL_TRY(look.device_pixel_ratio, fields.number("device_pixel_ratio"));
  COPUNCTAL_TRY(look.pinch_zoom, fields.number("pinch_zoom"));
  COPUNCTAL_TRY(look.refresh_hz, fields.number_or_null("refresh_hz"));
  COPUNCTAL_TRY(look.frame_spread_ms, fields.number_or_null("frame_spread_ms"));
  COPUNCTAL_TRY(look.dropped_frames, fields.whole_or_null("dropped_frames"));
  COPUNCTAL_TRY(look.colour_depth, fields.whole("colour_depth"));
  COPUNCTAL_TRY(look.gamut, fields.text("gamut"));
  if (!fields.is_null("codes")) {
    COPUNCTAL_TRY(const json object, fields.object("codes"));
    COPUNCTAL_TRY(const Fields codes, Fields::of(object, {"checked", "wrong", "largest"}));
    CodesRead read;
    COPUNCTAL_TRY(read.checked, codes.whole("checked"));
    COPUNCTAL_TRY(read.wrong, codes.whole("wrong"));
    COPUNCTAL_TRY(read.largest, codes.whole("largest"));
    look.codes = read;
  }
  COPUNCTAL_TRY(look.has_storage, fields.truth("storage"));
  COPUNCTAL_TRY(look.clock_ms, fields.number("clock_ms"));
  return look;
}

Answered<AskedRehearsal> rehearsal_in(std::string_view body) {
  COPUNCTAL_TRY(const Fields fields, Fields::in(body, {"people", "seed", "lasts_s"}));
  constexpr std::int64_t largest_seed = (std::int64_t{1} << 53) - 1, longest_s = 3600;
  COPUNCTAL_TRY(const auto people, fields.whole("people"));
  COPUNCTAL_TRY(const auto seed, fields.whole("seed"));
  COPUNCTAL_TRY(const auto lasts_s, fields.whole("lasts_s"));
  if (people < static_cast<std::int64_t>(fewest_invented) ||
      people > static_cast<std::int64_t>(most_invented))
    return wrong("people", "must be from 6 to 300");
  if (seed < 0 || seed > largest_seed) return wrong("seed", "must be from 0 to 9007199254740991");
  if (lasts_s < 0 || lasts_s > longest_s) return wrong("lasts_s", "must be from 0 to 3600");
  return AskedRehearsal{static_cast<std::size_t>(people), static_cast<std::uint64_t>(seed),
                        static_cast<int>(lasts_s)};
}

Answered<std::string> show_set_in(std::string_view body) {
  COPUNCTAL_TRY(const Fields fields, Fields::in(body, {"set"}));
  return fields.text("set");
}

Answered<std::size_t> show_step_in(std::string_view body) {
  COPUNCTAL_TRY(const Fields fields, Fields::in(body, {"step"}));
  COPUNCTAL_TRY(const auto step, fields.whole("step"));
  if (step < 0) return wrong("step", "must be 0 or more");
  return static_cast<std::size_t>(step);
}

Answered<ShowAnswer> show_answer_in(std::string_view body) {
  COPUNCTAL_TRY(const Fields fields, Fields::in(body, {"place", "symbols"}));
  ShowAnswer answer;
  COPUNCTAL_TRY(const auto place, fields.whole("place"));
  if (place < 0) return wrong("place", "must be 0 or more");
  answer.place = static_cast<std::size_t>(place);
  COPUNCTAL_TRY(answer.symbols, fields.texts("symbols"));
  return answer;
}

Answered<SetWish> set_wish_in(std::string_view body) {
  COPUNCTAL_TRY(const Fields fields, Fields::in(body, {"purpose", "display", "symbols", "seed",
                                                       "loan", "plates", "cells"}));
  SetWish wish;
  COPUNCTAL_TRY(wish.purpose, fields.text("purpose"));
  COPUNCTAL_TRY(wish.display, fields.text("display"));
  COPUNCTAL_TRY(wish.symbols, fields.text("symbols"));
  COPUNCTAL_TRY(const std::int64_t seed, fields.whole("seed"));
  if (seed < 0) return wrong("seed", "must be 0 or more");
  wish.seed = static_cast<std::uint64_t>(seed);
  COPUNCTAL_TRY(const auto loan, fields.text_or_null("loan"));
  wish.loan = loan.value_or("");
  // Whether so many can be made is for whoever makes them; here they only have to fit.
  constexpr std::int64_t most = 1'000'000;
  COPUNCTAL_TRY(const auto plates, fields.whole_or_null("plates"));
  if (plates && (*plates < 0 || *plates > most)) return wrong("plates", "must be a small number");
  if (plates) wish.plates = static_cast<std::size_t>(*plates);
  COPUNCTAL_TRY(const std::int64_t cells, fields.whole("cells"));
  if (cells < 0 || cells > most) return wrong("cells", "must be a small number");
  wish.cells = static_cast<int>(cells);
  for (const auto& [key, value] : {std::pair{"display", wish.display}, {"loan", wish.loan}})
    if (value.size() > 200) return wrong(key, "is longer than 200 letters");
  return wish;
}

Answered<std::string> answer_table_in(std::string_view body) {
  COPUNCTAL_TRY(const Fields fields, Fields::in(body, {"csv"}));
  return fields.text("csv");
}

Answered<std::string> wanted_display_in(std::string_view body) {
  COPUNCTAL_TRY(const Fields fields, Fields::in(body, {"display"}));
  COPUNCTAL_TRY(const std::string display, fields.text("display"));
  if (display.size() > 200) return wrong("display", "is longer than 200 letters");
  return display;
}

Answered<std::string> observer_in(std::string_view query) {
  constexpr std::string_view key = "as=";
  if (!query.starts_with(key) || query.find('&') != std::string_view::npos)
    return wrong("as", "must be the one question asked: ?as=OBSERVER");
  const auto observer = unescaped(query.substr(key.size()));
  if (!observer || observer->empty()) return wrong("as", "must name an observer");
  return *observer;
}

Answered<std::map<std::string, std::string>> questions_in(
    std::string_view query, std::initializer_list<std::string_view> known) {
  constexpr std::size_t longest = 512;
  if (query.size() > longest) return wrong("query", "is longer than 512 letters");
  std::map<std::string, std::string> questions;
  if (query.empty()) return questions;
  for (const std::string_view part : split(query, '&')) {
    const auto equals = part.find('=');
    const std::string key(part.substr(0, equals));
    if (std::find(known.begin(), known.end(), key) == known.end())
      return wrong(key.empty() ? "query" : key.substr(0, 64), "is not a known question");
    const auto value =
        equals == std::string_view::npos ? std::nullopt : unescaped(part.substr(equals + 1));
    if (!value || value->empty()) return wrong(key, "must have a value");
    if (!questions.emplace(key, *value).second) return wrong(key, "is asked twice");
  }
  return questions;
}

Answered<Code> code_in(const std::string& name, const std::string& text) {
  const auto parts = split(text, ',');
  Code code{};
  for (std::size_t c = 0; c < code.size() && parts.size() == code.size(); ++c) {
    const auto number = whole_number_from(parts[c]);
    if (!number || *number > 255) break;
    code[c] = static_cast<std::uint8_t>(*number);
    if (c + 1 == code.size()) return code;
  }
  return wrong(name, "must be three codes, as 12,200,255");
}

Answered<Chromaticity> chromaticity_in(const std::string& text) {
  const auto parts = split(text, ',');
  if (parts.size() == 2) {
    const auto x = number_from(parts[0]), y = number_from(parts[1]);
    if (x && y) return Chromaticity{*x, *y};
  }
  return wrong("at", "must be two numbers, as 0.31,0.33");
}

}  // namespace copunctal
