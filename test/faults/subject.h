// The server under test, as a process of its own that can be killed and started again.
#pragma once

#include <sys/types.h>

#include <atomic>
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

namespace copunctal {

class Subject {
 public:
  /// `command`: program and arguments, "serve" and all, but for --data and --port.
  Subject(std::vector<std::string> command, std::string directory)
      : command_(std::move(command)), directory_(std::move(directory)) {}
  Subject(const Subject&) = delete;
  Subject& operator=(const Subject&) = delete;
  ~Subject() { kill(), wait(); }

  /// Starts the server and waits until it says where it is ready (the first time it may have a set
  /// to make); nothing when it does not, within two minutes.
  std::optional<std::uint16_t> start();
  /// SIGKILL, now, from any thread. True for the one call that did it.
  bool kill();
  /// Waits until the process has gone.
  void wait();
  /// SIGTERM; the exit code, or -1 for a process that did not end by itself.
  int stop();

 private:
  std::vector<std::string> command_;
  std::string directory_;
  std::atomic<pid_t> process_ = -1;  ///< -1 once killed.
  pid_t to_wait_for_ = -1;
  int output_ = -1;
};

}  // namespace copunctal
