#include "copunctal/server/certificate.h"

#include <gtest/gtest.h>
#include <openssl/evp.h>
#include <openssl/pem.h>
#include <openssl/x509v3.h>
#include <sys/stat.h>

#include <filesystem>
#include <fstream>
#include <memory>

#include "copunctal/base/files.h"
#include "copunctal/base/hash.h"
#include "copunctal/store/scratch_directory.h"

using namespace copunctal;

namespace {

constexpr std::int64_t now = 1'900'000'000, day = 86'400;

std::unique_ptr<X509, decltype(&X509_free)> parsed(const std::string& pem) {
  BIO* bytes = BIO_new_mem_buf(pem.data(), static_cast<int>(pem.size()));
  X509* certificate = PEM_read_bio_X509(bytes, nullptr, nullptr, nullptr);
  BIO_free(bytes);
  return {certificate, X509_free};
}

struct Certificates : testing::Test {
  ScratchDirectory scratch;
  std::filesystem::path file = scratch.path() / "class-key.pem";
};

}  // namespace

TEST_F(Certificates, are_made_once_and_kept) {
  const auto made = credentials_for("192.0.2.2", file, now);
  ASSERT_TRUE(made) << made.error().message;
  EXPECT_TRUE(made->is_new);
  struct stat status {};
  ASSERT_EQ(stat(file.c_str(), &status), 0);
  EXPECT_EQ(status.st_mode & 0777, 0600U);
  const auto kept = credentials_for("192.0.2.2", file, now + 300 * day);
  ASSERT_TRUE(kept);
  EXPECT_FALSE(kept->is_new);
  EXPECT_EQ(kept->certificate_pem, made->certificate_pem);
  EXPECT_EQ(kept->key_pem, made->key_pem);
  EXPECT_EQ(kept->fingerprint, made->fingerprint);
}

TEST_F(Certificates, say_for_whom_and_how_long) {
  const auto made = credentials_for("192.0.2.2", file, now);
  ASSERT_TRUE(made);
  const auto certificate = parsed(made->certificate_pem);
  ASSERT_TRUE(certificate);
  X509* const one = certificate.get();
  EXPECT_EQ(X509_check_ip_asc(one, "192.0.2.2", 0), 1);
  EXPECT_EQ(X509_check_ip_asc(one, "127.0.0.1", 0), 1);
  EXPECT_EQ(X509_check_ip_asc(one, "192.0.2.3", 0), 0);
  EXPECT_EQ(X509_check_host(one, "localhost", 0, 0, nullptr), 1);
  EXPECT_EQ(X509_check_host(one, "example.org", 0, 0, nullptr), 0);
  EXPECT_EQ(X509_check_ca(one), 0) << "it vouches for nobody else";
  EXPECT_EQ(X509_get_extended_key_usage(one), static_cast<unsigned>(XKU_SSL_SERVER));
  int days = 0, seconds = 0;
  ASSERT_EQ(ASN1_TIME_diff(&days, &seconds, X509_get0_notBefore(one), X509_get0_notAfter(one)), 1);
  EXPECT_LE(days, 397);
  EXPECT_GE(days, 300);
  EVP_PKEY* const key = X509_get0_pubkey(one);
  std::array<char, 32> group{};
  ASSERT_EQ(EVP_PKEY_get_group_name(key, group.data(), group.size(), nullptr), 1);
  EXPECT_STREQ(group.data(), "prime256v1") << "P-256";
  EXPECT_EQ(X509_verify(one, key), 1) << "signed by itself";

  // The fingerprint is the hash of the certificate's bytes.
  unsigned char* der = nullptr;
  const int size = i2d_X509(one, &der);
  std::string hex = sha256_hex(
      std::string_view(reinterpret_cast<const char*>(der), static_cast<std::size_t>(size)));
  OPENSSL_free(der);
  std::string digits;
  for (const char c : made->fingerprint)
    if (c != ':') digits += static_cast<char>(std::tolower(c));
  EXPECT_EQ(digits, hex);
  EXPECT_EQ(made->fingerprint.size(), 95U);
}

