// A process that locks itself up before it touches what a stranger made.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "copunctal/base/result.h"

namespace copunctal {

struct SandboxRules {
  std::uint64_t most_memory = std::uint64_t{512} << 20;  ///< Address space, bytes.
  unsigned cpu_seconds = 10;
  /// Directories that may be read (fonts, libraries); none: no file can be opened at all.
  std::vector<std::string> readable;
};

/// What a locked-up process was seen to be unable to do.
struct Proof {
  bool no_open = false, no_socket = false, no_fork = false;
  bool holds() const { return no_open && no_socket && no_fork; }
  std::uint32_t bits() const {
    return (no_open ? 1U : 0U) | (no_socket ? 2U : 0U) | (no_fork ? 4U : 0U);
  }
  static constexpr std::uint32_t all_bits = 7;
};

/// Resource limits (memory not under a sanitizer), no new privileges, Landlock where the kernel has
/// it, a seccomp filter of the calls decoding needs; then tries to open a file, a socket and a
/// child. There is no way back. Error: unsupported when the filter cannot be set or the proof
/// fails.
Result<Proof> lock_up(const SandboxRules& rules);

}  // namespace copunctal
