// An eye to look through, for the page where it is chosen: curves, diagrams, a match, two pictures.
#pragma once

#include <map>
#include <memory>
#include <mutex>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "copunctal/app/describe_observer.h"
#include "copunctal/app/run_sitting.h"
#include "copunctal/base/result.h"

namespace copunctal {

/// One diagram with everything drawn in it, cut to its range.
struct EyeDiagram {
  Diagram diagram = Diagram::xy;
  Place2 low, high;
  std::vector<std::pair<double, Place2>> locus;  ///< nm, place.
  std::array<Place2, 3> triangle;
  Place2 white, at;
  struct Line {
    std::size_t kind = 0;  ///< 0 protan, 1 deutan, 2 tritan.
    bool own = false;      ///< The observer confuses along it.
    std::array<Place2, 2> points;
    double angle_deg = 0;
  };
  std::vector<Line> lines;
};

struct EyeView {
  ObserverDescription description;
  Fundamentals normal;  ///< Of the same age, field and media.
  std::vector<EyeDiagram> diagrams;
  RayleighMatch normal_match;
  Code mixture{};  ///< The match as this display would show it to a normal, clipped.
  bool mixture_in_gamut = false;
};

/// The eye of `observer` on `display`, with the confusion lines through a CIE 1931 chromaticity
/// (the display's white, where none is given). Displays by name only. Errors: usage.
Result<EyeView> eye_view(std::string_view observer, std::string_view display,
                         std::optional<Chromaticity> at);

/// A picture through an eye, and what the claim is worth.
struct EyePicture {
  PictureBytes bytes;
  std::string method;                ///< "original" or a view method.
  std::optional<AuditResult> error;  ///< Nothing for what was not audited.
  std::string colour_space;          ///< As colour_space_of() in display/keep_display.h.
};

/// The pictures of that page, 320 px square, made once: "pebbles", a field of all hues, and
/// "plate", a vanishing plate with its colours midway between the protan and deutan confusion lines
/// (a demonstration, of no set). May be used from any number of threads.
class EyePictures {
 public:
  static constexpr int size_px = 320;
  /// `observer` may be "original". Errors: usage for an unknown picture, observer or display.
  Result<EyePicture> picture(std::string_view name, std::string_view observer,
                             std::string_view display);

 private:
  Result<std::shared_ptr<const Picture>> original(std::string_view name, const Display& display);

  std::mutex lock_;
  std::map<std::string, std::shared_ptr<const Picture>> made_;
};

}  // namespace copunctal
