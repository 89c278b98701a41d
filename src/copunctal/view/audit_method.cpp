// Methods audited over a grid of colours: ours, and others as they were published.
#include <algorithm>
#include <cmath>
#include <functional>

#include "copunctal/base/text.h"
#include "copunctal/colour/encoding.h"
#include "copunctal/observer/neutral.h"
#include "copunctal/view/audit.h"
#include "copunctal/view/published.h"

namespace copunctal {
namespace {

using Shown = std::function<LinearRgb(const Code& code, const LinearRgb& colour)>;

struct Way {
  AuditedMethod method;
  Shown shown;
};

Shown by_matrix(const LinearMap<LinearRgb, LinearRgb>& map) {
  return [map](const Code&, const LinearRgb& colour) { return map(colour); };
}

// Half-planes in other cones than the model's.
Shown by_half_planes(const Fundamentals& cones, const Observer& observer, const Display& display) {
  auto map = *ViewMap::from(cones, cones, observer, display, ViewMethod::half_planes);
  return [map](const Code&, const LinearRgb& colour) { return map(colour); };
}

Fundamentals smith_pokorny() {
  const Table& table_of = table("lms_smith_pokorny");
  return {spectrum_from<EnergySensitivityKind>(table_of, "L"),
          spectrum_from<EnergySensitivityKind>(table_of, "M"),
          spectrum_from<EnergySensitivityKind>(table_of, "S")};
}

// Smith & Pokorny's cones as many programs have them: their matrix (from memory) over CIE 1931
// colour-matching functions, which it was not made for.
Fundamentals smith_pokorny_of_1931() {
  const Table& cmf = table("xyz1931");
  const auto x = spectrum_from<EnergySensitivityKind>(cmf, "x"),
             y = spectrum_from<EnergySensitivityKind>(cmf, "y"),
             z = spectrum_from<EnergySensitivityKind>(cmf, "z");
  Fundamentals cones;
  for (std::size_t i = 0; i < spectrum_size; ++i) {
    cones.l[i] = 0.15514 * x[i] + 0.54312 * y[i] - 0.03286 * z[i];
    cones.m[i] = -0.15514 * x[i] + 0.45684 * y[i] + 0.03286 * z[i];
    cones.s[i] = 0.01608 * z[i];
  }
  return cones;
}

// The matrix taken to codes instead of light, as is often done by mistake.
Shown on_codes(const LinearMap<LinearRgb, LinearRgb>& map, const CodeLight& light) {
  return [map, light](const Code& code, const LinearRgb&) {
    const LinearRgb seen = clipped(map({code[0] / 255.0, code[1] / 255.0, code[2] / 255.0}));
    const auto nearest = [](double v) { return static_cast<std::uint8_t>(std::lround(255 * v)); };
    return light.linear(Code{nearest(seen.r), nearest(seen.g), nearest(seen.b)});
  };
}

// Decoded and encoded again with another curve than the display's.
Shown by_gamma(const LinearMap<LinearRgb, LinearRgb>& map, double gamma, const CodeLight& light) {
  return [map, gamma, light](const Code& code, const LinearRgb&) {
    const auto decoded = [&](std::uint8_t c) { return std::pow(c / 255.0, gamma); };
    const LinearRgb seen = clipped(map({decoded(code[0]), decoded(code[1]), decoded(code[2])}));
    // Between codes: the display's own curve between its two nearest.
    const auto encoded = [&](double v) { return 255 * std::pow(v, 1 / gamma); };
    const auto at = [&](double c, auto channel) {
      const auto low = static_cast<std::uint8_t>(std::min(254.0, std::floor(c)));
      const auto high = static_cast<std::uint8_t>(low + 1);
      const double t = c - low;
      return (1 - t) * channel(light.linear(Code{low, low, low})) +
             t * channel(light.linear(Code{high, high, high}));
    };
    return LinearRgb{at(encoded(seen.r), [](const LinearRgb& c) { return c.r; }),
                     at(encoded(seen.g), [](const LinearRgb& c) { return c.g; }),
                     at(encoded(seen.b), [](const LinearRgb& c) { return c.b; })};
  };
}

std::vector<Way> ways_for(const Observer& observer, const Display& display) {
  std::vector<Way> ways;
  const CodeLight light(display.curves);
  const auto add = [&](std::string name, std::string what, bool rounded, Shown shown) {
    ways.push_back({{std::move(name), std::move(what), rounded}, std::move(shown)});
  };
  for (const ViewMethod method :
       {ViewMethod::plane, ViewMethod::half_planes, ViewMethod::line, ViewMethod::substitution,
        ViewMethod::grey, ViewMethod::published_2009}) {
    const auto map = ViewMap::make(observer, display, method);
    if (!map) continue;
    const std::string name(name_of(method));
    add(name, "as views are written: in range, 8 bits", true,
        [map = *map](const Code&, const LinearRgb& colour) { return map.fitted(colour); });
    add(name + ":unclipped", "exact numbers, out of range or not", false,
        [map = *map](const Code&, const LinearRgb& colour) { return map(colour); });
    if (method == ViewMethod::half_planes)
      add(name + ":clipped", "each channel clipped, 8 bits", true,
          [map = *map](const Code&, const LinearRgb& colour) { return clipped(map(colour)); });
  }
  if (observer.kind == ObserverKind::protan || observer.kind == ObserverKind::deutan) {
    const double percent = published_severity(observer);
    const auto published = *severity_matrix(observer.kind, percent);
    add("published-2009:this-display", "its construction redone for this display, unclipped", false,
        by_matrix(severity_matrix_for(observer.kind, percent, display.primaries)));
    add("published-2009:on-codes", "its matrices taken to codes instead of light, 8 bits", true,
        on_codes(published, light));
  }
  if (observer.kind == ObserverKind::tritan)
    add("published-2009:on-codes", "its matrices taken to codes instead of light, 8 bits", true,
        on_codes(*severity_matrix(observer.kind, published_severity(observer)), light));
  if (!missing_cone(observer)) return ways;
  add("half-planes:smith-pokorny", "in the cones of Smith & Pokorny 1975, unclipped", false,
      by_half_planes(smith_pokorny(), observer, display));
  add("half-planes:smith-pokorny-1931",
      "in their cones as a matrix over CIE 1931 functions, unclipped", false,
      by_half_planes(smith_pokorny_of_1931(), observer, display));
  if (observer.kind == ObserverKind::tritan) return ways;
  const auto plane = plane_of_1999(observer.kind);
  const AffineStep step = compression_of_1999(observer.kind);
  add("plane-1999:unclipped", "the published matrices in linear light, unclipped", false,
      by_matrix(plane));
  add("plane-1999", "the same, clipped, 8 bits", true, by_matrix(plane));
  add("plane-1999:compressed", "with its compression, against the uncompressed original", false,
      [plane, step](const Code&, const LinearRgb& colour) { return plane(step(colour)); });
  add("plane-1999:gamma-2.2", "decoded with gamma 2.2 instead of the display's curve", false,
      by_gamma(plane, 2.2, light));
  return ways;
}

}  // namespace

std::vector<AuditedMethod> audited_methods(const Observer& observer, const Display& display) {
  std::vector<AuditedMethod> all;
  for (Way& way : ways_for(observer, display)) all.push_back(std::move(way.method));
  return all;
}

Result<AuditResult> audit_method(std::string_view method, const Observer& observer,
                                 const Display& display, int steps) {
  constexpr int fewest = 2, most = 64;
  if (steps < fewest || steps > most)
    return fail(Error::Kind::usage, "a grid has from 2 to 64 steps", "grid", std::to_string(steps),
                "use --grid 18");
  std::vector<std::string> names;
  for (const Way& way : ways_for(observer, display)) {
    names.push_back(way.method.name);
    if (way.method.name != method) continue;
    const Auditor auditor(observer, display);
    AuditTally tally(auditor);
    const auto code_at = [&](int i) {
      return static_cast<std::uint8_t>(std::lround(255.0 * i / (steps - 1)));
    };
    for (int r = 0; r < steps; ++r)
      for (int g = 0; g < steps; ++g)
        for (int b = 0; b < steps; ++b) {
          if (r + g + b == 0) continue;
          const Code code = {code_at(r), code_at(g), code_at(b)};
          const LinearRgb colour = auditor.light().linear(code);
          LinearRgb seen = way.shown(code, colour);
          if (way.method.rounded)
            seen = auditor.light().linear(auditor.light().code(clipped(seen)));
          tally.add(auditor.compare(colour, seen));
        }
    return tally.result();
  }
  return fail(Error::Kind::usage,
              "no method '" + std::string(method) + "' serves " + name_of(observer), "method",
              std::string(method), "use " + joined(names, ", "));
}

}  // namespace copunctal
