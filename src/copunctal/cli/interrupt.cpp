#include "copunctal/cli/interrupt.h"

namespace copunctal {
namespace {

sigset_t interrupts() {
  sigset_t set;
  sigemptyset(&set);
  sigaddset(&set, SIGINT);
  sigaddset(&set, SIGTERM);
  return set;
}

}  // namespace

StopOnInterrupt::StopOnInterrupt() {
  const sigset_t set = interrupts();
  // Threads made from here on inherit the mask, so that the signal waits for us.
  pthread_sigmask(SIG_BLOCK, &set, &before_);
  waiting_ = std::jthread([this, set](const std::stop_token& done) {
    constexpr timespec a_moment = {.tv_sec = 0, .tv_nsec = 50'000'000};
    while (!done.stop_requested())
      if (sigtimedwait(&set, nullptr, &a_moment) > 0) source_.request_stop();
  });
}

StopOnInterrupt::~StopOnInterrupt() {
  waiting_.request_stop();
  waiting_.join();
  pthread_sigmask(SIG_SETMASK, &before_, nullptr);
}

}  // namespace copunctal
