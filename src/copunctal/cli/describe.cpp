#include <cstdio>
#include <filesystem>

#include "copunctal/app/describe_display.h"
#include "copunctal/app/describe_observer.h"
#include "copunctal/app/plot_observer.h"
#include "copunctal/base/files.h"
#include "copunctal/cli/commands.h"
#include "copunctal/cli/output.h"

namespace copunctal {
namespace {

namespace fs = std::filesystem;

/// Writes a figure beside its final name first, so that no half of one is ever left.
Result<void> write_figure(const std::string& svg, const std::string& file, bool force) {
  std::error_code error;
  if (!file.ends_with(".svg"))
    return fail(Error::Kind::usage, file + ": figures are SVG", "figure", file,
                "name the output .svg");
  if (fs::exists(file, error) && !force)
    return fail(Error::Kind::bad_input, file + ": exists already", "figure", file,
                "choose another name, or add --force");
  const std::string part = file + ".part";
  if (auto written = write_file(svg, part); !written) {
    fs::remove(part, error);
    return written;
  }
  fs::rename(part, file, error);
  if (error) {
    fs::remove(part, error);
    return fail(Error::Kind::io, file + ": cannot be written", "figure", file,
                "check the directory and its permissions");
  }
  return {};
}

/// Prints the description and writes its figure, if one is asked for.
template <class Description>
int tell(const Description& description, const std::string& plot, bool force, bool json) {
  if (!plot.empty())
    if (const auto written = write_figure(plot_svg(description), plot, force); !written)
      return failed(written.error());
  print(json ? description_json(description) : description_text(description));
  return 0;
}

}  // namespace

Result<void> plot_observer(const ObserverOptions& options, const Observer& observer) {
  if (options.plot.empty()) return {};
  COPUNCTAL_TRY(const Display display, display_from(options.display));
  return write_figure(plot_svg(describe_observer(observer, display)), options.plot, options.force);
}

int observer_describe(const ObserverOptions& options) {
  const auto observer = observer_of(options);
  if (!observer) return failed(observer.error());
  const auto display = display_from(options.display);
  if (!display) return failed(display.error());
  return tell(describe_observer(*observer, *display), options.plot, options.force, options.json);
}

int display_describe(const DisplayDescribeOptions& options) {
  const auto display = display_from(options.display);
  if (!display) return failed(display.error());
  return tell(describe_display(*display), options.plot, options.force, options.json);
}

}  // namespace copunctal
