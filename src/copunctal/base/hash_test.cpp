#include "copunctal/base/hash.h"

#include <gtest/gtest.h>

namespace copunctal {
namespace {

// FIPS 180-4 example "abc", and the digest of the empty message (NIST CAVP, short messages).
TEST(Hash, AgreesWithThePublishedDigests) {
  EXPECT_EQ(sha256_hex("abc"), "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
  EXPECT_EQ(sha256_hex(""), "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855");
}

}  // namespace
}  // namespace copunctal
