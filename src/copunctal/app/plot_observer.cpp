#include "copunctal/app/plot_observer.h"

#include <algorithm>

#include "copunctal/app/debrief.h"
#include "copunctal/app/figure_svg.h"
#include "copunctal/base/text.h"
#include "copunctal/observer/population.h"

namespace copunctal {
namespace {

template <class Kind>
std::vector<ChartPoint> curve_of(const Spectrum<Kind>& spectrum, double scale = 1) {
  std::vector<ChartPoint> points;
  for (std::size_t i = 0; nm_at(i) <= 730; ++i) points.emplace_back(nm_at(i), scale * spectrum[i]);
  return points;
}

void add_locus(Chart& chart, const ObserverOnDisplay& on) {
  std::vector<double> nm;
  for (int at = 390; at <= 700; at += 2) nm.push_back(at);
  std::vector<ChartPoint> points;
  for (const Place2& p : on.locus(nm, Diagram::xy)) points.emplace_back(p.x, p.y);
  chart.line(points, Stroke::solid, true);
  const std::vector<double> named = {470, 480, 490, 500, 520, 540, 560, 580, 600, 620};
  const auto places = on.locus(named, Diagram::xy);
  for (std::size_t i = 0; i < named.size(); ++i) {
    chart.marker({places[i].x, places[i].y}, Marker::circle, 1.5);
    chart.label({places[i].x, places[i].y}, shortest(named[i]), 7, named[i] < 520 ? 4 : -2);
  }
}

void add_triangle(Chart& chart, const Display& display) {
  std::vector<ChartPoint> triangle;
  for (const Chromaticity& c : display.chromaticities) triangle.emplace_back(c.x, c.y);
  chart.line(triangle, Stroke::thin, true);
}

void add_words(std::vector<std::string>& words, const std::string& text) {
  for (std::string& line : wrapped(text, 135)) words.push_back(std::move(line));
}

}  // namespace

std::string plot_svg(const ObserverDescription& d, std::size_t individuals) {
  Observer normal = d.observer;
  normal.kind = ObserverKind::normal;
  normal.separation = {28};
  normal.s_density_factor = 1;
  const Fundamentals reference = fundamentals_of(normal);

  Chart curves(64, 62, 500, 330, 390, 730, 0, 1.1);
  curves.axes(50, 0.2, "wavelength, nm", "relative sensitivity, energy at the cornea",
              "Cones of " + name_of(d.observer) +
                  (individuals == 0 ? " (thin: normal)"
                                    : " (thin: " + std::to_string(individuals) + " individuals)"));
  const auto faint = [&](const Fundamentals& f) {
    for (const EnergySensitivity* cone : {&f.l, &f.m, &f.s})
      curves.line(curve_of(*cone), Stroke::faint);
  };
  if (individuals == 0) faint(reference);
  for (std::uint32_t i = 0; i < individuals; ++i)
    faint(fundamentals_of(individual(d.observer, 1, i)));
  constexpr std::array strokes = {Stroke::solid, Stroke::dashed, Stroke::dotted};
  constexpr std::array markers = {Marker::circle, Marker::square, Marker::triangle};
  constexpr std::array<const char*, 3> letters = {"L", "M", "S"};
  const std::array cones = {&d.fundamentals.l, &d.fundamentals.m, &d.fundamentals.s};
  for (std::size_t i = 0; i < 3; ++i) {
    curves.line(curve_of(*cones[i]), strokes[i]);
    if (!d.peak_nm[i]) continue;
    curves.marker({*d.peak_nm[i], 1}, markers[i]);
    // L and M may peak together: their letters stand apart.
    curves.label({*d.peak_nm[i], 1}, letters[i], i == 1 ? -8 : 8, -6, true);
  }

  const ObserverOnDisplay on(d.observer, d.display);
  Chart diagram(640, 62, 330, 330, 0, 0.8, 0, 0.9);
  diagram.axes(0.1, 0.1, "x", "y, CIE 1931", "Confusion lines on " + d.display.name);
  add_locus(diagram, on);
  add_triangle(diagram, d.display);
  const auto missing = missing_cone(d.observer);
  const Place2 white = on.place_of(d.display.white, Diagram::xy);
  for (std::size_t k = 0; k < kind_cones.size(); ++k) {
    const bool own = missing                                   ? kind_cones[k] == *missing
                     : d.observer.kind == ObserverKind::protan ? k == 0
                     : d.observer.kind == ObserverKind::deutan ? k == 1
                     : d.observer.kind == ObserverKind::tritan ? k == 2
                                                               : false;
    const auto meet = d.copunctal[0][k];
    if (!meet) continue;
    const auto draw = [&](Place2 through, Stroke stroke) {
      if (const auto line = clipped_line(through, meet, {0, 0}, {0.8, 0.9}))
        diagram.line({{(*line)[0].x, (*line)[0].y}, {(*line)[1].x, (*line)[1].y}}, stroke);
    };
    draw(white, own ? Stroke::heavy : strokes[k]);
    if (own)
      for (const double step : {-0.16, -0.12, -0.08, -0.04, 0.04, 0.08, 0.12, 0.16})
        draw(k == 2 ? Place2{white.x + step, white.y} : Place2{white.x, white.y + step},
             Stroke::faint);
    if (meet->x >= 0 && meet->x <= 0.8 && meet->y >= 0 && meet->y <= 0.9)
      diagram.marker({meet->x, meet->y}, Marker::cross, 5);
  }
  diagram.marker({white.x, white.y}, Marker::square, 3);

  Chart match(64, 482, 500, 60, 0, 1, 0, 1);
  match.axes(0.1, 0, "share of red in the mixture", "",
             "Rayleigh match (bar: accepted; thin line: normal)");
  const RayleighMatch usual = rayleigh_match(Observer{});
  match.bar(d.rayleigh.low, d.rayleigh.high, 0.5, 22);
  match.line({{usual.x, 0}, {usual.x, 1}}, Stroke::faint);
  if (!d.rayleigh.accepts_all) match.marker({d.rayleigh.x, 0.5}, Marker::triangle, 5);

  std::vector<std::string> words;
  add_words(words, "Rayleigh match " + words_of(d.rayleigh) + ".");
  if (d.neutral_display_white)
    add_words(words, "Neutral point " + decimals(*d.neutral_display_white, 1) +
                         " nm against this display's white. Cross: copunctal point, where it lies "
                         "inside.");
  add_words(words, "Display " + d.display.name + " - " + d.display.status + ".");
  if (individuals > 0)
    add_words(
        words,
        "Individuals: age 18 to 60, lens, macula, pigment densities and peaks spread after "
        "Asano, Fairchild & Blonde 2016; the Rayleigh match and the lines are the mean eye's.");
  for (const std::string& note : d.notes) add_words(words, "Note: " + note + ".");
  add_words(words, std::string(intended_use()));
  const std::string title = "Observer " + name_of(d.observer);
  return figure_svg(1000, 640 + 18 * static_cast<int>(words.size()), title,
                    "Cone curves, confusion lines in CIE 1931 xy and the Rayleigh match of this "
                    "observer. " +
                        words_of(d.rayleigh),
                    {curves, diagram, match}, words, 625);
}

std::string plot_svg(const DisplayDescription& d) {
  const Display& o = d.display;
  double top = 0;
  for (const Power& primary : o.primaries)
    top = std::max(top, *std::max_element(primary.values.begin(), primary.values.end()));
  Chart spectra(64, 62, 500, 330, 390, 730, 0, 1.1);
  spectra.axes(50, 0.2, "wavelength, nm", "relative power per nm", "Primaries of " + o.name);
  constexpr std::array strokes = {Stroke::solid, Stroke::dashed, Stroke::dotted};
  constexpr std::array<const char*, 3> letters = {"R", "G", "B"};
  for (std::size_t p = 0; p < 3; ++p) {
    spectra.line(curve_of(o.primaries[p], 1 / top), strokes[p]);
    const auto& values = o.primaries[p].values;
    const auto* const peak = std::max_element(values.begin(), values.end());
    spectra.label({nm_at(static_cast<std::size_t>(peak - values.begin())), *peak / top}, letters[p],
                  8, 0, true);
  }
  const ObserverOnDisplay on(Observer{}, o);
  Chart diagram(640, 62, 330, 330, 0, 0.8, 0, 0.9);
  diagram.axes(0.1, 0.1, "x", "y, CIE 1931", "What it can show");
  add_locus(diagram, on);
  add_triangle(diagram, o);
  diagram.marker({o.white.x, o.white.y}, Marker::square, 3);
  for (std::size_t p = 0; p < 3; ++p)
    diagram.label({o.chromaticities[p].x, o.chromaticities[p].y}, letters[p], p == 0 ? -8 : 8,
                  p == 0 ? 14 : 0, true);

  Chart curves(64, 482, 500, 220, 0, 1, 0, 1);
  curves.axes(0.2, 0.2, "code / largest code", "light / largest", "Tone curves");
  for (std::size_t p = 0; p < 3; ++p) {
    std::vector<ChartPoint> points;
    for (int i = 0; i <= 100; ++i) points.emplace_back(i / 100.0, o.curves[p].decoded(i / 100.0));
    curves.line(points, strokes[p]);
  }
  std::vector<std::string> words;
  add_words(words, "Display " + o.name + " - " + o.status + ".");
  for (const std::string& note : o.notes) add_words(words, "Note: " + note + ".");
  add_words(words, std::string(intended_use()));
  return figure_svg(1000, 800 + 18 * static_cast<int>(words.size()), "Display " + o.name,
                    "Spectra of the primaries, their triangle in CIE 1931 xy and the tone curves.",
                    {spectra, diagram, curves}, words, 785);
}

}  // namespace copunctal
