// Files: whole ones in and out, and a handle that closes itself.
#pragma once

#include <cstdio>
#include <filesystem>
#include <memory>
#include <string>
#include <string_view>

#include "copunctal/base/result.h"

namespace copunctal {

/// Closes what std::fopen() opened.
struct CloseFile {
  void operator()(std::FILE* file) const { static_cast<void>(std::fclose(file)); }
};
using File = std::unique_ptr<std::FILE, CloseFile>;

/// The file's bytes. Errors: bad_input when it is missing or unreadable, or larger than
/// `most_bytes`.
Result<std::string> read_file(const std::filesystem::path& file,
                              std::size_t most_bytes = std::size_t{64} << 20);

/// Writes the bytes and flushes them to stable storage. Errors: io.
Result<void> write_file(std::string_view bytes, const std::filesystem::path& file);

}  // namespace copunctal
