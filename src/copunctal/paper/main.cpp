// copunctal-paper: pages of SVG from standard input to a PDF or a PNG file.
//
// A program of its own, so that the libraries that draw are loaded only when something is drawn.
// Input: for each page its length in bytes as a line, then the page. Usage:
//   copunctal-paper pdf OUT      pages of millimetres, each at its true size
//   copunctal-paper png OUT      one page, a pixel for each of its units
//   copunctal-paper picture ...  see image/decode_worker.h
// Says on standard error what is wrong; 0 when all was written.
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <iostream>
#include <memory>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include <cairo-pdf.h>
#include <cairo.h>
#include <librsvg/rsvg.h>

#include "copunctal/image/decode_worker.h"
#include "copunctal/paper/draw_svg.h"

namespace {

using copunctal::Owned;

int failed(const std::string& why) {
  std::fprintf(stderr, "copunctal-paper: %s\n", why.c_str());
  return 1;
}

std::vector<std::string> pages_from(std::istream& in) {
  std::vector<std::string> pages;
  std::string line;
  while (std::getline(in, line)) {
    const std::size_t length = std::strtoul(line.c_str(), nullptr, 10);
    std::string page(length, '\0');
    if (length == 0 || !in.read(page.data(), static_cast<std::streamsize>(length))) return {};
    pages.push_back(std::move(page));
  }
  return pages;
}

Owned<RsvgHandle> handle_of(const std::string& page) {
  return Owned<RsvgHandle>(rsvg_handle_new_from_data(reinterpret_cast<const guint8*>(page.data()),
                                                     page.size(), nullptr));
}

// The size of a page in its own units.
bool size_of(RsvgHandle* handle, double& width, double& height) {
  gboolean has_width = 0, has_height = 0, has_box = 0;
  RsvgLength w{}, h{};
  RsvgRectangle box{};
  rsvg_handle_get_intrinsic_dimensions(handle, &has_width, &w, &has_height, &h, &has_box, &box);
  width = box.width;
  height = box.height;
  return has_box != 0 && width > 0 && height > 0;
}

bool render(RsvgHandle* handle, cairo_t* context, double width, double height) {
  const RsvgRectangle whole{0, 0, width, height};
  return rsvg_handle_render_document(handle, context, &whole, nullptr) != 0;
}

// What a page says of itself to those who listen, in <title> or <desc>; empty: nothing.
std::string said(const std::string& page, std::string_view element) {
  const std::string open = "<" + std::string(element) + ">",
                    close = "</" + std::string(element) + ">";
  const std::size_t from = page.find(open), to = page.find(close);
  if (from == std::string::npos || to == std::string::npos || to < from) return {};
  std::string text = page.substr(from + open.size(), to - from - open.size());
  // The ampersand last: it begins the others.
  for (const auto& [written, meant] : {std::pair<std::string_view, const char*>{"&lt;", "<"},
                                       {"&gt;", ">"},
                                       {"&quot;", "\""},
                                       {"&amp;", "&"}})
    for (std::size_t at = 0; (at = text.find(written, at)) != std::string::npos; ++at)
      text.replace(at, written.size(), meant);
  return text;
}

int to_pdf(const std::vector<std::string>& pages, const char* out) {
  constexpr double points_per_mm = 72 / 25.4;
  const Owned<cairo_surface_t> surface(cairo_pdf_surface_create(out, 1, 1));
  // One page may say what it shows; of many the first speaks for none.
  const std::string title = pages.size() == 1 ? said(pages[0], "title") : "",
                    about = pages.size() == 1 ? said(pages[0], "desc") : "";
  cairo_pdf_surface_set_metadata(
      surface.get(), CAIRO_PDF_METADATA_TITLE,
      title.empty() ? "Plates for teaching and demonstration" : title.c_str());
  if (!about.empty())
    cairo_pdf_surface_set_metadata(surface.get(), CAIRO_PDF_METADATA_SUBJECT, about.c_str());
  // No date: the same pages give the same file.
  const Owned<cairo_t> context(cairo_create(surface.get()));
  for (const std::string& page : pages) {
    const auto handle = handle_of(page);
    double width = 0, height = 0;
    if (!handle || !size_of(handle.get(), width, height)) return failed("a page is no SVG");
    width *= points_per_mm;
    height *= points_per_mm;
    cairo_pdf_surface_set_size(surface.get(), width, height);
    if (!render(handle.get(), context.get(), width, height))
      return failed("a page cannot be drawn");
    cairo_show_page(context.get());
  }
  cairo_surface_finish(surface.get());
  const cairo_status_t status = cairo_surface_status(surface.get());
  return status == CAIRO_STATUS_SUCCESS ? 0 : failed(cairo_status_to_string(status));
}

int to_png(const std::string& page, const char* out) {
  const auto handle = handle_of(page);
  double width = 0, height = 0;
  if (!handle || !size_of(handle.get(), width, height)) return failed("the page is no SVG");
  const Owned<cairo_surface_t> surface(
      cairo_image_surface_create(CAIRO_FORMAT_RGB24, static_cast<int>(std::lround(width)),
                                 static_cast<int>(std::lround(height))));
  const Owned<cairo_t> context(cairo_create(surface.get()));
  if (!render(handle.get(), context.get(), width, height))
    return failed("the page cannot be drawn");
  const cairo_status_t status = cairo_surface_write_to_png(surface.get(), out);
  return status == CAIRO_STATUS_SUCCESS ? 0 : failed(cairo_status_to_string(status));
}

}  // namespace

int main(int argc, char** argv) {
  // An SVG as a picture for a reader of pictures, locked up but for fonts and libraries.
  if (argc > 1 && std::string_view(argv[1]) == "picture")
    return copunctal::decode_worker(
        argc - 1, argv + 1,
        {"/usr/share", "/usr/lib", "/lib", "/etc/fonts", "/var/cache/fontconfig"},
        [](const copunctal::PictureLimits& limits, int) {
          return copunctal::draw_svg(stdin, limits);
        });
  const std::vector<std::string_view> words(argv + 1, argv + argc);
  if (words.size() != 2 || (words[0] != "pdf" && words[0] != "png"))
    return failed("usage: copunctal-paper pdf|png OUT, pages on standard input");
  std::ios::sync_with_stdio(false);
  const std::vector<std::string> pages = pages_from(std::cin);
  if (pages.empty()) return failed("no whole page came in");
  return words[0] == "pdf" ? to_pdf(pages, argv[2]) : to_png(pages.front(), argv[2]);
}
