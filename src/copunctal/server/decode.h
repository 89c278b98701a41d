// The JSON that comes in, read strictly: what is not asked for is refused.
//
// 400 for text that is no JSON object, is nested deeper than 32, repeats a key or holds a number
// that no double can; 422, naming the field, for a key that is unknown, missing or of another type.
#pragma once

#include <cstdint>
#include <initializer_list>
#include <map>
#include <string>
#include <string_view>

#include "copunctal/app/class_card.h"
#include "copunctal/app/examine_sitting.h"
#include "copunctal/app/plate_workshop.h"
#include "copunctal/app/preflight.h"
#include "copunctal/app/run_sitting.h"
#include "copunctal/colour/quantities.h"
#include "copunctal/server/refusal.h"
#include "copunctal/store/display_record.h"

namespace copunctal {

Answered<NewPractical> new_practical_in(std::string_view body);
/// {"men", "women", "misses"}.
Answered<ClassExpected> class_expected_in(std::string_view body);
Answered<NewSitting> new_sitting_in(std::string_view body);
/// {"code": text}, as typed.
Answered<std::string> join_code_in(std::string_view body);
/// {"state": "open"|"locked"}: whether joining is open.
Answered<bool> joining_in(std::string_view body);
/// {}
Answered<void> nothing_in(std::string_view body);
Answered<SentAnswer> sent_answer_in(std::string_view body);
Answered<Tell> choice_in(std::string_view body);
/// {"item", "reason"}.
Answered<std::pair<std::int64_t, std::string>> void_in(std::string_view body);
/// {"done", "examiner", "supervisor", "remark"}.
Answered<SignOff> sign_off_in(std::string_view body);
struct CopyWish {
  std::string name, course, group;
};
/// {"name", "course", "group"}.
Answered<CopyWish> copy_in(std::string_view body);
/// {"until"}: a day, or null.
Answered<std::optional<std::string>> last_day_in(std::string_view body);
/// The value of {"entry": text}.
Answered<std::string> entry_in(std::string_view body);
struct RatedSheet {
  std::string rater, kind;
  std::int64_t rating = 0;
};
/// {"rater", "rating", "kind"}.
Answered<RatedSheet> sheet_rating_in(std::string_view body);
Answered<ScreenCheck> screen_check_in(std::string_view body);
/// The value of {"reason": "zoom"}.
Answered<std::string> reason_in(std::string_view body);
/// What a device found about itself.
Answered<DeviceLook> device_look_in(std::string_view body);
/// {"people", "seed", "lasts_s"}, each within its range.
struct AskedRehearsal {
  std::size_t people = 30;
  std::uint64_t seed = 1;
  int lasts_s = 60;
};
Answered<AskedRehearsal> rehearsal_in(std::string_view body);
/// {"set": name}
Answered<std::string> show_set_in(std::string_view body);
/// {"step": whole number}
Answered<std::size_t> show_step_in(std::string_view body);
struct ShowAnswer {
  std::size_t place = 0;
  std::vector<std::string> symbols;
};
/// {"place", "symbols"}
Answered<ShowAnswer> show_answer_in(std::string_view body);
/// {"purpose", "display", "symbols", "seed", "loan"}; loan may be null.
Answered<SetWish> set_wish_in(std::string_view body);
/// {"csv": "pseudonym,plate,reading\n…"}.
Answered<std::string> answer_table_in(std::string_view body);
/// {"display": "display-p3/oled"}.
Answered<std::string> wanted_display_in(std::string_view body);

/// The value of `as` in "as=protan%3A0"; 422 when it is missing, not alone or badly escaped.
Answered<std::string> observer_in(std::string_view query);

/// The questions of "a=1&b=%3A2" by key; 422 for a key that is not in `known`, is asked twice or
/// badly escaped, and for more than 512 letters.
Answered<std::map<std::string, std::string>> questions_in(
    std::string_view query, std::initializer_list<std::string_view> known);

/// "X,Y", a chromaticity; 422 when it is not two numbers.
/// "12,200,255": three codes.
Answered<Code> code_in(const std::string& name, const std::string& text);
Answered<Chromaticity> chromaticity_in(const std::string& text);

}  // namespace copunctal
