#include "copunctal/server/interfaces.h"

#include <arpa/inet.h>
#include <ifaddrs.h>
#include <net/if.h>
#include <netinet/in.h>

#include <array>
#include <cerrno>
#include <cstring>
#include <memory>
#include <system_error>

namespace copunctal {
namespace {

struct FreeList {
  void operator()(ifaddrs* list) const { freeifaddrs(list); }
};

bool is_loopback(std::string_view address) {
  return address.starts_with("127.");
}

/// An IPv4 address in its usual form.
bool is_address(const std::string& text) {
  in_addr parsed{};
  std::array<char, INET_ADDRSTRLEN> usual{};
  return inet_pton(AF_INET, text.c_str(), &parsed) == 1 &&
         inet_ntop(AF_INET, &parsed, usual.data(), usual.size()) != nullptr && text == usual.data();
}

std::string list_of(const std::vector<NetworkAddress>& all) {
  std::string list;
  for (const NetworkAddress& one : all)
    if (!is_loopback(one.address))
      list += (list.empty() ? "" : ", ") + one.interface + " " + one.address;
  return list.empty() ? "none" : list;
}

tl::unexpected<Error> no_choice(const std::string& message, std::string_view wish,
                                const std::vector<NetworkAddress>& all) {
  return fail(Error::Kind::usage, message + "; there is: " + list_of(all), "interface",
              std::string(wish), "name one of them with --interface NAME or --interface ADDRESS");
}

}  // namespace

Result<std::vector<NetworkAddress>> network_addresses() {
  ifaddrs* first = nullptr;
  if (getifaddrs(&first) != 0)
    return fail(
        Error::Kind::io,
        "the network interfaces cannot be listed (" + std::generic_category().message(errno) + ")",
        "interface", "", "see whether the network is set up");
  const std::unique_ptr<ifaddrs, FreeList> list(first);
  std::vector<NetworkAddress> all;
  for (const ifaddrs* one = list.get(); one != nullptr; one = one->ifa_next) {
    if (one->ifa_addr == nullptr || one->ifa_addr->sa_family != AF_INET ||
        (one->ifa_flags & IFF_UP) == 0)
      continue;
    sockaddr_in address{};
    std::memcpy(&address, one->ifa_addr, sizeof address);
    std::array<char, INET_ADDRSTRLEN> text{};
    if (inet_ntop(AF_INET, &address.sin_addr, text.data(), text.size()) != nullptr)
      all.push_back({one->ifa_name, text.data()});
  }
  return all;
}

Result<NetworkAddress> chosen_address(const std::vector<NetworkAddress>& all,
                                      std::string_view wish) {
  const std::string wished(wish);
  if (wished == "127.0.0.1")
    return no_choice("127.0.0.1 is this computer's own and always served", wish, all);
  if (is_address(wished) && is_loopback(wished)) return NetworkAddress{"loopback", wished};
  std::vector<NetworkAddress> fitting;
  for (const NetworkAddress& one : all)
    if (!is_loopback(one.address) && (wish.empty() || one.interface == wish || one.address == wish))
      fitting.push_back(one);
  if (fitting.size() == 1) return fitting.front();
  if (fitting.empty() && wish.empty())
    return no_choice("no network is connected, so no class can reach this computer", wish, all);
  if (fitting.empty())
    return no_choice("'" + wished + "' is no network interface or IPv4 address of this computer",
                     wish, all);
  return no_choice(
      "this computer has several addresses" + (wish.empty() ? std::string() : " on " + wished),
      wish, all);
}

}  // namespace copunctal
