// Letting a class in: from the options of `serve` to a listener, and what is printed of it.
#pragma once

#include <filesystem>
#include <optional>
#include <string>

#include "copunctal/base/result.h"
#include "copunctal/cli/commands.h"
#include "copunctal/server/server.h"

namespace copunctal {

/// The address that the options mean; nothing without --lan and --lan-plain. Errors: usage, io.
Result<std::optional<std::string>> address_for_the_class(const ServeOptions& options);

/// The listener on it, with the key kept in the data directory or a new one; warns on standard
/// error when it is to be plain. Errors: bad_input, io.
Result<std::optional<ClassListener>> listener_for_the_class(
    const ServeOptions& options, const std::optional<std::string>& address,
    const std::filesystem::path& data);

/// Asks the system for as many open files as connections may need; many give 1,024 until asked.
void allow_many_connections(std::size_t most_connections);

/// Prints how to join: address, code, fingerprint, and on a terminal a QR code.
void announce(const ClassState& state);

}  // namespace copunctal
