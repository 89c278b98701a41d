// Who of the room's network may come in: the join code, the devices that have joined, whose
// sitting is whose.
//
// All of it is in memory and ends with the serving. A token is kept as its SHA-256 only.
#pragma once

#include <chrono>
#include <cstdint>
#include <functional>
#include <map>
#include <mutex>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "copunctal/server/guess_limiter.h"
#include "copunctal/server/refusal.h"
#include "copunctal/server/router.h"
#include "copunctal/store/identifiers.h"

namespace copunctal {

/// How the class reaches this computer.
struct ClassNetwork {
  std::string address;  ///< "192.0.2.2".
  std::uint16_t port = 0;
  bool is_tls = false;
  std::string fingerprint;  ///< SHA-256 of the certificate, "AB:CD:..."; empty without TLS.

  std::string url() const;  ///< "https://192.0.2.2:8471/".
};

struct ClassDevice {
  int number = 0;  ///< Counted from 1 as they join: what instructor and participant call it.
  std::chrono::seconds joined_ago{0};
  std::size_t sittings = 0;  ///< That are its own.
};

struct ClassState {
  std::optional<ClassNetwork> network;  ///< Nothing: no class is let in.
  std::string code;                     ///< Empty without a network.
  bool is_joining_open = false;
  std::chrono::seconds closes_in{0};
  std::vector<ClassDevice> devices;
  std::size_t wrong_codes = 0;  ///< In the last minute.

  std::string join_url() const;  ///< With the code behind '#', which browsers keep to themselves.
};

/// From any number of threads.
class ClassDoor {
 public:
  static constexpr std::chrono::hours open_for{8};  ///< The network, and with it every cookie.
  static constexpr std::size_t most_devices = 2000;

  /// `steady_ns` never goes back. The door is closed until open() is called.
  ClassDoor(RandomBytes random, std::function<std::int64_t()> steady_ns);

  /// Lets the class in by this network, with a new code.
  void open(ClassNetwork network, std::chrono::seconds lasting = open_for);
  /// Ends everybody's cookie; nobody joins any more.
  void close();

  struct Joined {
    int device = 0;
    std::string token;              ///< For the cookie; known to nobody else.
    std::chrono::seconds lifetime;  ///< Of the cookie.
  };
  /// Lets a device in that has the code. One that had joined before keeps its sittings and its
  /// number. 409 no class is open; 403 joining is locked, or the code is wrong; 422 no code in
  /// form; 429 too many wrong ones.
  Answered<Joined> join(const Request& request, std::string_view typed_code);

  /// Who asks: this computer is the instructor's, a device with a cookie that holds is a
  /// participant's.
  Asker asker_of(const Request& request);
  /// The device's number, if it has joined.
  std::optional<int> device_of(const Request& request);
  /// A sitting is this asker's own from now on, if it is nobody's yet.
  void take(int device, std::string_view sitting);

  /// The same, though it may have been somebody else's: who has its code has it.
  void hand_over(int device, std::string_view sitting);

  // For the instructor. 409 when no class is open.
  ClassState state();
  Answered<ClassState> make_new_code();  ///< Who has joined stays.
  Answered<ClassState> set_joining(bool is_open);
  /// Ends a device's cookie. Its sittings are whoever's knows their ids. 404: no such device.
  Answered<void> end_device(int number);

 private:
  using Time = GuessLimiter::Time;
  struct Device {
    int number = 0;
    Time joined{0};
  };

  Time now() const { return Time(steady_ns_()); }
  void forget_if_over();                                        // under the lock
  Device* device_with(const std::optional<std::string>& hash);  // under the lock
  ClassState state_under_lock();

  const RandomBytes random_;
  const std::function<std::int64_t()> steady_ns_;
  std::mutex mutex_;
  std::optional<ClassNetwork> network_;
  std::string code_;
  bool is_joining_open_ = false;
  Time closes_{0};
  GuessLimiter limiter_;
  int last_number_ = 0;
  std::map<std::string, Device, std::less<>> devices_;  ///< By the SHA-256 of their token.
  std::map<std::string, int, std::less<>> owners_;      ///< Of sittings: numbers of devices.
};

}  // namespace copunctal