TEST_F(Certificates, are_made_anew_when_they_do_not_serve) {
  const auto first = credentials_for("192.0.2.2", file, now);
  ASSERT_TRUE(first);
  const auto elsewhere = credentials_for("198.51.100.3", file, now);
  ASSERT_TRUE(elsewhere);
  EXPECT_TRUE(elsewhere->is_new) << "another address";
  EXPECT_NE(elsewhere->key_pem, first->key_pem);
  EXPECT_FALSE(credentials_for("198.51.100.3", file, now + 394 * day)->is_new);
  EXPECT_TRUE(credentials_for("198.51.100.3", file, now + 396 * day)->is_new) << "run out";
  EXPECT_TRUE(credentials_for("198.51.100.3", file, now)->is_new) << "not valid yet";
}

TEST_F(Certificates, that_others_can_read_are_refused) {
  ASSERT_TRUE(credentials_for("192.0.2.2", file, now));
  for (const mode_t mode : {0644U, 0640U, 0604U, 0660U, 0400U}) {
    ASSERT_EQ(chmod(file.c_str(), mode), 0);
    const auto refused = credentials_for("192.0.2.2", file, now);
    ASSERT_FALSE(refused) << mode;
    EXPECT_EQ(refused.error().kind, Error::Kind::bad_input);
    EXPECT_NE(refused.error().remedy.find("chmod 600"), std::string::npos);
  }
  ASSERT_EQ(chmod(file.c_str(), 0600), 0);
  EXPECT_TRUE(credentials_for("192.0.2.2", file, now));
  const auto link = scratch.path() / "link.pem";
  std::filesystem::create_symlink(file, link);
  EXPECT_FALSE(credentials_for("192.0.2.2", link, now));
}

TEST_F(Certificates, that_were_edited_are_named_and_kept_as_they_are) {
  const auto made = credentials_for("192.0.2.2", file, now);
  const auto other = credentials_for("192.0.2.2", scratch.path() / "other.pem", now);
  ASSERT_TRUE(made && other);
  for (const std::string& text :
       {std::string(), std::string("nonsense"), made->key_pem, made->certificate_pem,
        other->key_pem + made->certificate_pem, std::string(100'000, 'x')}) {
    std::ofstream(file) << text;
    const auto refused = credentials_for("192.0.2.2", file, now);
    ASSERT_FALSE(refused);
    EXPECT_EQ(refused.error().kind, Error::Kind::bad_input);
    EXPECT_NE(refused.error().message.find("class-key.pem"), std::string::npos);
    EXPECT_EQ(read_file(file).value_or("?"), text);
  }
}

TEST_F(Certificates, that_cannot_be_written_leave_nothing_behind) {
  const auto refused = credentials_for("192.0.2.2", scratch.path() / "none" / "key.pem", now);
  ASSERT_FALSE(refused);
  EXPECT_EQ(refused.error().kind, Error::Kind::io);
  EXPECT_TRUE(std::filesystem::is_empty(scratch.path()));
}

TEST(Certificate, says_its_names_and_how_long_it_holds) {
  const ScratchDirectory scratch;
  const auto made = credentials_for("192.0.2.7", scratch.path() / "key", now);  // 2030-03-17
  ASSERT_TRUE(made);
  const auto terms = terms_of(*made, now);
  ASSERT_TRUE(terms);
  EXPECT_EQ(terms->names, (std::vector<std::string>{"192.0.2.7", "127.0.0.1", "localhost"}));
  // 396 days less the hour it was dated back: 395 whole ones, to 2031-04-17.
  EXPECT_EQ(terms->days_left, days_of_certificate - 1);
  EXPECT_EQ(terms->until_utc, "2031-04-17");
  EXPECT_FALSE(terms_of({"no certificate", "", "", false}, now));
}
