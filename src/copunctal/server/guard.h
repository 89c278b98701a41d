// Who may ask: requests for this server, from its own pages, and what every answer carries.
#pragma once

#include <cstdint>
#include <string_view>

#include "copunctal/server/refusal.h"

namespace copunctal {

/// The route that takes pictures: bytes as they are, sent as application/octet-stream.
inline constexpr std::string_view picture_path = "/api/pictures";

/// Lets a request pass, or refuses it.
/// 400: a header that must be single comes twice.
/// 421: Host is no name of the address that was asked: on loopback its three names, on the class's
/// network that address alone (a name that was re-bound to our address).
/// 405: TRACE, whatever the address.
/// 403, for requests that may change something: no `Content-Type: application/json` (pictures, on
/// loopback: application/octet-stream), no `X-Copunctal: 1`, or an Origin or Sec-Fetch-Site that
/// says another page sent it. Reports of the policy pass as browsers send them (csp_reports.h).
Answered<void> check_request(const Request& request);

/// Adds the headers that keep the pages to themselves.
void protect(Response& response);

}  // namespace copunctal
