// The error of a view: how far what the other observer's eye makes of it is from what that eye
// makes of the original.
#pragma once

#include <array>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <unordered_map>
#include <vector>

#include "copunctal/base/result.h"
#include "copunctal/colour/difference.h"
#include "copunctal/display/display.h"
#include "copunctal/image/picture.h"
#include "copunctal/view/view_map.h"

namespace copunctal {

/// Over the pixels of a picture, or the colours of a grid.
struct ErrorSpread {
  double mean = 0, p95 = 0, largest = 0;
};

/// The claim a view makes about an observer, pixel by pixel (docs/science/views.md).
struct AuditResult {
  /// CIEDE2000 between original and view, both reduced to what this observer's cones tell apart and
  /// without gamut limits: 0 where the claim holds, else in a normal observer's just noticeable
  /// differences. Dichromats: both through the half-planes. Monochromats: both as their one signal.
  /// All others: the view as it is against the original with their excitations put in, unclipped.
  ErrorSpread reduced;
  /// The same claim in the observer's own thresholds (design constants).
  ErrorSpread jnd;
  /// |excitation ratio - 1| of each cone the claim is about, flare added; nothing of a missing one.
  std::array<std::optional<ErrorSpread>, 3> cones;
  /// Share of the original's pixels whose unclipped view (dichromats: by half-planes) leaves the
  /// display's range. A view by another method may stay in range where this one leaves it.
  double out_of_range = 0;
  /// What rounding to the display's codes alone does to the same original, reduced CIEDE2000: no
  /// 8-bit view does much better.
  ErrorSpread floor;
  std::size_t pixels = 0;
};

/// What `jnd` divides by: relative luminance, and ln ratios of S and of M / L.
struct AuditThresholds {
  double luminance = 0.01, s_ratio = 0.05, red_green = 0.006;
};

/// The flare added to cone excitations, of white: .005, or what the display's black and
/// surroundings come to.
double flare_of(const Display& display);
/// The same from given fundamentals of whoever looks.
double flare_of(const Fundamentals& normal, const Display& display);

/// One pixel's errors.
struct PixelError {
  double reduced = 0, jnd = 0;
  std::array<double, 3> cones{};  ///< 0 of a missing cone.
  double floor = 0;               ///< `reduced` of the best view in the display's codes.
  bool leaves_range = false;  ///< The exact view lies outside the range, by half a code or more.
};

/// Compares colours of an original with what a view makes of them, for one observer on one display.
class Auditor {
 public:
  Auditor(const Observer& observer, const Display& display, const AuditThresholds& thresholds = {});
  /// The same from given fundamentals of eye_of_claim() and of the observer.
  Auditor(const Fundamentals& normal, const Fundamentals& other, const Observer& observer,
          const Display& display, const AuditThresholds& thresholds = {});

  /// Linear light; the original in the display's range, the view anywhere.
  PixelError compare(const LinearRgb& original, const LinearRgb& view) const;
  /// The best view in the display's codes: the exact one where it can be shown, else the last on
  /// the way to it that keeps the match.
  Code best(const LinearRgb& original) const;
  const CodeLight& light() const { return light_; }
  /// Linear light of three 16-bit codes.
  LinearRgb deep_light(const std::uint16_t* rgb) const;
  /// Whether the claim is about that cone: 0 L, 1 M, 2 S.
  bool concerns(std::size_t cone) const;

 private:
  double reduced(const Lab& wanted, const LinearRgb& view) const;
  Lab lab_of(const LinearRgb& light) const;

  enum class Claim { dichromat, monochromat, trichromat };
  Claim claim_ = Claim::trichromat;
  ViewMap exact_;
  std::optional<ViewMap> line_;
  CodeLight light_;
  std::array<ToneCurve, 3> curves_;
  LinearMap<LinearRgb, ConeExcitation> lms_, theirs_;
  LinearMap<LinearRgb, Xyz> xyz_;
  Xyz white_;
  double flare_ = 0;
  std::size_t missing_ = 3;
  AuditThresholds thresholds_;
};

/// Errors of pixels, gathered.
class AuditTally {
 public:
  explicit AuditTally(const Auditor& auditor);
  void add(const PixelError& error);
  AuditResult result() const;

 private:
  // A distribution with bins of a thousandth, which is what is printed; beyond 200 all is one.
  class Values {
   public:
    void add(double value);
    ErrorSpread spread(std::size_t count) const;

   private:
    std::vector<std::uint32_t> bins_;
    double sum_ = 0, largest_ = 0;
  };

  std::array<bool, 3> concerns_{};
  Values reduced_, jnd_, floor_;
  std::array<Values, 3> cones_;
  std::size_t pixels_ = 0, outside_ = 0;
};

/// Audits strips of two pictures of the same size, one after the other, in any number of strips.
class PictureAudit {
 public:
  PictureAudit(const Observer& observer, const Display& display);
  /// Codes R, G, B of 8 or 16 bits; expects both equally long. `map`, where given, gets each
  /// pixel's reduced CIEDE2000.
  void add(std::span<const std::uint8_t> original, std::span<const std::uint8_t> view,
           std::span<float> map = {});
  void add(std::span<const std::uint16_t> original, std::span<const std::uint16_t> view,
           std::span<float> map = {});
  AuditResult result() const { return tally_.result(); }

 private:
  void keep(const PixelError& error, std::size_t pixel, std::span<float> map);

  Auditor auditor_;
  AuditTally tally_;
  std::unordered_map<std::uint64_t, PixelError> known_;
};

/// Error: bad_input when sizes differ.
Result<void> check_same_size(int width, int height, int view_width, int view_height);

/// Audits a whole view. Errors: bad_input when sizes differ.
Result<AuditResult> audit(const Picture& original, const Picture& view, const Observer& observer,
                          const Display& display);

/// A way to make views that can be audited by itself: ours and published ones.
struct AuditedMethod {
  std::string name, what;
  bool rounded = false;  ///< Clipped and rounded to 8-bit codes, or exact numbers.
};
/// Every such way that serves an observer on a display.
std::vector<AuditedMethod> audited_methods(const Observer& observer, const Display& display);
/// Audits a method over steps x steps x steps codes, evenly from 0 to 255, without black. Errors:
/// usage for a name that is none of audited_methods(), with those; steps 2 to 64.
Result<AuditResult> audit_method(std::string_view method, const Observer& observer,
                                 const Display& display, int steps);

}  // namespace copunctal
