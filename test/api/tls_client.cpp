#include "api/tls_client.h"

#include <arpa/inet.h>
#include <netinet/in.h>
#include <openssl/ssl.h>
#include <openssl/x509v3.h>
#include <sys/socket.h>
#include <unistd.h>

#include <array>
#include <memory>

namespace copunctal {

TlsReply ask_over_tls(const std::string& address, std::uint16_t port, const std::string& request,
                      int oldest, int newest) {
  TlsReply reply;
  const std::unique_ptr<SSL_CTX, decltype(&SSL_CTX_free)> context(SSL_CTX_new(TLS_client_method()),
                                                                  SSL_CTX_free);
  // Ready for anything, also what Debian's defaults refuse: the server must be the one to refuse.
  SSL_CTX_set_cipher_list(context.get(), "ALL:@SECLEVEL=0");
  SSL_CTX_set_min_proto_version(context.get(), oldest);
  SSL_CTX_set_max_proto_version(context.get(), newest);
  const std::unique_ptr<SSL, decltype(&SSL_free)> tls(SSL_new(context.get()), SSL_free);

  sockaddr_in there{};
  there.sin_family = AF_INET;
  there.sin_port = htons(port);
  if (inet_pton(AF_INET, address.c_str(), &there.sin_addr) != 1) return reply;
  const int handle = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
  if (handle < 0) return reply;
  if (connect(handle, reinterpret_cast<const sockaddr*>(&there), sizeof there) == 0) {
    SSL_set_fd(tls.get(), handle);
    if (SSL_connect(tls.get()) == 1) {
      reply.is_connected = true;
      reply.version = SSL_get_version(tls.get());
      X509* const certificate = SSL_get0_peer_certificate(tls.get());
      std::array<unsigned char, 32> digest{};
      X509_digest(certificate, EVP_sha256(), digest.data(), nullptr);
      for (const unsigned char byte : digest) {
        std::array<char, 4> hex{};
        std::snprintf(hex.data(), hex.size(), "%02X:", static_cast<unsigned>(byte));
        reply.fingerprint += hex.data();
      }
      reply.fingerprint.pop_back();
      reply.names_address = X509_check_ip_asc(certificate, address.c_str(), 0) == 1;
      SSL_write(tls.get(), request.data(), static_cast<int>(request.size()));
      std::array<char, 16384> bytes{};
      for (int size = 0;
           (size = SSL_read(tls.get(), bytes.data(), static_cast<int>(bytes.size()))) > 0;)
        reply.text.append(bytes.data(), static_cast<std::size_t>(size));
    }
  }
  close(handle);
  return reply;
}

}  // namespace copunctal
