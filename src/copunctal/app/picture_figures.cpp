#include "copunctal/app/picture_figures.h"

#include <algorithm>
#include <filesystem>
#include <utility>

#include <fmt/format.h>

#include "copunctal/app/audit_view.h"
#include "copunctal/app/debrief.h"
#include "copunctal/app/moment_directory.h"
#include "copunctal/app/paper_process.h"
#include "copunctal/base/files.h"
#include "copunctal/base/text.h"
#include "copunctal/display/display.h"
#include "copunctal/display/write_profile.h"
#include "copunctal/image/png.h"
#include "copunctal/image/sandboxed.h"
#include "copunctal/observer/observer.h"
#include "copunctal/view/view_map.h"

namespace copunctal {
namespace {

constexpr std::array<std::pair<std::string_view, FigureAsked::What>, 5> kinds = {
    {{"view", FigureAsked::What::view},
     {"errors", FigureAsked::What::errors},
     {"strip", FigureAsked::What::strip},
     {"same", FigureAsked::What::same},
     {"curves", FigureAsked::What::curves}}};

constexpr int width = 1600, height = 900, margin = 60;
// Where pictures stand, two beside each other.
constexpr int panel_width = 720, panel_height = 560, panel_top = 100, second_panel = 820;

std::string base64(std::string_view bytes) {
  constexpr std::string_view letters =
      "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
  std::string text;
  for (std::size_t i = 0; i < bytes.size(); i += 3) {
    std::uint32_t group = 0;
    const std::size_t got = std::min<std::size_t>(3, bytes.size() - i);
    for (std::size_t k = 0; k < 3; ++k)
      group = group << 8 | (k < got ? static_cast<unsigned char>(bytes[i + k]) : 0U);
    for (std::size_t k = 0; k < 4; ++k)
      text += k <= got ? letters[group >> (18 - 6 * k) & 63] : '=';
  }
  return text;
}

// Pages carry pictures in themselves.
Result<std::string> png_in_text(const Picture& picture, const std::string& profile) {
  COPUNCTAL_TRY(const MomentDirectory scratch, MomentDirectory::make());
  const std::filesystem::path file = scratch.path() / "picture.png";
  COPUNCTAL_TRY_VOID(write_png(picture, file, profile));
  COPUNCTAL_TRY(const std::string bytes, read_file(file));
  return "data:image/png;base64," + base64(bytes);
}

struct Look {
  std::string paper, ink, quiet;
};
Look look_of(bool dark) {
  return dark ? Look{"#141414", "#f2f2f2", "#8c8c8c"} : Look{"#ffffff", "#141414", "#8c8c8c"};
}

std::string text_at(double x, double y, int size, std::string_view words, bool strong = false) {
  return fmt::format("<text x=\"{}\" y=\"{}\" font-size=\"{}\"{}>{}</text>\n", x, y, size,
                     strong ? " font-weight=\"bold\"" : "", xml_text(words));
}
// `down` from where pictures begin.
std::string picture_at(int x, int down, int wide, int high, const std::string& data,
                       std::string_view label) {
  return fmt::format(
             "<image x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" "
             "preserveAspectRatio=\"xMidYMid meet\" href=\"{}\"/>\n",
             x, panel_top + down, wide, high, data) +
         text_at(x, panel_top + down + high + 35, 24, label);
}
// One of two beside each other.
std::string panel(int x, const std::string& data, std::string_view label) {
  return picture_at(x, 0, panel_width, panel_height, data, label);
}

// What the kinds of figures differ in.
struct Content {
  std::string title, caption, body;
  std::vector<std::string> lines;  ///< Below the caption.
  bool has_picture = true;
};

struct Asked {
  const PictureDesk& desk;
  std::string_view id;
  const FigureAsked& figure;
  TakenPicture picture;
  Observer observer;
  Display display;
  Look look;
  std::string profile;

