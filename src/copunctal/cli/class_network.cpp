#include "copunctal/cli/class_network.h"

#include <algorithm>
#include <chrono>
#include <cstdio>
#include <cstdlib>

#include <sys/resource.h>
#include <unistd.h>

#include "copunctal/cli/output.h"
#include "copunctal/server/interfaces.h"
#include "copunctal/server/join_code.h"
#include "copunctal/server/qr.h"

namespace copunctal {
namespace {

constexpr const char* key_file = "class-key.pem";

std::int64_t unix_seconds() {
  return std::chrono::duration_cast<std::chrono::seconds>(
             std::chrono::system_clock::now().time_since_epoch())
      .count();
}

}  // namespace

Result<std::optional<std::string>> address_for_the_class(const ServeOptions& options) {
  if (!options.lan && !options.lan_plain) {
    if (options.interface.empty()) return std::nullopt;
    return fail(Error::Kind::usage, "--interface goes with --lan or --lan-plain", "interface",
                options.interface, "add --lan, or leave --interface out");
  }
  COPUNCTAL_TRY(const auto all, network_addresses());
  COPUNCTAL_TRY(const NetworkAddress chosen, chosen_address(all, options.interface));
  return chosen.address;
}

Result<std::optional<ClassListener>> listener_for_the_class(
    const ServeOptions& options, const std::optional<std::string>& address,
    const std::filesystem::path& data) {
  if (!address) return std::nullopt;
  ClassListener listener{.address = *address, .tls = std::nullopt};
  if (options.lan_plain) {
    std::fprintf(stderr,
                 "Warning: without encryption anybody in this network can read and change what is "
                 "sent, answers about health among it. Use pseudonyms only; --lan encrypts.\n");
    return listener;
  }
  COPUNCTAL_TRY(listener.tls, credentials_for(*address, data / key_file, unix_seconds()));
  if (listener.tls->is_new)
    std::fprintf(stderr, "Note: made a new key and certificate for %s, kept in %s.\n",
                 address->c_str(), (data / key_file).c_str());
  return listener;
}

void allow_many_connections(std::size_t most_connections) {
  constexpr rlim_t other_files = 256;
  const rlim_t wanted = most_connections + other_files;
  rlimit limit{};
  if (getrlimit(RLIMIT_NOFILE, &limit) != 0 || limit.rlim_cur >= wanted) return;
  limit.rlim_cur = std::min(wanted, limit.rlim_max);
  if (setrlimit(RLIMIT_NOFILE, &limit) != 0 || limit.rlim_cur < wanted)
    std::fprintf(stderr, "Note: this system allows fewer open files than a large class needs.\n");
}

void announce(const ClassState& state) {
  if (!state.network) return;
  std::string text = "The class joins at " + state.network->url() + "join with the code " +
                     shown_code(state.code) + "\n";
  if (state.network->is_tls)
    text += "SHA-256 fingerprint of the certificate: " + state.network->fingerprint + "\n";
  text += "The network side closes after 8 hours.\n";
  if (isatty(STDOUT_FILENO) == 1) {
    const char* no_colour = std::getenv("NO_COLOR");  // NOLINT(concurrency-mt-unsafe): never set
    const bool is_plain = no_colour != nullptr && *no_colour != '\0';
    if (const auto code = qr_lines(state.join_url(), is_plain)) text += "\n" + *code;
  }
  print(text);
}

}  // namespace copunctal
