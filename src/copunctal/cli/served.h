// What commands that serve pages have in common: the pages themselves and the set.
#pragma once

#include <filesystem>
#include <vector>

#include "copunctal/base/result.h"
#include "copunctal/cli/commands.h"
#include "copunctal/design/plate_set.h"
#include "copunctal/server/site.h"

namespace copunctal {

/// The pages that were taken into the program.
std::vector<EmbeddedFile> pages();

/// The set that the options name, or the default one, which is kept in the data directory and made
/// when it is missing. Errors: usage, bad_input, io.
Result<PlateSet> set_of(const ServeOptions& options, const std::filesystem::path& data);

}  // namespace copunctal
