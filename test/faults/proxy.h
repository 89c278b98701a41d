// A bad network: carries bytes between people and the server, and now and then does not.
#pragma once

#include <atomic>
#include <cstddef>
#include <cstdint>
#include <string>
#include <thread>
#include <vector>

#include "copunctal/base/random.h"

namespace copunctal {

/// Listens on a free port of 127.0.0.1. Each connection has a fate, drawn when it is made; closed
/// by scope, after every connection has ended.
class Proxy {
 public:
  Proxy(std::uint16_t server, std::uint64_t seed);
  Proxy(const Proxy&) = delete;
  Proxy& operator=(const Proxy&) = delete;
  ~Proxy();

  std::uint16_t port() const { return port_; }

  /// What was done to the connections so far.
  struct Deeds {
    std::atomic<int> requests_cut = 0;     ///< Ended after some bytes of what was asked.
    std::atomic<int> replies_dropped = 0;  ///< Asked in full; the reply came not at all.
    std::atomic<int> replies_cut = 0;      ///< Asked in full; the reply came in part.
    std::atomic<int> doubled = 0;          ///< Asked again, behind the person's back.
    std::atomic<int> trickled = 0;         ///< Carried in small pieces, with pauses.
    int cuts() const { return requests_cut + replies_dropped + replies_cut; }
  };
  const Deeds& deeds() const { return deeds_; }

 private:
  enum class Kind { cut_request, drop_reply, cut_reply, doubles, trickles };
  struct Fate {
    Kind kind;
    std::size_t bytes;  ///< Let through before the cut.
    int requests;       ///< Let through before a reply is dropped or cut.
  };

  void accept_all();
  void carry(int person, Fate fate);
  /// Carries bytes as the fate has it; false when the connection is to end.
  bool to_server(int server, const std::string& bytes, Fate& fate);
  bool to_person(int person, const std::string& bytes, Fate& fate);
  void ask_again(const std::string& request);

  std::uint16_t server_, port_ = 0;
  int listener_ = -1;
  RandomStream random_;
  Deeds deeds_;
  std::atomic<bool> is_over_ = false;
  std::vector<std::thread> carriers_;
  std::thread acceptor_;
};

}  // namespace copunctal
