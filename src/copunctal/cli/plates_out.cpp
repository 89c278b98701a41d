// `plates show` and `plates draw`: sets as figures, pictures and pages.
#include <filesystem>

#include "copunctal/app/debrief.h"
#include "copunctal/app/paper_process.h"
#include "copunctal/app/print_plates.h"
#include "copunctal/app/show_plates.h"
#include "copunctal/base/files.h"
#include "copunctal/base/text.h"
#include "copunctal/cli/commands.h"
#include "copunctal/cli/output.h"
#include "copunctal/cli/progress.h"
#include "copunctal/display/write_profile.h"
#include "copunctal/image/png.h"
#include "copunctal/plate/draw.h"
#include "copunctal/plate/svg.h"

namespace copunctal {
namespace {

namespace fs = std::filesystem;

Result<void> write_figure_file(const std::string& svg, const fs::path& out) {
  if (out.extension() == ".svg") return write_whole(svg, out);
  return print_pages(PaperKind::png, {svg}, out);
}

Result<void> show(const PlatesShowOptions& options) {
  COPUNCTAL_TRY(const PlateSet set, load_set(options.set));
  const fs::path out = options.out;
  if (out.extension() != ".svg" && out.extension() != ".png")
    return fail(Error::Kind::usage, out.string() + " is neither .svg nor .png", "file",
                out.string(), "end the name in .svg or .png");
  COPUNCTAL_TRY(const Display display,
                options.display.empty() ? display_of_set(set) : display_from(options.display));
  COPUNCTAL_TRY(const Observer observer, observer_from(options.observer));
  if (options.apart && options.plate.empty())
    return fail(Error::Kind::usage, "--apart takes one plate apart", "plate", "",
                "name it with --plate");
  if (!options.apart && options.observer != "normal")
    return fail(Error::Kind::usage, "--as goes with --apart", "observer", options.observer,
                "add --apart, or leave --as out: readers' rows hold every standard observer");
  COPUNCTAL_TRY_VOID(is_free(out, options.force));
  COPUNCTAL_TRY(const std::string svg, options.apart
                                           ? apart_svg(set, options.plate, observer, display)
                                           : readers_rows_svg(set, options.plate, display));
  return write_figure_file(svg, out);
}

Result<void> write_picture(const Plate& plate, const fs::path& out, const CodeLight& light,
                           const std::string& profile, const PlatesDrawOptions& options) {
  return options.bits == 16 ? write_png(draw_deep(plate, options.size_px, light), out, profile)
                            : write_png(draw(plate, options.size_px, light), out, profile);
}

Result<void> draw_pictures(const PlateSet& set, const Display& display, const fs::path& directory,
                           const PlatesDrawOptions& options) {
  const CodeLight light(display.curves);
  const std::string profile = profile_of(display);
  return write_directory(directory, [&](const fs::path& draft) -> Result<void> {
    for (const Plate& plate : set.plates)
      COPUNCTAL_TRY_VOID(
          write_picture(plate, draft / (plate.name + ".png"), light, profile, options));
    return {};
  });
}

Result<void> draw_one(const Plate& plate, const Display& display, const fs::path& out,
                      const PlatesDrawOptions& options) {
  if (out.extension() == ".svg")
    return write_whole(
        plate_svg(plate, options.size_px, "Plate " + plate.name,
                  std::string(basis_in_words(plate.kind)) + " " + std::string(intended_use())),
        out);
  return write_picture(plate, out, CodeLight(display.curves), profile_of(display), options);
}

Result<void> draw_pages(const PlateSet& set, const Display& display,
                        const std::vector<const Plate*>& plates, const fs::path& out,
                        const PlatesDrawOptions& options) {
  if (options.answer_sheet) return print_pages(PaperKind::pdf, answer_sheet(set), out);
  std::optional<std::vector<PrinterFit>> fits;
  if (!options.printer_profile.empty()) {
    COPUNCTAL_TRY(const std::string bytes, read_file(options.printer_profile));
    COPUNCTAL_TRY(fits, printer_fits(set, display, bytes, options.printer_profile));
  }
  return print_pages(PaperKind::pdf, plate_pages(set, plates, options.width_mm, fits), out);
}

Result<void> draw_set(const PlatesDrawOptions& options) {
  COPUNCTAL_TRY(const PlateSet set, load_set(options.set));
  COPUNCTAL_TRY(const Display display, display_of_set(set));
  const fs::path out = options.out;
  const std::string kind = out.extension();
  std::vector<const Plate*> plates;
  if (options.plate.empty()) {
    for (const Plate& plate : set.plates) plates.push_back(&plate);
  } else {
    COPUNCTAL_TRY(const Plate* plate, plate_named(set, options.plate));
    plates.push_back(plate);
  }
  if ((options.answer_sheet || !options.printer_profile.empty()) && kind != ".pdf")
    return fail(Error::Kind::usage, "answer sheets and printers' profiles go with a PDF", "file",
                out.string(), "end the name in .pdf");
  if (kind.empty()) {
    if (!options.plate.empty())
      return fail(Error::Kind::usage, "one plate needs the name of a file", "file", out.string(),
                  "end the name in .png, .svg or .pdf");
    return draw_pictures(set, display, out, options);
  }
  if (kind != ".pdf" && kind != ".svg" && kind != ".png")
    return fail(Error::Kind::usage, out.string() + " is neither .pdf, .svg nor .png", "file",
                out.string(), "end the name in .pdf, .svg or .png, or name a directory");
  if (kind != ".pdf" && options.plate.empty())
    return fail(Error::Kind::usage, "a " + kind.substr(1) + " holds one plate", "plate", "",
                "name it with --plate, or end the name in .pdf");
  COPUNCTAL_TRY_VOID(is_free(out, options.force));
  return kind == ".pdf" ? draw_pages(set, display, plates, out, options)
                        : draw_one(*plates.front(), display, out, options);
}

}  // namespace

int plates_show(const PlatesShowOptions& options) {
  if (const auto shown = show(options); !shown) return failed(shown.error());
  return 0;
}

int plates_draw(const PlatesDrawOptions& options) {
  if (const auto drawn = draw_set(options); !drawn) return failed(drawn.error());
  return 0;
}

}  // namespace copunctal
