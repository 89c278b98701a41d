// Audits views of picture files, and ways to make them.
#pragma once

#include <filesystem>
#include <optional>
#include <span>
#include <string>
#include <string_view>

#include "copunctal/base/result.h"
#include "copunctal/display/display.h"
#include "copunctal/image/picture.h"
#include "copunctal/view/audit.h"

namespace copunctal {

/// Audits a view made by whatever means, row by row, in the display's codes, of 16 bits where one
/// of the pictures has them; with `map`, also writes where it errs, as heat_map() draws it. Errors:
/// bad_input for pictures that cannot be read or differ in size, io for a map that cannot be
/// written.
Result<AuditResult> audit_view(const std::filesystem::path& original,
                               const std::filesystem::path& view, const Observer& observer,
                               const Display& display, const std::filesystem::path& map = {},
                               bool trusted = false);

/// Reduced CIEDE2000 per pixel as greys, darker the larger, in six classes that begin at 0, .5, 1,
/// 2, 5 and 10; below, a legend with the greys and these numbers. expects width x height errors.
Picture heat_map(std::span<const float> errors, int width, int height);

/// {"reduced_de00":{"mean","p95","max"},...}: docs/commands.md.
std::string audit_json(const AuditResult& audit, const Observer& observer, const Display& display,
                       std::string_view method, std::optional<bool> above_limit);
/// The headline in one line, and all of it for people.
std::string audit_words(const AuditResult& audit);
std::string audit_text(const AuditResult& audit, const Observer& observer, const Display& display);

/// What the audit's numbers claim for an observer, and what they do not.
std::string_view audit_claim(const Observer& observer);

}  // namespace copunctal
