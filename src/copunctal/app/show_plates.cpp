#include "copunctal/app/show_plates.h"

#include <algorithm>
#include <array>
#include <cmath>

#include <fmt/format.h>

#include "copunctal/app/debrief.h"
#include "copunctal/app/set_readers.h"
#include "copunctal/base/text.h"
#include "copunctal/plate/svg.h"
#include "copunctal/reader/predict.h"

namespace copunctal {
namespace {

constexpr int page_width = 1000;
constexpr std::size_t readers = 100;  // individuals of each kind behind a number

std::string text_at(double x, double y, std::string_view words, std::string_view more = "") {
  return fmt::format("<text x=\"{:.1f}\" y=\"{:.1f}\"{}>{}</text>\n", x, y, more, xml_text(words));
}

std::string page(int height, std::string_view title, std::string_view description,
                 const std::string& body) {
  return fmt::format(
      "<svg xmlns=\"http://www.w3.org/2000/svg\" role=\"img\" viewBox=\"0 0 {0} {1}\" "
      "width=\"{0}\" "
      "height=\"{1}\" font-family=\"sans-serif\" font-size=\"13\">\n<title>{2}</title>\n"
      "<desc>{3}</desc>\n<defs><pattern id=\"second\" width=\"6\" height=\"6\" "
      "patternUnits=\"userSpaceOnUse\"><rect width=\"6\" height=\"6\" fill=\"#fff\"/><path d=\"M0 "
      "6L6 0\" stroke=\"#000\" stroke-width=\"1.5\"/></pattern></defs>\n<rect width=\"100%\" "
      "height=\"100%\" fill=\"#fff\"/>\n{4}</svg>\n",
      page_width, height, xml_text(title), xml_text(description), body);
}

std::string kind_in_words(const Plate& plate) {
  const std::string aim(name_of(plate.aim));
  return std::string(name_of(plate.kind)) + (aim.empty() ? "" : ", aimed at " + aim);
}

std::string figures_in_words(const Plate& plate) {
  std::vector<std::string> symbols;
  for (const Figure& figure : plate.figures) symbols.push_back(figure.symbol);
  return joined(symbols, " and ");
}

// Bars from the line of what is needed: each step up or down doubles or halves the strength.
constexpr double step_px = 17, most_up = 3.5, most_down = 2.5;

std::string readers_row(const Plate& plate, const PlateReader& reader, const Display& display,
                        double left, double needed_at) {
  const std::vector<std::size_t> drawn = reader.drawn_on(plate);
  const auto& observers = standard_observers();
  constexpr double column = 71;
  std::string svg;
  for (std::size_t o = 0; o < observers.size(); ++o) {
    const Observer observer = *observer_from(observers[o]);
    const auto evidence = reader.evidence(nominal_eye(observer, display));
    const PredictedReading read =
        predicted_reading(reader, drawn, fresh_eyes(observer, display, readers, 1));
    const double x = left + column * static_cast<double>(o);
    svg += text_at(x + column / 2, needed_at + most_down * step_px + 16, observers[o],
                   R"( text-anchor="middle" font-size="12")");
    for (std::size_t f = 0; f < drawn.size(); ++f) {
      const SlotEvidence& slot = evidence[std::min(f, evidence.size() - 1)];
      const double margin = std::clamp(
          std::log2(std::max(slot.strength(drawn[f]), 1e-6) / slot.needed), -most_down, most_up);
      const double width = drawn.size() == 1 ? 30 : 24,
                   from =
                       x + column / 2 - (drawn.size() == 1 ? 15 : 26 - 28 * static_cast<double>(f));
      const double top = needed_at - std::max(0.0, margin) * step_px,
                   height = std::max(1.0, std::abs(margin) * step_px);
      svg += fmt::format(
          "<rect x=\"{:.1f}\" y=\"{:.1f}\" width=\"{}\" height=\"{:.1f}\" fill=\"{}\" "
          "stroke=\"#000\"/>\n",
          from, top, width, height, f == 0 ? "#bbb" : "url(#second)");
      svg += text_at(from + width / 2, needed_at - most_up * step_px - 6,
                     fmt::format("{:.2f}", f == 0 ? read.intended : read.second),
                     drawn.size() == 1 ? R"( text-anchor="middle" font-size="12")"
                                       : R"( text-anchor="middle" font-size="10.5")");
    }
  }
  return svg +
         fmt::format("<path d=\"M{:.1f} {:.1f}h{:.1f}\" stroke=\"#000\" stroke-width=\"2\"/>\n",
                     left, needed_at, column * static_cast<double>(observers.size()));
}

std::vector<std::string> about(const PlateSet& set, const Display& display) {
  std::vector<std::string> words = {
      "Bars: how far a figure stands above (up) or below (down) what the observer of that name "
      "needs; every step doubles or halves it. Numbers: P(read), mean of " +
          std::to_string(readers) + " individuals. Of two figures the second is hatched.",
      "Display " + display.name + ": " + display.status + "."};
  if (!set.loan.empty())
    words.push_back("Drawn on loan of " + set.loan +
                    ": normal viewers are to answer as that observer would.");
  words.emplace_back(intended_use());
  return words;
}

std::string words_from(const std::vector<std::string>& words, double& y) {
  std::string svg;
  for (const std::string& one : words)
    for (const std::string& line : wrapped(one, 145)) {
      svg += text_at(24, y, line);
      y += 18;
    }
  return svg;
}

// The plate with each of its colours replaced by a grey for a signal, from -1 (black) to 1 (white).
Plate in_grey(const Plate& plate, const std::vector<double>& signals) {
  Plate grey = plate;
  std::size_t c = 0;
  for (auto& part : grey.codes)
    for (Code& code : part) {
      const double v = std::clamp(0.5 + 0.5 * signals[c++], 0.0, 1.0);
      const auto g = static_cast<std::uint8_t>(std::lround(30 + 195 * v));
      code = {g, g, g};
    }
  grey.gap = {90, 90, 90};
  return grey;
}

struct Panel {
  std::string heading, scale;
  std::vector<double> signals;  // by colour, unscaled
  double largest = 0;
};

// Signals are shown around their mean: what every pebble shares tells nothing.
Panel panel_of(std::string heading, std::vector<double> signals) {
  Panel panel{std::move(heading), {}, std::move(signals), 1e-9};
  double mean = 0;
  for (const double s : panel.signals) mean += s / static_cast<double>(panel.signals.size());
  for (double& s : panel.signals) s -= mean;
  for (const double s : panel.signals) panel.largest = std::max(panel.largest, std::abs(s));
  return panel;
}

// Ln of what each cone gets over what it is adapted to; then the mechanisms' signals, SD.
std::array<Panel, 6> panels_of(const Plate& plate, const Eye& eye, const CodeLight& light,
                               const Mosaic& mosaic) {
  const std::vector<LinearRgb> colours = light.linear(plate.codes);
  const Assignment assignment =
      assign(mosaic, plate.figures, plate.seed, plate.codes.front().size());
  ConeExcitation mean{};
  for (std::size_t i = 0; i < assignment.part.size(); ++i)
    mean = mean +
           (1 / static_cast<double>(assignment.part.size())) *
               excitation_of(
                   eye,
                   colours[assignment.part[i] * plate.codes.front().size() + assignment.level[i]]);
  const Adaptation adaptation = adapted_to(eye, mean);
  std::array<std::vector<double>, 6> signals;
  for (const LinearRgb& colour : colours) {
    const ConeExcitation cones = excitation_of(eye, colour);
    const auto contrast = [](double cone, double adapted) {
      return adapted > 0 ? std::log(std::max(cone, 1e-6) / adapted) : 0;
    };
    const OpponentSignal s = signal_of(eye, adaptation, colour);
    const std::array<double, 6> all = {contrast(cones.l, adaptation.cones.l),
                                       contrast(cones.m, adaptation.cones.m),
                                       contrast(cones.s, adaptation.cones.s),
                                       s.red_green,
                                       s.yellow_violet,
                                       s.luminance};
    for (std::size_t p = 0; p < 6; ++p) signals[p].push_back(all[p]);
  }
  std::array<Panel, 6> panels = {
      panel_of("L cones", signals[0]),       panel_of("M cones", signals[1]),
      panel_of("S cones", signals[2]),       panel_of("red–green", signals[3]),
      panel_of("yellow–violet", signals[4]), panel_of("luminance", signals[5])};
  // The three cones share a scale, so that they can be compared.
  const double of_cones = std::max({panels[0].largest, panels[1].largest, panels[2].largest});
  for (std::size_t p = 0; p < 6; ++p) {
    if (p < 3) panels[p].largest = of_cones;
    // A signal below the noise of one pebble is shown as the little it is.
    if (p >= 3) panels[p].largest = std::max(panels[p].largest, 1.0);
    panels[p].scale = p < 3 ? fmt::format("grey ±{:.2f} in ln of excitation", panels[p].largest)
                            : fmt::format("grey ±{:.1f} SD of one pebble", panels[p].largest);
  }
  if (!eye.has_red_green) panels[3].scale = "absent in this observer: no signal at all";
  if (!eye.has_yellow_violet) panels[4].scale = "absent in this observer: no signal at all";
  return panels;
}

}  // namespace

Result<std::string> readers_rows_svg(const PlateSet& set, const std::string& only,
                                     const Display& display) {
  std::vector<const Plate*> shown;
  if (only.empty()) {
    for (const Plate& plate : set.plates) shown.push_back(&plate);
  } else {
    COPUNCTAL_TRY(const Plate* plate, plate_named(set, only));
    shown.push_back(plate);
  }
  constexpr double picture = 200, row = 252;
  std::string body = text_at(24, 36, "Who reads which plate", " font-size=\"20\"");
  double y = 56;
  for (const Plate* plate : shown) {
    const PlateReader reader = reader_of(set, *plate, CodeLight(display.curves));
    body += plate_group(*plate, 24, y, picture);
    body += text_at(248, y + 14, plate->name, R"( font-size="16" font-weight="bold")");
    body += text_at(248, y + 34, kind_in_words(*plate) + "; drawn: " + figures_in_words(*plate));
    double words_at = y + 52;
    for (const std::string& line : wrapped(std::string(basis_in_words(plate->kind)), 132)) {
      body += text_at(248, words_at, line, " font-size=\"11\"");
      words_at += 14;
    }
    body += readers_row(*plate, reader, display, 248, y + 168);
    y += row;
  }
  y += 10;
  body += words_from(about(set, display), y);
  return page(static_cast<int>(y) + 10, "Readers' rows of a set of plates",
              "Each plate beside the observers who read it and who do not", body);
}

Result<std::string> apart_svg(const PlateSet& set, const std::string& name,
                              const Observer& observer, const Display& display) {
  COPUNCTAL_TRY(const Plate* plate, plate_named(set, name));
  const Eye eye = nominal_eye(observer, display);
  const PlateReader reader = reader_of(set, *plate, CodeLight(display.curves));
  const auto panels = panels_of(*plate, eye, CodeLight(display.curves), mosaic_of(*plate));
  std::string body =
      text_at(24, 36, "Plate “" + plate->name + "”, taken apart for " + name_of(observer),
              " font-size=\"20\"");
  body += plate_group(*plate, 24, 60, 200);
  double below = 278;
  for (const std::string& line :
       wrapped(kind_in_words(*plate) + "; drawn: " + figures_in_words(*plate), 28)) {
    body += text_at(24, below, line);
    below += 18;
  }
  constexpr double side = 230, gap = 16;
  for (std::size_t p = 0; p < panels.size(); ++p) {
    std::vector<double> scaled;
    for (const double s : panels[p].signals) scaled.push_back(s / panels[p].largest);
    const double x = 248 + (side + gap) * static_cast<double>(p % 3),
                 y = 60 + (side + 54) * (p < 3 ? 0 : 1);
    body += plate_group(in_grey(*plate, scaled), x, y, side);
    body += text_at(x, y + side + 17, panels[p].heading, " font-weight=\"bold\"");
    body += text_at(x, y + side + 33, panels[p].scale, " font-size=\"11\"");
  }
  // Where the reader finds the figure.
  const auto evidence = reader.evidence(eye);
  std::vector<std::string> words;
  for (std::size_t f = 0; f < plate->figures.size(); ++f) {
    const SlotEvidence& slot = evidence[place_index(plate->figures, f)];
    const auto& match = slot.match[reader.index_of(plate->figures[f].symbol)];
    constexpr std::array mechanisms = {"red–green", "yellow–violet", "luminance"};
    std::vector<std::string> in;
    for (std::size_t m = 0; m < 3; ++m)
      if (std::abs(match[m]) >= slot.needed)
        in.push_back(fmt::format("{} ({:.1f} of {:.1f} needed)", mechanisms[m], std::abs(match[m]),
                                 slot.needed));
    words.push_back(
        "The figure " + plate->figures[f].symbol +
        (in.empty() ? " stands out in none of the mechanisms: together " +
                          decimals(slot.strength(reader.index_of(plate->figures[f].symbol)), 1) +
                          " of " + decimals(slot.needed, 1) + " needed."
                    : " stands out in: " + joined(in, ", ") + "."));
  }
  words.emplace_back(basis_in_words(plate->kind));
  for (const std::string& note : notes_on(observer)) words.push_back("Note: " + note);
  words.push_back("Display " + display.name + ": " + display.status + ".");
  words.emplace_back(intended_use());
  double y = 60 + 2 * (side + 54) + 20;
  body += words_from(words, y);
  return page(static_cast<int>(y) + 10, "A plate taken apart",
              "Six grey pictures: what each kind of cone gets, and what each mechanism signals",
              body);
}

Result<const Plate*> plate_named(const PlateSet& set, const std::string& name) {
  const auto at = std::find_if(set.plates.begin(), set.plates.end(),
                               [&](const Plate& plate) { return plate.name == name; });
  if (at != set.plates.end()) return &*at;
  std::vector<std::string> names;
  for (const Plate& plate : set.plates) names.push_back(plate.name);
  return fail(Error::Kind::not_found, "the set has no plate '" + name + "'", "plate", name,
              "the nearest is '" + nearest_word(name, names) + "'");
}

}  // namespace copunctal
