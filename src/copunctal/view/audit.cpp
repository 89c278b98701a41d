#include "copunctal/view/audit.h"

#include <algorithm>
#include <cmath>

#include "copunctal/base/expects.h"
#include "copunctal/colour/difference.h"
#include "copunctal/colour/encoding.h"
#include "copunctal/observer/neutral.h"

namespace copunctal {
namespace {

// Beyond this a view counts as leaving the display's range: half a code of 8 bits, about.
constexpr double half_a_code = 0.002;

constexpr double bin_width = 0.001, most_counted = 200;

std::array<double, 3> cones_of(const ConeExcitation& c) {
  return {c.l, c.m, c.s};
}

ViewMap exact_map(const Fundamentals& normal, const Fundamentals& other, const Observer& observer,
                  const Display& display) {
  const std::optional<ViewMethod> method =
      missing_cone(observer) ? std::optional(ViewMethod::half_planes) : std::nullopt;
  auto map = ViewMap::from(normal, other, observer, display, method);
  expects(map.has_value());
  return *std::move(map);
}

}  // namespace

Auditor::Auditor(const Observer& observer, const Display& display,
                 const AuditThresholds& thresholds)
    : Auditor(fundamentals_of(eye_of_claim(observer)), fundamentals_of(observer), observer, display,
              thresholds) {}

Auditor::Auditor(const Fundamentals& normal, const Fundamentals& other, const Observer& observer,
                 const Display& display, const AuditThresholds& thresholds)
    : exact_(exact_map(normal, other, observer, display)),
      light_(display.curves),
      curves_(display.curves),
      lms_(lms_from_linear_rgb(normal, display)),
      theirs_(lms_from_linear_rgb(other, display)),
      xyz_(xyz_from_linear_rgb(display)),
      white_(xyz_({1, 1, 1})),
      thresholds_(thresholds) {
  if (exact_.method() == ViewMethod::half_planes) {
    claim_ = Claim::dichromat;
    missing_ = observer.kind == ObserverKind::protan   ? 0
               : observer.kind == ObserverKind::deutan ? 1
                                                       : 2;
    line_ = *ViewMap::from(normal, other, observer, display, ViewMethod::line);
  } else if (exact_.method() == ViewMethod::grey) {
    claim_ = Claim::monochromat;
  }
  flare_ = flare_of(normal, display);
}

double flare_of(const Display& display) {
  return flare_of(fundamentals_of(Observer{}), display);
}
double flare_of(const Fundamentals& normal, const Display& display) {
  // Keeps ratios near black meaningful.
  constexpr double least = 0.005;
  const ConeExcitation veil = veil_excitation(normal, display);
  return std::max(least, (veil.l + veil.m) / 2);
}

bool Auditor::concerns(std::size_t cone) const {
  switch (claim_) {
    case Claim::dichromat:
      return cone != missing_;
    case Claim::monochromat:
      return cone == 0;  // their one signal
    case Claim::trichromat:
      return true;
  }
  return true;
}

double Auditor::reduced(const Lab& wanted, const LinearRgb& view) const {
  const LinearRgb got = claim_ == Claim::trichromat ? view : exact_(view);
  return ciede2000(wanted, lab_of(got));
}
Lab Auditor::lab_of(const LinearRgb& light) const {
  return lab_from(xyz_(light), white_);
}

PixelError Auditor::compare(const LinearRgb& original, const LinearRgb& view) const {
  PixelError error;
  const LinearRgb wanted = exact_(original);
  const Lab lab = lab_of(wanted);
  error.reduced = reduced(lab, view);
  error.floor = reduced(lab, light_.linear(best(original)));
  error.leaves_range = !in_gamut(wanted, half_a_code);
  // The cones the claim is about: what they were to get, and what they get.
  const auto before = cones_of(claim_ == Claim::dichromat ? lms_(original) : theirs_(original)),
             after = cones_of(claim_ == Claim::monochromat ? theirs_(view) : lms_(view));
  std::array<double, 3> ln{};
  for (std::size_t i = 0; i < 3; ++i) {
    if (!concerns(i)) continue;
    // A view outside the range may have cones below zero; the flare then has its limit.
    const double ratio =
        std::max(after[i] + flare_, flare_ / 100) / std::max(before[i] + flare_, flare_ / 100);
    error.cones[i] = std::abs(ratio - 1);
    ln[i] = std::log(ratio);
  }
  const auto together = [](double a, double b, double c) {
    return std::sqrt(a * a + b * b + c * c);
  };
  const auto& [luminance, s_ratio, red_green] = thresholds_;
  switch (claim_) {
    case Claim::dichromat: {
      const std::size_t first = missing_ == 0 ? 1 : 0, second = missing_ == 2 ? 1 : 2;
      error.jnd = together(ln[first] / luminance,
                           (ln[second] - ln[first]) / (missing_ == 2 ? red_green : s_ratio), 0);
      break;
    }
    case Claim::monochromat:
      error.jnd = std::abs(ln[0]) / luminance;
      break;
    case Claim::trichromat:
      error.jnd =
          together(ln[0] / luminance, (ln[2] - ln[0]) / s_ratio, (ln[1] - ln[0]) / red_green);
      break;
  }
  return error;
}

Code Auditor::best(const LinearRgb& original) const {
  return light_.code(line_ ? line_->fitted(original) : exact_.fitted(original));
}

LinearRgb Auditor::deep_light(const std::uint16_t* rgb) const {
  constexpr double largest = 65535;
  return {curves_[0].decoded(rgb[0] / largest), curves_[1].decoded(rgb[1] / largest),
          curves_[2].decoded(rgb[2] / largest)};
}

AuditTally::AuditTally(const Auditor& auditor) {
  for (std::size_t c = 0; c < 3; ++c) concerns_[c] = auditor.concerns(c);
}

void AuditTally::Values::add(double value) {
  const auto bin = static_cast<std::size_t>(std::min(value, most_counted) / bin_width);
  if (bin >= bins_.size()) bins_.resize(bin + 1);
  ++bins_[bin];
  sum_ += value;
  largest_ = std::max(largest_, value);
}

ErrorSpread AuditTally::Values::spread(std::size_t count) const {
  if (count == 0) return {};
  ErrorSpread spread{sum_ / static_cast<double>(count), 0, largest_};
  const auto wanted = static_cast<std::size_t>(0.95 * static_cast<double>(count - 1)) + 1;
  std::size_t seen = 0;
  for (std::size_t b = 0; b < bins_.size() && seen < wanted; ++b) {
    seen += bins_[b];
    spread.p95 = std::min(largest_, (static_cast<double>(b) + 0.5) * bin_width);
  }
  return spread;
}

void AuditTally::add(const PixelError& error) {
  reduced_.add(error.reduced);
  jnd_.add(error.jnd);
  floor_.add(error.floor);
  for (std::size_t c = 0; c < 3; ++c) cones_[c].add(error.cones[c]);
  outside_ += error.leaves_range ? 1U : 0U;
  ++pixels_;
}

AuditResult AuditTally::result() const {
  AuditResult result;
  result.reduced = reduced_.spread(pixels_);
  result.jnd = jnd_.spread(pixels_);
  result.floor = floor_.spread(pixels_);
  for (std::size_t c = 0; c < 3; ++c)
    if (concerns_[c]) result.cones[c] = cones_[c].spread(pixels_);
  result.pixels = pixels_;
  if (pixels_ > 0)
    result.out_of_range = static_cast<double>(outside_) / static_cast<double>(pixels_);
  return result;
}

PictureAudit::PictureAudit(const Observer& observer, const Display& display)
    : auditor_(observer, display), tally_(auditor_) {}

void PictureAudit::add(std::span<const std::uint8_t> original, std::span<const std::uint8_t> view,
                       std::span<float> map) {
  expects(original.size() == view.size() && (map.empty() || 3 * map.size() == view.size()));
  // Photographs have millions of pairs of colours; what was forgotten is computed again.
  constexpr std::size_t most_kept = 1U << 18;
  for (std::size_t i = 0; i + 2 < original.size(); i += 3) {
    std::uint64_t key = 0;
    for (std::size_t c = 0; c < 3; ++c)
      key = key << 16 | static_cast<std::uint64_t>(original[i + c]) << 8 | view[i + c];
    auto at = known_.find(key);
    if (at == known_.end()) {
      if (known_.size() >= most_kept) known_.clear();
      const CodeLight& light = auditor_.light();
      const PixelError error =
          auditor_.compare(light.linear({original[i], original[i + 1], original[i + 2]}),
                           light.linear({view[i], view[i + 1], view[i + 2]}));
      at = known_.emplace(key, error).first;
    }
    keep(at->second, i / 3, map);
  }
}

void PictureAudit::add(std::span<const std::uint16_t> original, std::span<const std::uint16_t> view,
                       std::span<float> map) {
  expects(original.size() == view.size() && (map.empty() || 3 * map.size() == view.size()));
  for (std::size_t i = 0; i + 2 < original.size(); i += 3)
    keep(auditor_.compare(auditor_.deep_light(&original[i]), auditor_.deep_light(&view[i])), i / 3,
         map);
}

void PictureAudit::keep(const PixelError& error, std::size_t pixel, std::span<float> map) {
  tally_.add(error);
  if (!map.empty()) map[pixel] = static_cast<float>(error.reduced);
}

Result<void> check_same_size(int width, int height, int view_width, int view_height) {
  if (width != view_width || height != view_height)
    return fail(Error::Kind::bad_input,
                "the pictures differ in size: " + std::to_string(width) + " x " +
                    std::to_string(height) + " and " + std::to_string(view_width) + " x " +
                    std::to_string(view_height),
                "view", "", "give the original and a view of the whole of it");
  return {};
}

Result<AuditResult> audit(const Picture& original, const Picture& view, const Observer& observer,
                          const Display& display) {
  COPUNCTAL_TRY_VOID(check_same_size(original.width, original.height, view.width, view.height));
  PictureAudit whole(observer, display);
  whole.add(original.rgb, view.rgb);
  return whole.result();
}

}  // namespace copunctal
