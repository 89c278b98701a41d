// Runs copunctal-paper, which turns pages of SVG into a PDF or a PNG.
#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "copunctal/base/result.h"

namespace copunctal {

enum class PaperKind { pdf, png };

/// Writes the pages to a file, beside it first, then renamed. A PNG takes one page. Error: io, with
/// what the program said, or where it should lie: beside this one.
Result<void> print_pages(PaperKind kind, const std::vector<std::string>& pages,
                         const std::filesystem::path& out);
/// The same as bytes.
Result<std::string> printed(PaperKind kind, const std::vector<std::string>& pages);

}  // namespace copunctal
