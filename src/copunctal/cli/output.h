// Standard output, whose errors count like any other's.
#pragma once

#include <filesystem>
#include <string>

#include "copunctal/base/result.h"

namespace copunctal {

/// Puts a result on standard output; what goes wrong is kept until written().
void print(const std::string& text);

/// A line for people, on standard error.
void say(const std::string& text);

/// Sends what was printed on its way. Error (io) when any of it, by print() or by others, was not
/// taken: a full disk, a closed pipe.
Result<void> written();

/// Whether a file may be written: it is not there, or may be replaced. Error: bad_input.
Result<void> is_free(const std::filesystem::path& out, bool force);

/// Writes a text beside its final name first, so that no half of one is ever left. Error: io.
Result<void> write_whole(const std::string& text, const std::filesystem::path& out);

}  // namespace copunctal
