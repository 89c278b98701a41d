#include "copunctal/server/decode.h"

#include <gtest/gtest.h>

#include <string>

using namespace copunctal;

namespace {

const std::string answer_text =
    R"({"item":4,"symbols":["7"],"end":"answered","onset_ms":10234.5,"response_ms":11890.1,)"
    R"("shown_ms":1655.6,"frames":99,"hidden":false,"page_load":"00112233445566778899aabbccddeeff"})";

/// answer_text with one piece replaced; the piece must be there.
std::string with(const std::string& piece, const std::string& replacement) {
  std::string text = answer_text;
  const auto at = text.find(piece);
  if (at == std::string::npos) throw std::logic_error("no " + piece);
  return text.replace(at, piece.size(), replacement);
}

template <class T>
int status_of(const Answered<T>& answered) {
  return answered ? 200 : answered.error().status;
}

/// The status and the field that an answer is refused for.
std::pair<int, std::string> refusal_of(const std::string& text) {
  const auto answer = sent_answer_in(text);
  if (answer) return {200, ""};
  return {answer.error().status, answer.error().error.thing};
}

using StatusAndField = std::pair<int, std::string>;

}  // namespace

TEST(Decode, reads_an_answer) {
  const auto answer = sent_answer_in(answer_text);
  ASSERT_TRUE(answer);
  EXPECT_EQ(answer->item, 4);
  EXPECT_EQ(answer->symbols, std::vector<std::string>{"7"});
  EXPECT_EQ(answer->end, "answered");
  EXPECT_EQ(answer->onset_ms, 10234.5);
  EXPECT_EQ(answer->response_ms, 11890.1);
  EXPECT_EQ(answer->shown_ms, 1655.6);
  EXPECT_EQ(answer->frames, 99);
  EXPECT_FALSE(answer->hidden);
  EXPECT_EQ(answer->page_load, "00112233445566778899aabbccddeeff");
  EXPECT_EQ(sent_answer_in(with("11890.1", "null"))->response_ms, std::nullopt);
  EXPECT_EQ(sent_answer_in(with("10234.5", "7"))->onset_ms, 7) << "a whole number is a number";
}

TEST(Decode, wants_every_key_and_no_other) {
  for (const std::string key : {"item", "symbols", "end", "onset_ms", "response_ms", "shown_ms",
                                "frames", "hidden", "page_load"})
    EXPECT_EQ(refusal_of(with("\"" + key + "\"", "\"other\"")), StatusAndField(422, "other"));
  EXPECT_EQ(refusal_of(with("\"frames\":99,", "")), StatusAndField(422, "frames"));
  EXPECT_EQ(refusal_of(with("\"item\":4", "\"item\":4,\"is_correct\":true")),
            StatusAndField(422, "is_correct"));
}

TEST(Decode, wants_the_right_types) {
  EXPECT_EQ(refusal_of(with("4,", "4.5,")), StatusAndField(422, "item"));
  EXPECT_EQ(refusal_of(with("4,", "\"4\",")), StatusAndField(422, "item"));
  EXPECT_EQ(refusal_of(with("4,", "9223372036854775808,")), StatusAndField(422, "item"))
      << "2^63 is no int64";
  EXPECT_EQ(refusal_of(with("4,", "true,")), StatusAndField(422, "item"));
  EXPECT_EQ(refusal_of(with("[\"7\"]", "[7]")), StatusAndField(422, "symbols"));
  EXPECT_EQ(refusal_of(with("[\"7\"]", "\"7\"")), StatusAndField(422, "symbols"));
  EXPECT_EQ(refusal_of(with("10234.5", "null")), StatusAndField(422, "onset_ms"));
  EXPECT_EQ(refusal_of(with("false", "0")), StatusAndField(422, "hidden"));
  EXPECT_EQ(refusal_of(with("\"answered\"", "null")), StatusAndField(422, "end"));
}

