// The one cookie there is: it says that a device has joined the class.
#pragma once

#include <chrono>
#include <optional>
#include <string>
#include <string_view>

#include "copunctal/server/message.h"
#include "copunctal/store/identifiers.h"

namespace copunctal {

/// 256 random bits, 64 hexadecimal digits.
std::string new_token(const RandomBytes& random);

/// "__Host-sid" where the connection is encrypted (a browser takes it from this very host only),
/// else "sid".
std::string_view cookie_name(const Arrival& arrival);

/// The token in a request's cookie; nothing when there is none, more than one, or one out of form.
std::optional<std::string> token_in(const Request& request);

/// The Set-Cookie header that gives a token: for this server only, no script reads it, no other
/// site's page sends it.
std::string cookie_giving(std::string_view token, const Arrival& arrival,
                          std::chrono::seconds lifetime);

}  // namespace copunctal
