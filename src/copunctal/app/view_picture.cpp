#include "copunctal/app/view_picture.h"

#include <algorithm>

#include "copunctal/app/audit_view.h"
#include "copunctal/image/png.h"

namespace copunctal {

Result<ViewReport> view_picture(const std::filesystem::path& in, const std::filesystem::path& out,
                                const Observer& observer, const Display& display,
                                std::optional<ViewMethod> method) {
  COPUNCTAL_TRY(ViewMap map, ViewMap::make(observer, display, method));
  COPUNCTAL_TRY(const PngHeader header,
                transform_png(in, out, [&](std::span<std::uint8_t> row) { map.apply(row); }));
  ViewReport report;
  report.observer = name_of(observer);
  report.display = display.name;
  report.method = name_of(map.method());
  report.width = header.width;
  report.height = header.height;
  report.share_out_of_range = map.share_out_of_range();
  report.notes = notes_on(observer);
  report.notes.emplace_back("display " + display.name + ": " + display.status);
  if (header.has_profile)
    report.notes.emplace_back(
        "the picture's embedded colour profile was not applied; codes were taken as the display's");
  if (header.has_alpha) report.notes.emplace_back("transparency was kept as it is");
  const bool same_file = std::filesystem::equivalent(in, out);
  if (!same_file)
    if (auto error = audit_view(in, out, observer, display)) report.error = *error;
  return report;
}

}  // namespace copunctal