TEST(Decode, refuses_text_that_is_no_honest_json_object) {
  const std::string deep_arrays(100'000, '[');
  for (const std::string& text :
       {std::string(), std::string("{"), std::string("[]"), std::string("null"),
        std::string("{} {}"), std::string("{\"tell\":\"tell\",}"), std::string("\xff\xfe"),
        std::string("{\"tell\":\"\\ud800\"}"), std::string("{'tell':'tell'}"),
        std::string("{\"tell\":NaN}"), std::string("{\"tell\":1e999}"),
        std::string("{\"tell\":\"tell\",\"tell\":\"tell\"}"), deep_arrays,
        "{\"tell\":" + std::string(40, '[') + std::string(40, ']') + "}",
        "{\"tell\":\"a" + std::string(1, '\0') + "\"}"}) {
    const auto choice = choice_in(text);
    ASSERT_FALSE(choice) << text.substr(0, 80);
    EXPECT_EQ(choice.error().status, 400) << text.substr(0, 80);
    EXPECT_EQ(choice.error().error.thing, "body");
  }
  EXPECT_EQ(refusal_of(with("10234.5", "1e999")).first, 400);
  EXPECT_EQ(refusal_of(with("10234.5", "-1e400")).first, 400);
  EXPECT_EQ(refusal_of(with("4,", "4,\"item\":5,")).first, 400) << "the first 4 must not be lost";
}

TEST(Decode, allows_thirty_two_levels_and_a_key_in_different_objects) {
  // One object and 31 arrays: depth 32. It then fails for its type, not for its depth.
  const std::string text = "{\"tell\":" + std::string(31, '[') + std::string(31, ']') + "}";
  EXPECT_EQ(status_of(choice_in(text)), 422);
  EXPECT_EQ(status_of(choice_in(R"({"tell":[{"a":1},{"a":2}]})")), 422);
}

TEST(Decode, reads_the_other_requests) {
  const auto empty = new_practical_in("{}");
  ASSERT_TRUE(empty);
  EXPECT_FALSE(empty->name);
  EXPECT_FALSE(empty->exposure_ms);
  const auto practical = new_practical_in(R"({"name":"Monday","exposure_ms":5000})");
  EXPECT_EQ(practical->name, "Monday");
  EXPECT_EQ(practical->exposure_ms, 5000);
  EXPECT_EQ(status_of(new_practical_in(R"({"name":null})")), 422);
  EXPECT_EQ(status_of(new_practical_in(R"({"exposure_ms":5000.0})")), 422);
  EXPECT_EQ(status_of(new_practical_in(R"({"grace_ms":1})")), 422);

  const auto sitting = new_sitting_in(R"({"consent":true,"tell":"later","sex_at_birth":"male"})");
  ASSERT_TRUE(sitting);
  EXPECT_TRUE(sitting->consent);
  EXPECT_EQ(sitting->tell, Tell::later);
  EXPECT_EQ(sitting->sex_at_birth, SexAtBirth::male);
  EXPECT_EQ(new_sitting_in(R"({"consent":false,"tell":"tell","sex_at_birth":null})")->sex_at_birth,
            std::nullopt);
  EXPECT_EQ(status_of(new_sitting_in(R"({"tell":"tell","sex_at_birth":null})")), 422);
  EXPECT_EQ(status_of(new_sitting_in(R"({"consent":1,"tell":"tell","sex_at_birth":null})")), 422);
  EXPECT_EQ(status_of(new_sitting_in(R"({"consent":true,"tell":"no","sex_at_birth":null})")), 422);
  EXPECT_EQ(status_of(new_sitting_in(R"({"consent":true,"tell":"tell","sex_at_birth":"x"})")), 422);

  EXPECT_EQ(*choice_in(R"({"tell":"dont_tell"})"), Tell::dont_tell);
  EXPECT_EQ(status_of(choice_in(R"({"tell":"later"})")), 422);
  EXPECT_EQ(status_of(choice_in("{}")), 422);
}

TEST(Decode, reads_the_observer_asked_for) {
  EXPECT_EQ(*observer_in("as=protan:6"), "protan:6");
  EXPECT_EQ(*observer_in("as=protan%3A6%2Cage%3D45"), "protan:6,age=45");
  for (const char* query : {"", "as", "as=", "of=protan", "as=protan&as=deutan", "as=%", "as=%4",
                            "as=%zz", "as=%00", "as=%0a", "as=%ff", "as=%+4"})
    EXPECT_EQ(status_of(observer_in(query)), 422) << query;
}

TEST(Decode, reads_a_check_of_a_screen) {
  const std::string text =
      R"({"display":"srgb/oled","card_px":323.5,"device_pixel_ratio":1.25,"screen_px":[1920,1080],)"
      R"("screen_at":[-1920,0],"colour_depth":24,"gamut":"p3",)"
      R"("tone_matches":[{"channel":"r","share":0.5,"code":188},{"channel":"b","share":0.25,"code":9}],)"
      R"("black_step":4,"white_step":252,"neutral":"tinted","night_mode_off":true,"adapted":false,)"
      R"("room_light":"dim","statement":"blinds down","refresh_hz":59.94,"frame_spread_ms":0.4,)"
      R"("dropped_frames":1})";
  const auto check = screen_check_in(text);
  ASSERT_TRUE(check) << check.error().error.message;
  EXPECT_EQ(check->display, "srgb/oled");
  EXPECT_EQ(check->card_px, 323.5);
  EXPECT_EQ(check->device_pixel_ratio, 1.25);
  EXPECT_EQ(check->screen_px, (std::array<std::int64_t, 2>{1920, 1080}));
  EXPECT_EQ(check->screen_at, (std::array<std::int64_t, 2>{-1920, 0}));
  EXPECT_EQ(check->colour_depth, 24);
  EXPECT_EQ(check->gamut, "p3");
  ASSERT_EQ(check->tone_matches.size(), 2U);
  EXPECT_EQ(check->tone_matches[0].channel, "r");
  EXPECT_EQ(check->tone_matches[0].share, 0.5);
  EXPECT_EQ(check->tone_matches[1].code, 9);
  EXPECT_EQ(check->black_step, 4);
  EXPECT_EQ(check->white_step, 252);
  EXPECT_EQ(check->neutral, "tinted");
  EXPECT_TRUE(check->night_mode_off);
  EXPECT_FALSE(check->adapted);
  EXPECT_EQ(check->room_light, "dim");
  EXPECT_EQ(check->statement, "blinds down");
  EXPECT_EQ(check->refresh_hz, 59.94);
  EXPECT_EQ(check->frame_spread_ms, 0.4);
  EXPECT_EQ(check->dropped_frames, 1);

  const auto changed = [&](const std::string& piece, const std::string& replacement) {
    std::string other = text;
    const auto at = other.find(piece);
    if (at == std::string::npos) throw std::logic_error("no " + piece);
    return screen_check_in(other.replace(at, piece.size(), replacement));
  };
  const auto refused = [&](const std::string& piece, const std::string& replacement) {
    const auto answered = changed(piece, replacement);
    return answered ? StatusAndField(200, "")
                    : StatusAndField(answered.error().status, answered.error().error.thing);
  };
  EXPECT_FALSE(changed("323.5", "null")->card_px);
  EXPECT_FALSE(changed("\"dim\"", "null")->room_light);
  EXPECT_FALSE(changed(":252", ":null")->white_step);
  EXPECT_TRUE(changed("{\"channel\":\"r\",\"share\":0.5,\"code\":188},", "").has_value());
  EXPECT_EQ(refused("323.5", "\"323\""), StatusAndField(422, "card_px"));
  EXPECT_EQ(refused("323.5", "\"nan\""), StatusAndField(422, "card_px"));
  EXPECT_EQ(refused("1.25", "null"), StatusAndField(422, "device_pixel_ratio"));
  for (const char* size : {"[1920]", "[1920,1080,0]", "[1920,1080.5]", "[1920,\"1080\"]", "1920",
                           "[1920,18446744073709551615]", "null"})
    EXPECT_EQ(refused("[1920,1080]", size), StatusAndField(422, "screen_px")) << size;
  EXPECT_EQ(refused("\"code\":9}", "\"code\":9.5}"), StatusAndField(422, "code"));
  EXPECT_EQ(refused("\"code\":9}", "\"code\":9,\"hue\":1}"), StatusAndField(422, "hue"));
  EXPECT_EQ(refused(",\"code\":9}", "}"), StatusAndField(422, "code"));
  EXPECT_EQ(refused("[{", "[7,{"), StatusAndField(422, "tone_matches"));
  EXPECT_EQ(refused("\"adapted\"", "\"adopted\""), StatusAndField(422, "adopted"));
  EXPECT_EQ(refused(",\"adapted\":false", ""), StatusAndField(422, "adapted"));
  EXPECT_EQ(refused("\"neutral\":\"tinted\"", "\"neutral\":true"), StatusAndField(422, "neutral"));
  EXPECT_EQ(refused("323.5", "NaN").first, 400) << "no JSON";

  EXPECT_EQ(*reason_in(R"({"reason":"zoom"})"), "zoom");
  EXPECT_EQ(status_of(reason_in("{}")), 422);
  EXPECT_EQ(status_of(reason_in(R"({"reason":"zoom","at":1})")), 422);
  EXPECT_EQ(status_of(reason_in(R"({"reason":null})")), 422);
}