  std::string who() const { return name_of(observer); }
};

Result<Content> view_and_original(const Asked& asked) {
  COPUNCTAL_TRY(const ViewMap map, ViewMap::make(asked.observer, asked.display));
  COPUNCTAL_TRY(const auto both, asked.desk.compared(asked.id, asked.who(), {}));
  COPUNCTAL_TRY(const std::string before, png_in_text(*both->original, asked.profile));
  COPUNCTAL_TRY(const std::string after, png_in_text(*both->view, asked.profile));
  Content content;
  content.title = "The same picture as " + asked.who() + " gets it";
  content.caption = fmt::format("Left: original. Right: as {} gets it, method {}; {}.", asked.who(),
                                name_of(map.method()), audit_words(both->audit));
  content.body = panel(margin, before, "original") +
                 panel(second_panel, after, "as " + asked.who() + " gets it");
  content.lines = {"The number says " + std::string(audit_claim(asked.observer)) + "."};
  return content;
}

Result<Content> where_it_errs(const Asked& asked) {
  const std::string& other = asked.figure.view;
  COPUNCTAL_TRY(const auto both, asked.desk.compared(asked.id, asked.who(), other));
  COPUNCTAL_TRY(const std::string view, png_in_text(*both->view, asked.profile));
  const Picture map = heat_map(both->errors, both->original->width, both->original->height);
  COPUNCTAL_TRY(const std::string errors, png_in_text(map, {}));
  const std::string whose = other.empty() ? "our view" : "another's view";
  Content content;
  content.title = fmt::format("Where {} for {} errs", whose, asked.who());
  content.caption = fmt::format(
      "Left: {}. Right: its error, greys from 0, .5, 1, 2, 5 and 10 on, darker the larger; {}.",
      whose, audit_words(both->audit));
  content.body =
      panel(margin, view, whose) + panel(second_panel, errors, "its error, reduced CIEDE2000");
  content.lines = {"The number says " + std::string(audit_claim(asked.observer)) + "."};
  return content;
}

Result<Content> strip(const Asked& asked) {
  const std::string kind = asked.observer.kind == ObserverKind::deutan ? "deutan" : "protan";
  constexpr std::array<int, 5> separations = {28, 20, 10, 5, 0};
  constexpr int wide = 280, apart = 300;
  const Picture& original = *asked.picture.preview;
  const int high = std::clamp(wide * original.height / std::max(1, original.width), 20, 500);
  Content content;
  int x = margin;
  for (const int nm : separations) {
    COPUNCTAL_TRY(const Picture seen, asked.desk.view(asked.id, fmt::format("{}:{}", kind, nm)));
    COPUNCTAL_TRY(const std::string data, png_in_text(seen, asked.profile));
    content.body +=
        picture_at(x, (panel_height - high) / 2, wide, high, data, fmt::format("{} nm", nm));
    x += apart;
  }
  content.title = "From a normal eye to a " + kind + " dichromat";
  content.caption =
      "The same picture with the peaks of the two long-wave pigments 28 nm apart, as of a normal "
      "observer, then 20, 10, 5 and 0 nm.";
  content.lines = {"Methods: cone substitution down to 5 nm, the plane at 0 nm."};
  return content;
}

// The picture with numbered rings where colours were picked.
std::string picked_on(const Asked& asked, const std::string& data) {
  const Picture& picture = *asked.picture.preview;
  const double scale = std::min(panel_width / static_cast<double>(picture.width),
                                panel_height / static_cast<double>(picture.height)),
               left = margin + (panel_width - scale * picture.width) / 2,
               top = panel_top + (panel_height - scale * picture.height) / 2;
  std::string body = panel(margin, data, "original");
  int number = 1;
  for (const auto& [x, y] : asked.figure.picked) {
    const double at_x = left + scale * (x + 0.5), at_y = top + scale * (y + 0.5);
    body += fmt::format(
        "<circle cx=\"{:.1f}\" cy=\"{:.1f}\" r=\"15\" fill=\"#fff\" stroke=\"#000\" "
        "stroke-width=\"3\"/>\n<text x=\"{:.1f}\" y=\"{:.1f}\" font-size=\"20\" "
        "font-weight=\"bold\" text-anchor=\"middle\" fill=\"#000\">{}</text>\n",
        at_x, at_y, at_x, at_y + 7, number++);
  }
  return body;
}

// Black and white strokes over what is marked: they stand on any colour.
Picture hatched(const Picture& original, const std::vector<std::uint8_t>& mask) {
  Picture picture = original.clone();
  const auto wide = static_cast<std::size_t>(picture.width);
  const std::size_t step = std::max<std::size_t>(6, (wide + 45) / 90);
  for (std::size_t i = 0; i < mask.size(); ++i) {
    const std::size_t place = (i % wide + i / wide) % step;
    if (mask[i] == 0 || 2 * place >= step) continue;
    std::fill_n(&picture.rgb[3 * i], 3, static_cast<std::uint8_t>(4 * place < step ? 0 : 255));
  }
  return picture;
}

Result<Content> same_for_whom(const Asked& asked) {
  const Picture& picture = *asked.picture.preview;
  const auto& picked = asked.figure.picked;
  if (picked.empty() || picked.size() > 2)
    return fail(Error::Kind::usage, "no colour was picked", "at", "", "pick one or two pixels");
  std::vector<Code> codes;
  for (const auto& [x, y] : picked) {
    COPUNCTAL_TRY(const Code code, code_at(picture, x, y));
    codes.push_back(code);
  }
  const auto in_words = [](const Code& code) {
    return fmt::format("{}, {}, {}", code[0], code[1], code[2]);
  };
  COPUNCTAL_TRY(const std::string before, png_in_text(picture, asked.profile));
  Content content;
  content.body = picked_on(asked, before);
  content.lines = {
      "Thresholds are design constants: 1 % of luminance, .6 % of L against M, 5 % of S against L. "
      "Nobody was measured."};
  if (codes.size() == 1) {
    COPUNCTAL_TRY(const SameForWhom same,
                  asked.desk.same(asked.id, asked.who(), picked[0][0], picked[0][1]));
    COPUNCTAL_TRY(const std::string after, png_in_text(hatched(picture, same.mask), asked.profile));
    content.title = "What " + asked.who() + " cannot tell from colour 1";
    content.caption = fmt::format(
        "Hatched on the right: {:.1f} % of the picture is the same to {} as colour 1 "
        "(codes {}).",
        100 * same.share, asked.who(), in_words(codes[0]));
    content.body += panel(second_panel, after, "hatched: the same as colour 1");
    return content;
  }
  COPUNCTAL_TRY(const auto all, apart_for_all(codes[0], codes[1], asked.display.name));
  content.title = "Two colours: for whom they are apart";
  content.caption = fmt::format("Colour 1 has the codes {}, colour 2 the codes {}.",
                                in_words(codes[0]), in_words(codes[1]));
  constexpr int line = 46, words_at = 1150, number_at = 1120;
  int y = panel_top + 30;
  content.body += text_at(second_panel, y, 22, "observer", true) +
                  text_at(number_at - 90, y, 22, "thresholds apart", true);
  for (const ApartFor& one : all) {
    y += line;
    content.body += text_at(second_panel, y, 24, one.observer) +
                    fmt::format(
                        "<text x=\"{}\" y=\"{}\" font-size=\"24\" "
                        "text-anchor=\"end\">{:.1f}</text>\n",
                        number_at, y, one.distance) +
                    text_at(words_at, y, 24, apart_words(one.distance));
    content.caption += fmt::format(" {}: {:.1f}.", one.observer, one.distance);
  }
  return content;
}

Result<Content> curves(const Asked& asked) {
  Observer usual;
  usual.age = asked.observer.age;
  usual.field = asked.observer.field;
  const Fundamentals theirs = fundamentals_of(asked.observer), normal = fundamentals_of(usual);
  constexpr double left = 110, right = 1540, top = 130, bottom = 640, low_nm = 390, high_nm = 730;
  const auto across = [](double nm) {
    return left + (nm - low_nm) / (high_nm - low_nm) * (right - left);
  };
  const auto up = [](double value) { return bottom - value * (bottom - top); };
  const auto path = [&](const EnergySensitivity& curve, std::string_view stroke) {
    std::string d;
    for (std::size_t i = 0; i < spectrum_size; ++i)
      if (nm_at(i) >= low_nm && nm_at(i) <= high_nm)
        d += fmt::format("{}{:.1f} {:.1f}", d.empty() ? "M" : "L", across(nm_at(i)), up(curve[i]));
    return fmt::format("<path d=\"{}\" fill=\"none\" {}/>\n", d, stroke);
  };
  Content content;
  content.has_picture = false;
  content.title = "The cone curves of " + asked.who();
  const bool has_one = is_monochromat(asked.observer);
  content.caption = fmt::format(
      "Sensitivity to energy over wavelength, each curve's highest value 1: {}. Thin: a normal "
      "observer of the same age and field.",
      has_one ? "the one this eye sees with" : "L solid, M dashed, S dotted");
  content.body = fmt::format("<path d=\"M{0} {1}H{2}\" stroke=\"{3}\" stroke-width=\"2\"/>\n", left,
                             bottom, right, asked.look.ink);
  for (int nm = 400; nm <= 700; nm += 50)
    content.body += fmt::format(
        "<path d=\"M{0} {1}v8\" stroke=\"{2}\" stroke-width=\"2\"/>\n<text x=\"{0}\" y=\"{3}\" "
        "font-size=\"22\" text-anchor=\"middle\">{4}</text>\n",
        across(nm), bottom, asked.look.ink, bottom + 36, nm);
  content.body += text_at(right - 20, bottom + 36, 22, "nm");
  const std::array<const EnergySensitivity*, 3> drawn = {&theirs.l, &theirs.m, &theirs.s},
                                                thin = {&normal.l, &normal.m, &normal.s};
  constexpr std::array<std::string_view, 3> dashes = {"", R"( stroke-dasharray="18 8")",
                                                      R"( stroke-dasharray="3 9")"};
  constexpr std::array<std::string_view, 3> letters = {"L", "M", "S"};
  for (std::size_t c = 0; c < 3; ++c)
    content.body +=
        path(*thin[c], fmt::format(R"(stroke="{}" stroke-width="1.5")", asked.look.quiet));
  for (std::size_t c = 0; c < (has_one ? 1 : 3); ++c) {
    content.body +=
        path(*drawn[c], fmt::format(R"(stroke="{}" stroke-width="4" stroke-linecap="round"{})",
                                    asked.look.ink, dashes[c]));
    const auto& values = drawn[c]->values;
    const auto* const highest = std::max_element(values.begin(), values.end());
    // One that is missing has no curve to be named.
    if (has_one || !(*highest > 0)) continue;
    const double nm = nm_at(static_cast<std::size_t>(highest - values.begin()));
    // L and M may stand in the same place.
    content.body += text_at(across(nm) + (c == 0   ? 8
                                          : c == 1 ? -28
                                                   : -8),
                            top - 10, 28, letters[c], true);
  }
  return content;
}

Result<Content> content_of(const Asked& asked) {
  switch (asked.figure.what) {
    case FigureAsked::What::errors:
      return where_it_errs(asked);
    case FigureAsked::What::strip:
      return strip(asked);
    case FigureAsked::What::same:
      return same_for_whom(asked);
    case FigureAsked::What::curves:
      return curves(asked);
    default:
      return view_and_original(asked);
  }
}

}  // namespace

Result<FigureAsked::What> figure_named(std::string_view name) {
  for (const auto& [known, what] : kinds)
    if (known == name) return what;
  return fail(Error::Kind::usage, "there is no figure '" + std::string(name) + "'", "what",
              std::string(name), "ask for view, errors, strip, same or curves");
}

Result<PictureFigure> picture_figure(const PictureDesk& desk, std::string_view id,
                                     const FigureAsked& figure) {
  COPUNCTAL_TRY(TakenPicture picture, desk.picture(id));
  COPUNCTAL_TRY(const Observer observer, observer_from(figure.observer));
  COPUNCTAL_TRY(Display display, named_display(picture.display));
  const std::string profile = profile_of(display);
  const Asked asked{
      desk,   id, figure, std::move(picture), observer, std::move(display), look_of(figure.dark),
      profile};
  COPUNCTAL_TRY(const Content content, content_of(asked));
  std::string body = fmt::format(
                         "<rect width=\"{}\" height=\"{}\" fill=\"{}\"/>\n"
                         "<g fill=\"{}\" font-family=\"sans-serif\">\n",
                         width, height, asked.look.paper, asked.look.ink) +
                     text_at(margin, 70, 34, content.title, true) + content.body;
  std::vector<std::string> lines = {content.caption};
  lines.insert(lines.end(), content.lines.begin(), content.lines.end());
  lines.push_back("Display " + asked.display.name + ": " + asked.display.status + ".");
  lines.push_back(
      "Cones: CIE 170-1:2006. Sources: copunctal sources. The figure's drawing is free to reuse "
      "(CC0)" +
      std::string(content.has_picture ? "; the picture in it is its maker's." : "."));
  lines.emplace_back(intended_use());
  int y = 740;
  for (const std::string& line : lines)
    for (const std::string& part : wrapped(line, 150)) {
      body += text_at(margin, y, 18, part);
      y += 23;
    }
  return PictureFigure{content.title, content.caption, body + "</g>\n", profile};
}

Result<std::string> figure_file(const PictureFigure& figure, std::string_view kind) {
  // A page's units are millimetres.
  constexpr int page_width = 320;
  const bool is_page = kind == "pdf";
  const int wide = is_page ? page_width : width, high = wide * height / width;
  const std::string svg = fmt::format(
      "<svg xmlns=\"http://www.w3.org/2000/svg\" role=\"img\" viewBox=\"0 0 {0} {1}\" "
      "width=\"{0}{2}\" height=\"{1}{2}\">\n<title>{3}</title>\n<desc>{4}</desc>\n"
      "<g transform=\"scale({5})\">\n{6}</g>\n</svg>\n",
      wide, high, is_page ? "mm" : "", xml_text(figure.title), xml_text(figure.words),
      static_cast<double>(wide) / width, figure.drawing);
  if (kind == "svg") return svg;
  if (is_page) return printed(PaperKind::pdf, {svg});
  COPUNCTAL_TRY(const MomentDirectory scratch, MomentDirectory::make());
  const std::filesystem::path drawn = scratch.path() / "drawn.png",
                              file = scratch.path() / "out.png";
  COPUNCTAL_TRY_VOID(print_pages(PaperKind::png, {svg}, drawn));
  OpenOptions ours;
  ours.trusted = true;
  COPUNCTAL_TRY(const Picture picture, read_picture(drawn, ours));
  const std::array<PngText, 3> texts = {{{"Title", figure.title},
                                         {"Description", figure.words},
                                         {"Disclaimer", std::string(intended_use())}}};
  COPUNCTAL_TRY_VOID(write_png(picture, file, figure.profile, texts));
  return read_file(file);
}

}  // namespace copunctal
