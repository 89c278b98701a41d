// `view` and `audit`: pictures as other observers get them, and how far that is from the truth.
#include <algorithm>
#include <chrono>
#include <filesystem>
#include <memory>
#include <set>

#include <glob.h>
#include <unistd.h>
#include <nlohmann/json.hpp>

#include "copunctal/app/audit_view.h"
#include "copunctal/app/debrief.h"
#include "copunctal/app/view_picture.h"
#include "copunctal/base/text.h"
#include "copunctal/cli/commands.h"
#include "copunctal/cli/output.h"
#include "copunctal/cli/progress.h"
#include "copunctal/display/display.h"
#include "copunctal/image/picture_sink.h"
#include "copunctal/image/sandboxed.h"

namespace copunctal {
namespace {

namespace fs = std::filesystem;
using Json = nlohmann::ordered_json;

// What the words name: files as they are, the pictures of a directory, and what a pattern finds.
Result<std::vector<fs::path>> pictures_named(const std::vector<std::string>& words) {
  std::vector<fs::path> all;
  for (const std::string& word : words) {
    std::error_code error;
    std::vector<fs::path> found;
    if (fs::is_directory(word, error)) {
      for (const auto& entry : fs::directory_iterator(word, error))
        if (entry.is_regular_file(error) &&
            (format_for(entry.path()) || entry.path().extension() == ".svg"))
          found.push_back(entry.path());
      std::sort(found.begin(), found.end());
      if (found.empty())
        return fail(Error::Kind::bad_input, word + ": holds no pictures", "input", word,
                    "name a directory with PNG, JPEG, TIFF, WebP or SVG files");
    } else if (!fs::exists(word, error) && word.find_first_of("*?[") != std::string::npos) {
      glob_t matches{};
      if (glob(word.c_str(), 0, nullptr, &matches) == 0)
        found.assign(matches.gl_pathv, matches.gl_pathv + matches.gl_pathc);
      globfree(&matches);
      if (found.empty())
        return fail(Error::Kind::bad_input, word + ": matches no file", "input", word,
                    "name files that exist");
    } else {
      found.emplace_back(word);
    }
    all.insert(all.end(), found.begin(), found.end());
  }
  return all;
}

// The bar of a picture that takes more than a second; nothing for others, and none but on a
// terminal.
std::function<void(std::size_t, std::size_t)> slow_progress(const std::string& title) {
  if (isatty(STDERR_FILENO) != 1) return {};
  const auto begun = std::chrono::steady_clock::now();
  auto drawn = std::make_shared<bool>(false);
  return [bar = progress_bar(title), begun, drawn](std::size_t done, std::size_t of) {
    *drawn = *drawn || std::chrono::steady_clock::now() - begun > std::chrono::seconds(1);
    if (*drawn) bar(done, of);
  };
}

// A TIFF's other pages get names of their own: "view-page-2.tif".
fs::path page_beside(const fs::path& out, int page) {
  if (page == 0) return out;
  fs::path beside = out;
  beside.replace_filename(out.stem().string() + "-page-" + std::to_string(page + 1) +
                          out.extension().string());
  return beside;
}

struct Planned {
  fs::path in, out;
  int page = 0;
};

// Every picture that is to be written, or why one cannot be, before any is.
Result<std::vector<Planned>> planned(const ViewOptions& options) {
  COPUNCTAL_TRY(const auto pictures, pictures_named(options.in));
  std::error_code ignored;
  const bool into_directory = fs::is_directory(options.out, ignored);
  if (pictures.size() > 1 && !into_directory)
    return fail(Error::Kind::usage, options.out + " is not a directory", "output", options.out,
                "name an existing directory for several pictures");
  if (!into_directory) {
    COPUNCTAL_TRY_VOID(format_for(options.out));
  }
  std::vector<Planned> plan;
  std::set<fs::path> taken;
  for (const fs::path& in : pictures) {
    int pages = 1;
    if (options.all_pages) {
      COPUNCTAL_TRY(const auto source, open_picture(in, {.trusted = options.trusted}));
      pages = source->header().pages;
    }
    fs::path out = options.out;
    if (into_directory) {
      // The same name, but what is drawn from an SVG is a PNG; two of one name are told apart.
      const std::string ending = format_for(in) ? in.extension().string() : ".png";
      out = fs::path(options.out) / in.stem().concat(ending);
      for (int n = 2; taken.contains(out); ++n)
        out =
            fs::path(options.out) / fs::path(in.stem().string() + "-" + std::to_string(n) + ending);
    }
    for (int page = 0; page < pages; ++page) {
      const fs::path of_page = page_beside(out, page);
      for (const fs::path& one : {of_page, options.exact ? original_beside(of_page) : of_page}) {
        if (fs::exists(one, ignored) && fs::equivalent(one, in, ignored))
          return fail(Error::Kind::usage, one.string() + ": is the original itself", "output",
                      one.string(), "choose another name or directory");
        COPUNCTAL_TRY_VOID(is_free(one, options.force));
        taken.insert(one);
      }
      plan.push_back({in, of_page, page});
    }
  }
  return plan;
}

Json json_of(const ViewReport& report, const Observer& observer, const Display& display) {
  return {{"in", report.in.string()},
          {"out", report.out.string()},
          {"compressed_original",
           report.compressed.empty() ? Json(nullptr) : Json(report.compressed.string())},
          {"observer", report.observer},
          {"display", report.display},
          {"method", report.method},
          {"width", report.width},
          {"height", report.height},
          {"bits", report.bits},
          {"pages", report.pages},
          {"share_out_of_range", report.share_out_of_range},
          {"error", Json::parse(audit_json(report.error, observer, display, report.method, {}))},
          {"notes", report.notes}};
}

}  // namespace

int view_command(const ViewOptions& options) {
  const auto observer = observer_from(options.observer);
  if (!observer) return failed(observer.error());
  const auto display = display_from(options.display);
  if (!display) return failed(display.error());
  std::optional<ViewMethod> method;
  if (options.method) {
    const auto named = view_method_from(*options.method);
    if (!named) return failed(named.error());
    method = *named;
  }
  const auto plan = planned(options);
  if (!plan) return failed(plan.error());
  Json reports = Json::array();
  for (const Planned& one : *plan) {
    const auto report = view_picture({.in = one.in,
                                      .out = one.out,
                                      .method = method,
                                      .exact = options.exact,
                                      .trusted = options.trusted,
                                      .page = one.page,
                                      .progress = slow_progress("Drawing " + one.out.string())},
                                     *observer, *display);
    if (!report) return failed(report.error());
    if (options.json) {
      reports.push_back(json_of(*report, *observer, *display));
      continue;
    }
    say(one.in.string() + " as " + report->observer + " gets it: " + one.out.string() +
        " (method " + report->method + ", " + decimals(100 * report->share_out_of_range, 1) +
        " % of pixels out of the display's range)");
    if (!report->compressed.empty())
      say("  to be compared with " + report->compressed.string() + ", the original compressed");
    say("  " + audit_words(report->error));
    for (const std::string& note : report->notes) say("  " + note);
    if (report->pages > 1 && !options.all_pages)
      say("  the other pages were left; --all-pages draws them too");
  }
  if (options.json)
    print(Json{{"views", reports}, {"intended_use", intended_use()}}.dump(1) + "\n");
  else
    say(std::string(intended_use()));
  return 0;
}

int audit_command(const AuditOptions& options) {
  const auto observer = observer_from(options.observer);
  if (!observer) return failed(observer.error());
  const auto display = display_from(options.display);
  if (!display) return failed(display.error());
  const bool of_pictures = !options.original.empty() && !options.view.empty();
  if (of_pictures == options.method.has_value() || (!of_pictures && !options.original.empty()))
    return failed({Error::Kind::usage, "an audit is of two pictures or of a method", "audit", "",
                   "give ORIGINAL and VIEW, or --method M"});
  if (!options.map.empty() && !of_pictures)
    return failed({Error::Kind::usage, "a map is of two pictures", "--map", options.map,
                   "leave --map out with --method"});
  if (!options.map.empty()) {
    if (const auto free = is_free(options.map, options.force); !free) return failed(free.error());
  }
  const auto result = of_pictures
                          ? audit_view(options.original, options.view, *observer, *display,
                                       options.map, options.trusted)
                          : audit_method(*options.method, *observer, *display, options.grid);
  if (!result) return failed(result.error());
  const bool above = options.fail_above && result->reduced.mean > *options.fail_above;
  print(options.json ? audit_json(*result, *observer, *display, options.method.value_or(""), above)
                     : audit_text(*result, *observer, *display));
  return above ? 1 : 0;
}

}  // namespace copunctal
