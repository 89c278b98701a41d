#include "copunctal/view/audit.h"

#include <algorithm>
#include <cmath>
#include <unordered_map>
#include <vector>

#include "copunctal/colour/difference.h"
#include "copunctal/colour/encoding.h"
#include "copunctal/view/view_map.h"

namespace copunctal {

Result<AuditResult> audit(const Picture& original, const Picture& view, const Observer& observer,
                          const Display& display) {
  if (!is_dichromat(observer))
    return fail(Error::Kind::usage,
                name_of(observer) + " is no dichromat, and only a dichromat's view can be audited",
                "observer", name_of(observer), "use protan:0, deutan:0 or tritan");
  if (original.width != view.width || original.height != view.height)
    return fail(Error::Kind::bad_input,
                "the pictures differ in size: " + std::to_string(original.width) + " x " +
                    std::to_string(original.height) + " and " + std::to_string(view.width) + " x " +
                    std::to_string(view.height),
                "view", "", "give the original and a view of the whole of it");
  COPUNCTAL_TRY(const ViewMap reduce, ViewMap::make(observer, display, ViewMethod::half_planes));
  const auto lms = lms_from_linear_rgb(fundamentals_of(Observer{}), display);
  const auto xyz = xyz_from_linear_rgb(display);
  const Xyz white = xyz({1, 1, 1});
  const CodeLight light(display.curves);
  // Of white: keeps ratios near black meaningful. A display whose black and surroundings are known
  // brings its own.
  const ConeExcitation veil = veil_excitation(fundamentals_of(Observer{}), display);
  const double flare = std::max(0.005, (veil.l + veil.m) / 2);

  const std::size_t missing = observer.kind == ObserverKind::protan   ? 0
                              : observer.kind == ObserverKind::deutan ? 1
                                                                      : 2;
  struct One {
    double difference, cone_error;
  };
  const auto compare = [&](const LinearRgb& a, const LinearRgb& b) {
    const ConeExcitation ca = lms(a), cb = lms(b);
    const std::array<double, 3> before = {ca.l, ca.m, ca.s}, after = {cb.l, cb.m, cb.s};
    double error = 0;
    for (std::size_t i = 0; i < 3; ++i)
      if (i != missing) error += std::abs((after[i] + flare) / (before[i] + flare) - 1) / 2;
    return One{ciede2000(lab_from(xyz(reduce(a)), white), lab_from(xyz(reduce(b)), white)), error};
  };

  std::unordered_map<std::uint64_t, One> known;
  AuditResult result;
  std::vector<double> differences;
  differences.reserve(original.rgb.size() / 3);
  for (std::size_t i = 0; i < original.rgb.size(); i += 3) {
    std::uint64_t key = 0;
    for (std::size_t c = 0; c < 3; ++c)
      key = key << 16 | static_cast<std::uint64_t>(original.rgb[i + c]) << 8 | view.rgb[i + c];
    auto at = known.find(key);
    if (at == known.end()) {
      const Code a = {original.rgb[i], original.rgb[i + 1], original.rgb[i + 2]},
                 b = {view.rgb[i], view.rgb[i + 1], view.rgb[i + 2]};
      at = known.emplace(key, compare(light.linear(a), light.linear(b))).first;
    }
    differences.push_back(at->second.difference);
    result.mean_cone_error += at->second.cone_error;
  }
  result.pixels = differences.size();
  const auto n = static_cast<double>(result.pixels);
  for (const double d : differences) {
    result.mean += d / n;
    result.largest = std::max(result.largest, d);
  }
  result.mean_cone_error /= n;
  const auto at = static_cast<std::ptrdiff_t>(0.95 * (n - 1));
  std::nth_element(differences.begin(), differences.begin() + at, differences.end());
  result.p95 = differences[static_cast<std::size_t>(at)];
  return result;
}

}  // namespace copunctal
