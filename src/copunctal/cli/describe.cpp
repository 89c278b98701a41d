#include <cstdio>

#include "copunctal/app/describe_display.h"
#include "copunctal/app/describe_observer.h"
#include "copunctal/app/plot_observer.h"
#include "copunctal/cli/commands.h"
#include "copunctal/cli/output.h"

namespace copunctal {
namespace {

/// Writes a figure beside its final name first, so that no half of one is ever left.
Result<void> write_figure(const std::string& svg, const std::string& file, bool force) {
  if (!file.ends_with(".svg"))
    return fail(Error::Kind::usage, file + ": figures are SVG", "figure", file,
                "name the output .svg");
  COPUNCTAL_TRY_VOID(is_free(file, force));
  return write_whole(svg, file);
}

/// Prints the description and writes its figure, if one is asked for.
template <class Description>
int tell(const Description& description, const std::string& svg, const std::string& plot,
         bool force, bool json) {
  if (!plot.empty())
    if (const auto written = write_figure(svg, plot, force); !written)
      return failed(written.error());
  print(json ? description_json(description) : description_text(description));
  return 0;
}

}  // namespace

Result<void> plot_observer(const ObserverOptions& options, const Observer& observer) {
  if (options.plot.empty()) return {};
  COPUNCTAL_TRY(const Display display, display_from(options.display));
  return write_figure(plot_svg(describe_observer(observer, display), options.individuals),
                      options.plot, options.force);
}

int observer_describe(const ObserverOptions& options) {
  const auto observer = observer_of(options);
  if (!observer) return failed(observer.error());
  const auto display = display_from(options.display);
  if (!display) return failed(display.error());
  const ObserverDescription description = describe_observer(*observer, *display);
  return tell(description, options.plot.empty() ? "" : plot_svg(description, options.individuals),
              options.plot, options.force, options.json);
}

int display_describe(const DisplayDescribeOptions& options) {
  const auto display = display_from(options.display);
  if (!display) return failed(display.error());
  const DisplayDescription description = describe_display(*display);
  return tell(description, options.plot.empty() ? "" : plot_svg(description), options.plot,
              options.force, options.json);
}

}  // namespace copunctal
