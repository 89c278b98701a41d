#include "copunctal/app/look_through.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "copunctal/base/random.h"
#include "copunctal/design/colouring.h"
#include "copunctal/display/keep_display.h"
#include "copunctal/plate/draw.h"
#include "copunctal/view/audit.h"
#include "copunctal/view/view_map.h"
#include "copunctal/vision/signals.h"

namespace copunctal {
namespace {

constexpr std::uint64_t pictures_seed = 320;

// Every hue round the middle, paler toward it, in uneven lightness.
Picture pebble_picture() {
  FieldOptions options;
  options.cells = 420;
  options.gap = 0.006;
  const std::vector<Pebble> pebbles = packed_field(pictures_seed, options);
  RandomStream random(pictures_seed, 31);
  std::vector<Code> codes;
  for (const Pebble& pebble : pebbles) {
    const double dx = pebble.centre.x - 0.5, dy = pebble.centre.y - 0.5;
    const double colourful = std::min(1.0, 1.5 * std::hypot(dx, dy));
    const double hue = std::atan2(dy, dx), light = 0.30 * std::exp(random.uniform(-0.35, 0.35));
    constexpr double third = 2 * std::numbers::pi / 3;
    const auto channel = [&](double turn) {
      return light * (1 + colourful * std::cos(hue - turn));
    };
    const LinearRgb colour = clipped({channel(0), channel(third), channel(2 * third)});
    codes.push_back({srgb_code(colour.r), srgb_code(colour.g), srgb_code(colour.b)});
  }
  return paint(pebbles, codes, {96, 96, 96}, EyePictures::size_px);
}

// A vanishing plate without an optimiser: the figure differs in ln(L/M) alone, midway between the
// two confusion lines, with luminance noise. Its difference shrinks until the display can show it.
Picture plate_picture(const Display& display) {
  const Eye nominal = nominal_eye(Observer{}, display);
  const CodeLight light(display.curves);
  Plate plate;
  plate.name = "demonstration";
  plate.kind = PlateKind::vanishing;
  plate.seed = pictures_seed;
  plate.figures = {{"6", Place::whole}};
  const double ln_y = std::log(0.30);
  for (const double difference : {0.18, 0.15, 0.12, 0.09, 0.06, 0.03}) {
    Recipe recipe;
    recipe.ground = {0.05 - difference / 2, -0.5, ln_y};
    recipe.figures = {{difference, 0, 0}};
    recipe.noise = 0.3;
    auto codes = codes_of(colours_of(recipe, nominal), levels_of(recipe), light);
    if (!codes) continue;
    plate.codes = *std::move(codes);
    break;
  }
  plate.gap = light.grey(std::exp(ln_y));
  if (plate.codes.empty()) plate.codes.assign(2, std::vector<Code>(levels_of(Recipe{}), plate.gap));
  return draw(plate, EyePictures::size_px, light);
}

EyeDiagram diagram_of(const ObserverOnDisplay& on, Diagram which, Chromaticity at) {
  EyeDiagram d;
  d.diagram = which;
  switch (which) {
    case Diagram::xy:
      d.high = {0.8, 0.9};
      break;
    case Diagram::uv:
      d.high = {0.65, 0.65};
      break;
    case Diagram::macleod_boynton:
      // The display's colours, with room: the locus itself runs far beyond in S.
      d.low = {0.5, 0};
      d.high = {1, 8};
      break;
  }
  std::vector<double> nm;
  for (int at_nm = 400; at_nm <= 700; at_nm += 5) nm.push_back(at_nm);
  const std::vector<Place2> places = on.locus(nm, which);
  for (std::size_t i = 0; i < nm.size(); ++i) d.locus.emplace_back(nm[i], places[i]);
  for (std::size_t p = 0; p < 3; ++p)
    d.triangle[p] = on.place_of(on.display().chromaticities[p], which);
  d.white = on.place_of(on.display().white, which);
  d.at = on.place_of(at, which);
  const Observer& o = on.observer();
  for (std::size_t k = 0; k < kind_cones.size(); ++k) {
    const auto meet = on.copunctal(kind_cones[k], which);
    const auto line = clipped_line(d.at, meet, d.low, d.high);
    if (!line) continue;
    const bool own = (k == 0 && o.kind == ObserverKind::protan && o.separation.nm < 28) ||
                     (k == 1 && o.kind == ObserverKind::deutan && o.separation.nm < 28) ||
                     (k == 2 && o.kind == ObserverKind::tritan && o.s_density_factor < 1);
    const double angle =
        meet ? std::atan2(meet->y - d.at.y, meet->x - d.at.x) * 180 / std::numbers::pi : 90;
    d.lines.push_back({k, own, *line, angle});
  }
  return d;
}

}  // namespace

Result<EyeView> eye_view(std::string_view observer_text, std::string_view display_text,
                         std::optional<Chromaticity> at) {
  COPUNCTAL_TRY(const Observer observer, observer_from(observer_text));
  COPUNCTAL_TRY(const Display display, named_display(display_text));
  const Chromaticity place = at.value_or(display.white);
  if (!(place.y > 0) || outside_spectral_locus(place) > 0.001)
    return fail(Error::Kind::usage, "no light has this chromaticity", "at", "",
                "choose a point inside the spectral locus");
  EyeView view;
  view.description = describe_observer(observer, display);
  Observer normal = observer;
  normal.kind = ObserverKind::normal;
  normal.separation = {28};
  normal.s_density_factor = 1;
  view.normal = fundamentals_of(normal);
  const ObserverOnDisplay on(observer, display);
  for (const Diagram which : all_diagrams) view.diagrams.push_back(diagram_of(on, which, place));
  view.normal_match = rayleigh_match(Observer{});

  // The accepted mixture as a normal sees it, at a middle brightness of this display.
  const RayleighLights lights;
  const Power white = white_of(display);
  const double x = view.description.rayleigh.x;
  const auto excited = [&](const EnergySensitivity& cone) {
    return mixture_excitation(cone, x, lights) / integral(white, cone);
  };
  const ConeExcitation mixed{excited(view.normal.l), excited(view.normal.m),
                             excited(view.normal.s)};
  const double luminance = on.l_weight() * mixed.l + (1 - on.l_weight()) * mixed.m;
  const LinearRgb colour = inverse(on.normal_lms())((0.4 / luminance) * mixed);
  view.mixture_in_gamut = in_gamut(colour);
  view.mixture = CodeLight(display.curves).code(clipped(colour));
  return view;
}

Result<std::shared_ptr<const Picture>> EyePictures::original(std::string_view name,
                                                             const Display& display) {
  if (name != "pebbles" && name != "plate")
    return fail(Error::Kind::usage, "there is no picture '" + std::string(name) + "'", "picture",
                std::string(name), "use pebbles or plate");
  // A plate is coloured for its display; the pebbles are the same codes everywhere.
  const std::string key = name == "plate" ? "plate " + display.name : "pebbles";
  const std::scoped_lock hold(lock_);
  if (const auto known = made_.find(key); known != made_.end()) return known->second;
  constexpr std::size_t most_kept = 12;
  if (made_.size() >= most_kept) made_.clear();
  auto picture =
      std::make_shared<const Picture>(name == "plate" ? plate_picture(display) : pebble_picture());
  return made_.emplace(key, std::move(picture)).first->second;
}

Result<EyePicture> EyePictures::picture(std::string_view name, std::string_view observer_text,
                                        std::string_view display_text) {
  COPUNCTAL_TRY(const Display display, named_display(display_text));
  COPUNCTAL_TRY(const auto before, original(name, display));
  EyePicture result;
  result.colour_space = colour_space_of_named(display.name);
  if (observer_text == "original") {
    result.method = "original";
    result.bytes = PictureBytes(before, &before->rgb);
    return result;
  }
  COPUNCTAL_TRY(const Observer observer, observer_from(observer_text));
  COPUNCTAL_TRY(ViewMap map, ViewMap::make(observer, display));
  Picture seen = before->clone();
  map.apply(seen.rgb);
  result.method = name_of(map.method());
  if (const auto error = audit(*before, seen, observer, display)) result.error = *error;
  result.bytes = std::make_shared<const std::vector<std::uint8_t>>(std::move(seen.rgb));
  return result;
}

}  // namespace copunctal
