// Whole files in and out.
#pragma once

#include <filesystem>
#include <string>
#include <string_view>

#include "copunctal/base/result.h"

namespace copunctal {

/// The file's bytes. Errors: bad_input when it is missing or unreadable, or larger than
/// `most_bytes`.
Result<std::string> read_file(const std::filesystem::path& file,
                              std::size_t most_bytes = std::size_t{64} << 20);

/// Writes the bytes and flushes them to stable storage. Errors: io.
Result<void> write_file(std::string_view bytes, const std::filesystem::path& file);

}  // namespace copunctal
