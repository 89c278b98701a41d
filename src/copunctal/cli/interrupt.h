// Ctrl-C as a request to stop, so that long work ends cleanly and leaves nothing behind.
#pragma once

#include <csignal>
#include <stop_token>
#include <thread>

namespace copunctal {

/// While one lives, SIGINT and SIGTERM ask its token to stop instead of ending the program. To be
/// made before other threads are, by one thread.
class StopOnInterrupt {
 public:
  StopOnInterrupt();
  StopOnInterrupt(const StopOnInterrupt&) = delete;
  StopOnInterrupt& operator=(const StopOnInterrupt&) = delete;
  ~StopOnInterrupt();
  std::stop_token token() const { return source_.get_token(); }

 private:
  sigset_t before_{};
  std::stop_source source_;
  std::jthread waiting_;
};

}  // namespace copunctal
