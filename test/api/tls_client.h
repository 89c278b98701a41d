// For tests: one exchange over TLS, with the versions a client is ready to speak.
#pragma once

#include <cstdint>
#include <string>

namespace copunctal {

struct TlsReply {
  bool is_connected = false;   ///< The handshake was completed.
  std::string version;         ///< "TLSv1.3".
  std::string fingerprint;     ///< SHA-256 of the server's certificate, "AB:CD:...".
  bool names_address = false;  ///< The certificate is for the address that was asked.
  std::string text;            ///< What came until the server hung up.
};

/// Sends `request` to an IPv4 address and reads to the end. `oldest` and `newest`: TLS1_VERSION,
/// ...
TlsReply ask_over_tls(const std::string& address, std::uint16_t port, const std::string& request,
                      int oldest, int newest);

}  // namespace copunctal
