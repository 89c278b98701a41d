// Makes views of picture files.
#pragma once

#include <filesystem>
#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "copunctal/base/result.h"
#include "copunctal/view/audit.h"
#include "copunctal/view/view_map.h"

namespace copunctal {

struct ViewJob {
  std::filesystem::path in, out;
  std::optional<ViewMethod> method = {};
  /// Compress the original so that the match is exact, and write it as OUT's stem + "-original".
  bool exact = false;
  bool trusted = false;  ///< Decode in this process (image/sandboxed.h).
  int page = 0;
  std::function<void(std::size_t done, std::size_t of)> progress = {};  ///< Rows.
};

struct ViewReport {
  std::string observer, display, method;
  std::filesystem::path in, out, compressed;  ///< The last is empty but for exact views.
  int width = 0, height = 0, bits = 8, pages = 1;
  double share_out_of_range = 0;  ///< Pixels whose exact colour the display cannot show.
  AuditResult error;              ///< On the pixels audited: of large pictures some 4,000.
  std::vector<std::string> notes;
};

/// Writes a picture as another observer gets it, in strips, and audits it on the way, before
/// whatever a lossy format does to it. The embedded profile is turned into the display's, which is
/// embedded; alpha and, where the format can, 16 bits and orientation are kept. Errors as in
/// image/sandboxed.h, image/picture_sink.h and view/view_map.h; nothing is left half-written.
Result<ViewReport> view_picture(const ViewJob& job, const Observer& observer,
                                const Display& display);

/// Where an exact view's original goes: "view.png" gives "view-original.png".
std::filesystem::path original_beside(const std::filesystem::path& out);

}  // namespace copunctal
