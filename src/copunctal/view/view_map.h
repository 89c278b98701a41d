// A picture as another observer gets it, and the error of that claim.
//
// All work is done in the display's own cone space, computed from spectra: k' = N rgb' for the
// nominal normal N who looks at the view must equal what the other observer's cones make of the
// original (docs/science/views.md).
#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <unordered_map>
#include <vector>

#include "copunctal/base/result.h"
#include "copunctal/colour/tone_curve.h"
#include "copunctal/display/display.h"
#include "copunctal/view/kernel.h"
#include "copunctal/view/published.h"

namespace copunctal {

enum class ViewMethod {
  plane,        ///< Protan, deutan 0: the plane through black, white and the display's blue.
  half_planes,  ///< Dichromats: two half-planes through the neutral axis (Brettel, Vienot & Mollon
                ///< 1997).
  line,  ///< Dichromats: as half-planes, but never off the original's own confusion line, so that
         ///< the match is exact; colours at the edge of the range hardly change.
  substitution,    ///< Any: a normal's cones get the other observer's excitations.
  grey,            ///< Monochromats: their one signal as grey.
  published_2009,  ///< Protan, deutan, tritan: severity matrices as published (view/published.h).
};
std::string_view name_of(ViewMethod method);
/// Error (usage) for a name that is none of these.
Result<ViewMethod> view_method_from(std::string_view name);

/// Whether one kind of cone is missing altogether: what plane and half-planes need, and an audit.
bool is_dichromat(const Observer& observer);

/// Whether there is one kind of receptor alone.
bool is_monochromat(const Observer& observer);

/// Whose cones a view's claim is about: of a dichromat the same eye with all its cones, its own
/// lens, densities and shifts, so that it is that eye which cannot tell a view from the original;
/// for all others the nominal normal's, who looks at the view.
Observer eye_of_claim(const Observer& observer);

/// Maps display colours to display colours. Linear light in, linear light out; the result may leave
/// [0, 1], and fitted() says what is shown then.
class ViewMap {
 public:
  /// The default method is plane at 0 nm, substitution above, half-planes for tritan without S,
  /// grey for monochromats. Error (usage) when the method cannot serve the observer.
  static Result<ViewMap> make(const Observer& observer, const Display& display,
                              std::optional<ViewMethod> method = {});
  /// The same from given fundamentals of eye_of_claim() and of the observer.
  static Result<ViewMap> from(const Fundamentals& normal, const Fundamentals& other,
                              const Observer& observer, const Display& display,
                              std::optional<ViewMethod> method = {});

  ViewMethod method() const { return method_; }
  /// Exact, before any gamut rule.
  LinearRgb operator()(const LinearRgb& colour) const;
  /// What the display shows of a colour in its range: clipped for most methods; for half-planes the
  /// colour in range nearest in the remaining cones (weights 1 % each, 30 % for the missing one);
  /// for line the last colour in range on the way along the original's confusion line.
  LinearRgb fitted(const LinearRgb& colour) const;
  /// 8-bit codes to 8-bit codes through the display's tone curves, remembered per colour.
  Code code(const Code& original);
  /// Codes in rows of R, G, B, replaced by what code() gives, or, on displays with the sRGB curve,
  /// by what the fast kernel gives (view/kernel.h), at most 1 away from it.
  void apply(std::span<std::uint8_t> rgb);
  /// The same for 16-bit codes.
  void apply(std::span<std::uint16_t> rgb);
  /// What the fast kernel needs to know, where it can serve: displays with the sRGB curve.
  std::optional<KernelPlan> kernel_plan() const;
  /// The smallest step of the originals towards grey after which no colour of this view leaves the
  /// range, so that the match is exact. Error: usage for methods but plane and substitution.
  Result<AffineStep> step_into_range() const;

  /// Share of pixels so far whose exact colour lay outside the display's range by more than half a
  /// code.
  double share_out_of_range() const {
    return seen_ == 0 ? 0 : static_cast<double>(outside_) / static_cast<double>(seen_);
  }

 private:
  explicit ViewMap(const Display& display);
  LinearRgb nearest_in_range(const LinearRgb& wanted) const;
  LinearRgb along_the_line(const LinearRgb& from, const LinearRgb& wanted) const;

  CodeLight light_;

  ViewMethod method_ = ViewMethod::plane;
  LinearMap<LinearRgb, ConeExcitation> lms_;
  LinearMap<ConeExcitation, LinearRgb> rgb_;
  LinearMap<LinearRgb, LinearRgb> direct_;  ///< All but half-planes and line.
  std::size_t missing_ = 0;                 ///< half-planes, line: 0 L, 1 M, 2 S
  std::array<double, 2> low_{}, high_{};    ///< missing cone from the two others, either side
  struct Shown {
    Code code;
    bool outside;
  };
  const Shown& shown(const Code& original);
  LinearRgb fitted_of_codes(const std::uint16_t* rgb, bool& outside) const;
  void encode_deep(const LinearRgb& colour, std::uint16_t* rgb) const;
  std::array<ToneCurve, 3> curves_;
  bool is_srgb_ = false;
  std::unordered_map<std::uint32_t, Shown> known_;
  std::vector<std::uint8_t> flags_;
  std::uint64_t seen_ = 0, outside_ = 0;
};

/// A step of originals towards grey, taken with codes of 8 or 16 bits (Number) in place: what an
/// exact view is made of and compared with. One table a channel, made once.
template <class Number>
class CodeStep {
 public:
  CodeStep(const AffineStep& step, const std::array<ToneCurve, 3>& curves) {
    constexpr std::size_t count = std::size_t{1} << (8 * sizeof(Number));
    constexpr auto largest = static_cast<double>(count - 1);
    for (std::size_t c = 0; c < 3; ++c)
      for (std::size_t code = 0; code < count; ++code) {
        const double light = curves[c].decoded(static_cast<double>(code) / largest);
        const double moved = std::clamp(step.scale * light + step.offset, 0.0, 1.0);
        tables_[c].push_back(static_cast<Number>(std::lround(largest * curves[c].encoded(moved))));
      }
  }
  /// Rows of R, G, B.
  void operator()(std::span<Number> rgb) const {
    for (std::size_t i = 0; i < rgb.size(); ++i) rgb[i] = tables_[i % 3][rgb[i]];
  }

 private:
  std::array<std::vector<Number>, 3> tables_;
};

}  // namespace copunctal
