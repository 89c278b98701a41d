#include "copunctal/server/certificate.h"

#include <fcntl.h>
#include <openssl/bio.h>
#include <openssl/evp.h>
#include <openssl/pem.h>
#include <openssl/rand.h>
#include <openssl/x509.h>
#include <openssl/x509v3.h>
#include <sys/stat.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <ctime>
#include <memory>
#include <optional>
#include <system_error>

#include "copunctal/base/expects.h"
#include "copunctal/base/files.h"

namespace copunctal {
namespace {

namespace fs = std::filesystem;

template <auto free_it>
struct FreeBy {
  template <class T>
  void operator()(T* thing) const {
    free_it(thing);
  }
};
using Key = std::unique_ptr<EVP_PKEY, FreeBy<EVP_PKEY_free>>;
using Certificate = std::unique_ptr<X509, FreeBy<X509_free>>;
using Extension = std::unique_ptr<X509_EXTENSION, FreeBy<X509_EXTENSION_free>>;
using Bytes = std::unique_ptr<BIO, FreeBy<BIO_vfree>>;

constexpr std::int64_t hour = 3600, day = 24 * hour;
constexpr std::size_t largest_file = std::size_t{64} * 1024;

std::string text_of(BIO* bytes) {
  char* data = nullptr;
  const long size = BIO_get_mem_data(bytes, &data);
  return {data, static_cast<std::size_t>(size)};
}

std::string fingerprint_of(const X509* certificate) {
  std::array<unsigned char, 32> digest{};
  unsigned int size = 0;
  expects(X509_digest(certificate, EVP_sha256(), digest.data(), &size) == 1 &&
          size == digest.size());
  constexpr std::string_view digits = "0123456789ABCDEF";
  std::string text;
  for (const unsigned char byte : digest) {
    if (!text.empty()) text += ':';
    text += digits[byte >> 4];
    text += digits[byte & 15];
  }
  return text;
}

Credentials credentials_of(X509* certificate, EVP_PKEY* key, bool is_new) {
  const Bytes certificate_bytes(BIO_new(BIO_s_mem())), key_bytes(BIO_new(BIO_s_mem()));
  expects(PEM_write_bio_X509(certificate_bytes.get(), certificate) == 1);
  expects(PEM_write_bio_PKCS8PrivateKey(key_bytes.get(), key, nullptr, nullptr, 0, nullptr,
                                        nullptr) == 1);
  return {text_of(certificate_bytes.get()), text_of(key_bytes.get()), fingerprint_of(certificate),
          is_new};
}

void extend(X509* certificate, int what, const std::string& value) {
  X509V3_CTX context{};
  X509V3_set_ctx(&context, certificate, certificate, nullptr, nullptr, 0);
  const Extension extension(X509V3_EXT_conf_nid(nullptr, &context, what, value.c_str()));
  expects(extension != nullptr && X509_add_ext(certificate, extension.get(), -1) == 1);
}

/// What can fail here is the library's memory or its source of chance: nothing to do about it.
Credentials new_credentials(std::string_view address, std::int64_t unix_s) {
  const Key key(EVP_PKEY_Q_keygen(nullptr, nullptr, "EC", "P-256"));
  const Certificate certificate(X509_new());
  expects(key != nullptr && certificate != nullptr);
  X509* const one = certificate.get();
  expects(X509_set_version(one, X509_VERSION_3) == 1);

  std::array<unsigned char, 16> serial{};
  expects(RAND_bytes(serial.data(), static_cast<int>(serial.size())) == 1);
  serial[0] = static_cast<unsigned char>((serial[0] & 0x3F) | 0x40);  // positive, full length
  BIGNUM* const number = BN_bin2bn(serial.data(), static_cast<int>(serial.size()), nullptr);
  expects(BN_to_ASN1_INTEGER(number, X509_get_serialNumber(one)) != nullptr);
  BN_free(number);

  // An hour back, for devices whose clocks are slow.
  expects(ASN1_TIME_set(X509_getm_notBefore(one), unix_s - hour) != nullptr);
  expects(ASN1_TIME_set(X509_getm_notAfter(one), unix_s - hour + days_of_certificate * day) !=
          nullptr);
  constexpr std::string_view common_name = "Copunctal class";
  X509_NAME* const name = X509_get_subject_name(one);
  expects(X509_NAME_add_entry_by_NID(name, NID_commonName, MBSTRING_UTF8,
                                     reinterpret_cast<const unsigned char*>(common_name.data()),
                                     static_cast<int>(common_name.size()), -1, 0) == 1);
  expects(X509_set_issuer_name(one, name) == 1 && X509_set_pubkey(one, key.get()) == 1);
  extend(one, NID_basic_constraints, "critical,CA:FALSE");
  extend(one, NID_key_usage, "critical,digitalSignature");
  extend(one, NID_ext_key_usage, "serverAuth");
  extend(one, NID_subject_alt_name, "IP:" + std::string(address) + ",IP:127.0.0.1,DNS:localhost");
  expects(X509_sign(one, key.get(), EVP_sha256()) > 0);
  return credentials_of(one, key.get(), true);
}

tl::unexpected<Error> unusable(const fs::path& file, const std::string& why,
                               const std::string& remedy) {
  return fail(Error::Kind::bad_input, file.string() + ": " + why, "key", file.string(), remedy);
}

tl::unexpected<Error> unwritable(const fs::path& file) {
  return fail(Error::Kind::io,
              file.string() + " cannot be written (" + std::generic_category().message(errno) +
                  "), so there is no key to encrypt with",
              "key", file.string(), "make room or mend the directory's rights, then try again");
}

/// Nobody but the owner can read it at any moment, and it is there whole or not at all.
Result<void> write_privately(const std::string& text, const fs::path& file) {
  const fs::path part = file.string() + ".part";
  unlink(part.c_str());
  const int handle = open(part.c_str(), O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0600);
  if (handle < 0) return unwritable(file);
  bool is_written = fchmod(handle, 0600) == 0;
  for (std::size_t at = 0; is_written && at < text.size();) {
    const ssize_t size = write(handle, text.data() + at, text.size() - at);
    is_written = size > 0 || (size < 0 && errno == EINTR);
    if (size > 0) at += static_cast<std::size_t>(size);
  }
  is_written = is_written && fsync(handle) == 0;
  is_written = close(handle) == 0 && is_written;
  if (is_written && rename(part.c_str(), file.c_str()) == 0) return {};
  const auto failed = unwritable(file);
  unlink(part.c_str());
  return failed;
}

/// Whether a certificate serves for this address at this time and a day more.
bool serves(X509* certificate, const std::string& address, std::int64_t unix_s) {
  std::time_t now = unix_s, tomorrow = unix_s + day;
  return X509_cmp_time(X509_get0_notBefore(certificate), &now) < 0 &&
         X509_cmp_time(X509_get0_notAfter(certificate), &tomorrow) > 0 &&
         X509_check_ip_asc(certificate, address.c_str(), 0) == 1;
}

/// What the file holds; nothing when it has to be made anew.
Result<std::optional<Credentials>> kept_in(const fs::path& file, const std::string& address,
                                           std::int64_t unix_s) {
  struct stat status {};
  if (lstat(file.c_str(), &status) != 0) {
    if (errno == ENOENT) return std::nullopt;
    return unwritable(file);
  }
  if (!S_ISREG(status.st_mode) || (status.st_mode & 0777) != 0600)
    return unusable(file, "a key must be a file that its owner alone can read (mode 0600)",
                    "if nobody else has read it: chmod 600 " + file.string() +
                        "; else remove it, and a new one is made");
  COPUNCTAL_TRY(const std::string text, read_file(file, largest_file));
  const Bytes key_bytes(BIO_new_mem_buf(text.data(), static_cast<int>(text.size()))),
      certificate_bytes(BIO_new_mem_buf(text.data(), static_cast<int>(text.size())));
  const Key key(PEM_read_bio_PrivateKey(key_bytes.get(), nullptr, nullptr, nullptr));
  const Certificate certificate(
      PEM_read_bio_X509(certificate_bytes.get(), nullptr, nullptr, nullptr));
  if (key == nullptr || certificate == nullptr ||
      X509_check_private_key(certificate.get(), key.get()) != 1)
    return unusable(file, "it holds no key with the certificate that belongs to it",
                    "remove it, and a new one is made");
  if (!serves(certificate.get(), address, unix_s)) return std::nullopt;
  return credentials_of(certificate.get(), key.get(), false);
}

std::string name_in(const GENERAL_NAME* name) {
  if (name->type == GEN_DNS)
    return {reinterpret_cast<const char*>(ASN1_STRING_get0_data(name->d.dNSName)),
            static_cast<std::size_t>(ASN1_STRING_length(name->d.dNSName))};
  if (name->type != GEN_IPADD || ASN1_STRING_length(name->d.iPAddress) != 4) return "another name";
  const unsigned char* byte = ASN1_STRING_get0_data(name->d.iPAddress);
  std::string text = std::to_string(byte[0]);
  for (int i = 1; i < 4; ++i) text += "." + std::to_string(byte[i]);
  return text;
}

}  // namespace

Result<CertificateTerms> terms_of(const Credentials& credentials, std::int64_t unix_s) {
  const std::string& text = credentials.certificate_pem;
  const Bytes bytes(BIO_new_mem_buf(text.data(), static_cast<int>(text.size())));
  const Certificate certificate(PEM_read_bio_X509(bytes.get(), nullptr, nullptr, nullptr));
  if (certificate == nullptr)
    return fail(Error::Kind::bad_input, "this text holds no certificate", "certificate", "",
                "remove the key file, and a new one is made");
  CertificateTerms terms;
  std::tm end{};
  int days = 0, seconds = 0;
  std::time_t now = unix_s;
  const ASN1_TIME* const until = X509_get0_notAfter(certificate.get());
  const std::unique_ptr<ASN1_TIME, FreeBy<ASN1_TIME_free>> from(ASN1_TIME_set(nullptr, now));
  expects(from != nullptr && ASN1_TIME_to_tm(until, &end) == 1 &&
          ASN1_TIME_diff(&days, &seconds, from.get(), until) == 1);
  std::array<char, 16> day_text{};
  expects(std::strftime(day_text.data(), day_text.size(), "%Y-%m-%d", &end) > 0);
  terms.until_utc = day_text.data();
  terms.days_left = days;
  const std::unique_ptr<GENERAL_NAMES, FreeBy<GENERAL_NAMES_free>> names(
      static_cast<GENERAL_NAMES*>(
          X509_get_ext_d2i(certificate.get(), NID_subject_alt_name, nullptr, nullptr)));
  for (int i = 0; names != nullptr && i < sk_GENERAL_NAME_num(names.get()); ++i)
    terms.names.push_back(name_in(sk_GENERAL_NAME_value(names.get(), i)));
  return terms;
}

Result<Credentials> credentials_for(std::string_view address, const fs::path& file,
                                    std::int64_t unix_s) {
  COPUNCTAL_TRY(auto kept, kept_in(file, std::string(address), unix_s));
  if (kept) return *std::move(kept);
  Credentials made = new_credentials(address, unix_s);
  COPUNCTAL_TRY_VOID(write_privately(made.key_pem + made.certificate_pem, file));
  return made;
}

}  // namespace copunctal
