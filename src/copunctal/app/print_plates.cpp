#include "copunctal/app/print_plates.h"

#include <algorithm>
#include <array>
#include <memory>
#include <set>

#include <fmt/format.h>
#include <lcms2.h>

#include "copunctal/app/debrief.h"
#include "copunctal/base/expects.h"
#include "copunctal/base/text.h"
#include "copunctal/colour/difference.h"
#include "copunctal/display/write_profile.h"
#include "copunctal/plate/svg.h"

namespace copunctal {
namespace {

constexpr double margin_mm = 20;

std::string text_mm(double x, double y, double size, std::string_view words,
                    std::string_view more = "") {
  return fmt::format("<text x=\"{:.2f}\" y=\"{:.2f}\" font-size=\"{:.2f}\"{}>{}</text>\n", x, y,
                     size, more, xml_text(words));
}

std::string paper(std::string_view title, const std::string& body) {
  return fmt::format(
      "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {0} {1}\" width=\"{0}mm\" "
      "height=\"{1}mm\" font-family=\"sans-serif\">\n<title>{2}</title>\n"
      "<rect width=\"{0}\" height=\"{1}\" fill=\"#fff\"/>\n{3}</svg>\n",
      paper_width_mm, paper_height_mm, xml_text(title), body);
}

// A line of 100 mm with a tick every 10.
std::string ruler(double y) {
  std::string svg =
      fmt::format("<path d=\"M{} {}h100\" stroke=\"#000\" stroke-width=\".3\"/>\n", margin_mm, y);
  for (int tick = 0; tick <= 10; ++tick)
    svg += fmt::format("<path d=\"M{} {}v{}\" stroke=\"#000\" stroke-width=\".3\"/>\n",
                       margin_mm + 10 * tick, y, tick % 5 == 0 ? -4 : -2);
  return svg +
         text_mm(margin_mm, y + 5, 3.2,
                 "This line is 100 mm long. Measure it: if it is not, print without scaling.");
}

std::string paragraph(double& y, double size, const std::string& words) {
  std::string svg;
  for (const std::string& line :
       wrapped(words, static_cast<std::size_t>((paper_width_mm - 2 * margin_mm) / (size * 0.5)))) {
    svg += text_mm(margin_mm, y, size, line);
    y += size * 1.4;
  }
  return svg;
}

struct Close {
  void operator()(void* profile) const { cmsCloseProfile(profile); }
};
struct Delete {
  void operator()(void* transform) const { cmsDeleteTransform(transform); }
};
using Profile = std::unique_ptr<void, Close>;
using Transform = std::unique_ptr<void, Delete>;

Profile opened(std::string_view bytes) {
  return Profile(cmsOpenProfileFromMem(bytes.data(), static_cast<cmsUInt32Number>(bytes.size())));
}

}  // namespace

Result<std::vector<PrinterFit>> printer_fits(const PlateSet& set, const Display& display,
                                             std::string_view profile, const std::string& name) {
  const auto wrong = [&](const std::string& what) {
    return fail(Error::Kind::bad_input, name + ": " + what, "printer profile", name,
                "give the ICC profile of a printer, of class output");
  };
  const Profile printer = opened(profile), screen = opened(profile_of(display)),
                lab(cmsCreateLab4Profile(nullptr));
  if (!printer) return wrong("is no ICC profile");
  if (cmsGetDeviceClass(printer.get()) != cmsSigOutputClass)
    return wrong("is no printer's profile");
  // Through the inks as 16-bit numbers, which cannot be less than none or more than all.
  const cmsUInt32Number inks = cmsFormatterForColorspaceOfProfile(printer.get(), 2, FALSE);
  const auto transform = [](void* from, cmsUInt32Number from_kind, void* to,
                            cmsUInt32Number to_kind) {
    return Transform(cmsCreateTransform(from, from_kind, to, to_kind, INTENT_RELATIVE_COLORIMETRIC,
                                        cmsFLAGS_NOCACHE));
  };
  const Transform meant = transform(screen.get(), TYPE_RGB_8, lab.get(), TYPE_Lab_DBL),
                  there = transform(screen.get(), TYPE_RGB_8, printer.get(), inks),
                  back = transform(printer.get(), inks, lab.get(), TYPE_Lab_DBL);
  if (!meant || !there || !back) return wrong("cannot be used in both directions");
  std::vector<PrinterFit> fits;
  for (const Plate& plate : set.plates) {
    std::set<Code> codes = {plate.gap};
    for (const auto& part : plate.codes) codes.insert(part.begin(), part.end());
    PrinterFit fit;
    for (const Code& code : codes) {
      cmsCIELab wanted{}, got{};
      std::array<cmsUInt16Number, cmsMAXCHANNELS> ink{};
      cmsDoTransform(meant.get(), code.data(), &wanted, 1);
      cmsDoTransform(there.get(), code.data(), ink.data(), 1);
      cmsDoTransform(back.get(), ink.data(), &got, 1);
      const double off = ciede2000({wanted.L, wanted.a, wanted.b}, {got.L, got.a, got.b});
      fit.mean += off / static_cast<double>(codes.size());
      fit.largest = std::max(fit.largest, off);
      fit.off += off > 1;
      ++fit.colours;
    }
    fits.push_back(fit);
  }
  return fits;
}

std::vector<std::string> plate_pages(const PlateSet& set, const std::vector<const Plate*>& plates,
                                     double width_mm,
                                     const std::optional<std::vector<PrinterFit>>& fits) {
  expects(width_mm >= 50 && width_mm <= 180);
  std::vector<std::string> pages;
  for (const Plate* plate : plates) {
    std::string body = text_mm(margin_mm, 20, 6, plate->name);
    body += plate_group(*plate, (paper_width_mm - width_mm) / 2, 28, width_mm);
    double y = 28 + width_mm + 14;
    body += ruler(y);
    y += 12;
    if (fits) {
      const PrinterFit& fit = (*fits)[static_cast<std::size_t>(plate - set.plates.data())];
      body += paragraph(
          y, 3.2,
          fmt::format(
              "Through the printer's profile {} of {} colours are more than 1 (CIEDE2000) from "
              "what the display shows; mean {:.2f}, largest {:.2f}. What was predicted for "
              "the display does not hold on paper.",
              fit.off, fit.colours, fit.mean, fit.largest));
    } else {
      body += paragraph(y, 3.2, "Printed colours are not characterised; for demonstration only.");
    }
    body += paragraph(y, 3.2, std::string(basis_in_words(plate->kind)));
    if (!set.loan.empty())
      body += paragraph(y, 3.2,
                        "Drawn on loan of " + set.loan +
                            ": normal viewers are to answer as that observer would.");
    body += paragraph(y, 3.2,
                      fmt::format("Made for display {}. This picture is {} mm wide.", set.display,
                                  shortest(width_mm)));
    body += paragraph(y, 3.2, std::string(intended_use()));
    body += paragraph(y, 3.2, std::string(whom_to_see()));
    pages.push_back(paper("Plate " + plate->name, body));
  }
  return pages;
}

std::vector<std::string> answer_sheet(const PlateSet& set) {
  constexpr double row = 9, top = 66, bottom = 262;
  std::vector<std::string> pages;
  std::string body;
  double y = bottom + 1;
  const auto begin_page = [&] {
    body = text_mm(margin_mm, 22, 6, "Answer sheet");
    body += text_mm(margin_mm, 32, 3.6,
                    "Pseudonym: ____________________     Date: ______________     Order shown: "
                    "______________");
    double words = 40;
    body += paragraph(words, 3.2,
                      "Tick what you read on each plate, or “no figure for me”. Where two rows "
                      "stand, two figures may be read: one tick in each row. Do not write your "
                      "name.");
    body += paragraph(words, 3.2, std::string(intended_use()));
    y = top;
  };
  const auto end_page = [&] {
    body +=
        text_mm(margin_mm, 274, 2.8, "Set " + set.hash.substr(0, 12) + ", made for " + set.display);
    pages.push_back(paper("Answer sheet", body));
  };
  for (std::size_t i = 0; i < set.plates.size(); ++i) {
    const Plate& plate = set.plates[i];
    const std::size_t lines = plate.figures.size();
    if (y + row * static_cast<double>(lines) > bottom) {
      if (!body.empty()) end_page();
      begin_page();
    }
    body += text_mm(margin_mm, y + 4.6, 4, std::to_string(i + 1), " font-weight=\"bold\"");
    for (std::size_t line = 0; line < lines; ++line) {
      double x = margin_mm + 14;
      std::vector<std::string> choices = answer_row(set, plate);
      choices.emplace_back("no figure for me");
      for (const std::string& choice : choices) {
        body += fmt::format(
            "<rect x=\"{:.2f}\" y=\"{:.2f}\" width=\"5\" height=\"5\" fill=\"none\" "
            "stroke=\"#000\" stroke-width=\".3\"/>\n",
            x, y);
        body += text_mm(x + 6.5, y + 3.9, 3.6, choice);
        x += std::max(20.0, 9 + 1.9 * static_cast<double>(choice.size()));
      }
      y += row;
    }
    y += 1;
  }
  end_page();
  return pages;
}

}  // namespace copunctal
