// How a request is refused: a status, and one shape of error for all of them.
#pragma once

#include <string>
#include <string_view>

#include "copunctal/base/result.h"
#include "copunctal/server/message.h"

namespace copunctal {

struct Refusal {
  int status = 500;
  Error error;
  int retry_after_s = 1;  ///< Sent with 429 and 503.
};

/// A value, or why the request is refused.
template <class T>
using Answered = tl::expected<T, Refusal>;

/// `return refuse(422, "name", "name must have 1 to 64 characters", "send a shorter name");`
tl::unexpected<Refusal> refuse(int status, std::string thing, std::string message,
                               std::string remedy);

/// The status that the kind of failure asks for; 503 when the world failed.
Refusal refusal_for(Error error);

/// "bad_request" for 400, "not_found" for 404, ...
std::string_view code_of(int status);

/// {"error": {"code", "thing", "place", "message", "remedy"}}; the place is the path unless the
/// error names one. 429 and 503 carry Retry-After, 401 says that joining helps.
Response response_for(const Refusal& refusal, std::string_view path);

}  // namespace copunctal
