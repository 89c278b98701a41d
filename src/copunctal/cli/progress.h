// A progress bar on a terminal; one line where there is none.
#pragma once

#include <cstddef>
#include <functional>
#include <string>

namespace copunctal {

/// Draws on standard error; safe to call from several threads one at a time.
std::function<void(std::size_t done, std::size_t of)> progress_bar(std::string title);

}  // namespace copunctal
