#include "copunctal/cli/progress.h"

#include <cstdio>
#include <utility>

#include <unistd.h>

namespace copunctal {

std::function<void(std::size_t, std::size_t)> progress_bar(std::string title) {
  const bool terminal = isatty(STDERR_FILENO) == 1;
  return [title = std::move(title), terminal](std::size_t done, std::size_t of) {
    if (!terminal && done == 0) std::fprintf(stderr, "%s ...\n", title.c_str());
    if (!terminal || of == 0) return;
    constexpr std::size_t width = 30;
    const std::size_t filled = width * done / of;
    const std::string bar = std::string(filled, '#') + std::string(width - filled, '.');
    std::fprintf(stderr, "\r%s [%s] %zu of %zu%s", title.c_str(), bar.c_str(), done, of,
                 done == of ? "\n" : "");
    std::fflush(stderr);
  };
}

}  // namespace copunctal
