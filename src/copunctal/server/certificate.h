// The key and the certificate by which a class's devices reach this computer encrypted.
#pragma once

#include <cstdint>
#include <filesystem>
#include <string>
#include <string_view>
#include <vector>

#include "copunctal/base/result.h"

namespace copunctal {

struct Credentials {
  std::string certificate_pem, key_pem;
  std::string fingerprint;  ///< SHA-256 of the certificate (DER): "AB:CD:...", 32 pairs.
  bool is_new = false;      ///< Made just now.
};

inline constexpr int days_of_certificate = 396;  ///< Browsers take at most 398.

/// What a certificate serves for.
struct CertificateTerms {
  std::vector<std::string> names;  ///< "192.0.2.2", "localhost".
  std::string until_utc;           ///< "2031-02-03".
  std::int64_t days_left = 0;
};
/// Of a certificate of ours. Error: bad_input for a text that holds none.
Result<CertificateTerms> terms_of(const Credentials& credentials, std::int64_t unix_s);

/// The ones kept in `file` (mode 0600), or new ones written there: when it is missing, its
/// certificate has run out at `unix_s` or does so within a day, or it is not for this address. A
/// new key is on P-256, its certificate signed by itself, for the IPv4 address, 127.0.0.1 and
/// localhost. Errors: bad_input for a file that others can read or that holds something else; io.
Result<Credentials> credentials_for(std::string_view address, const std::filesystem::path& file,
                                    std::int64_t unix_s);

}  // namespace copunctal
