// The JSON that comes in, read strictly: what is not asked for is refused.
//
// 400 for text that is no JSON object, is nested deeper than 32, repeats a key or holds a number
// that no double can; 422, naming the field, for a key that is unknown, missing or of another type.
#pragma once

#include <string_view>

#include "copunctal/app/run_sitting.h"
#include "copunctal/server/refusal.h"

namespace copunctal {

Answered<NewPractical> new_practical_in(std::string_view body);
Answered<NewSitting> new_sitting_in(std::string_view body);
Answered<SentAnswer> sent_answer_in(std::string_view body);
Answered<Tell> choice_in(std::string_view body);

/// The value of `as` in "as=protan%3A0"; 422 when it is missing, not alone or badly escaped.
Answered<std::string> observer_in(std::string_view query);

}  // namespace copunctal
