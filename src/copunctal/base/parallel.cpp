#include "copunctal/base/parallel.h"

#include <algorithm>
#include <atomic>
#include <exception>
#include <mutex>
#include <thread>
#include <vector>

namespace copunctal {

void parallel_for(std::size_t count, const std::function<void(std::size_t)>& work,
                  unsigned threads) {
  if (threads == 0) threads = std::max(1U, std::thread::hardware_concurrency());
  threads = static_cast<unsigned>(std::min<std::size_t>(threads, count));
  std::atomic<std::size_t> next = 0;
  std::exception_ptr failure;
  std::mutex failure_lock;
  const auto run = [&] {
    try {
      for (std::size_t i = next++; i < count; i = next++) work(i);
    } catch (...) {
      next = count;
      const std::scoped_lock lock(failure_lock);
      if (!failure) failure = std::current_exception();
    }
  };
  {
    std::vector<std::jthread> helpers;
    for (unsigned i = 1; i < threads; ++i) helpers.emplace_back(run);
    run();
  }
  if (failure) std::rethrow_exception(failure);
}

}  // namespace copunctal
