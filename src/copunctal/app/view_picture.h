// Makes and audits views of picture files.
#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "copunctal/base/result.h"
#include "copunctal/view/audit.h"
#include "copunctal/view/view_map.h"

namespace copunctal {

struct ViewReport {
  std::string observer, display, method;
  int width = 0, height = 0;
  double share_out_of_range = 0;     ///< Pixels whose exact colour the display cannot show.
  std::optional<AuditResult> error;  ///< Of what was written.
  std::vector<std::string> notes;
};

/// Writes a PNG as another observer gets it, and audits what was written. Errors as in image/png.h
/// and view/view_map.h; nothing is left half-written.
Result<ViewReport> view_picture(const std::filesystem::path& in, const std::filesystem::path& out,
                                const Observer& observer, const Display& display,
                                std::optional<ViewMethod> method);

}  // namespace copunctal
