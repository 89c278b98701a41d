// Work over an index range on several threads; results must not depend on how it was split.
#pragma once

#include <cstddef>
#include <functional>

namespace copunctal {

/// Calls `work(i)` once for every i in [0, count), on up to `threads` threads (0: one per core).
/// The first exception thrown is rethrown here once every thread has stopped.
void parallel_for(std::size_t count, const std::function<void(std::size_t)>& work,
                  unsigned threads = 0);

}  // namespace copunctal
