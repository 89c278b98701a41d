#include "copunctal/view/view_map.h"

#include <algorithm>
#include <array>
#include <cmath>

#include "copunctal/colour/encoding.h"
#include "copunctal/observer/neutral.h"

namespace copunctal {
namespace {

constexpr std::array all_methods = {ViewMethod::plane, ViewMethod::half_planes,
                                    ViewMethod::line,  ViewMethod::substitution,
                                    ViewMethod::grey,  ViewMethod::published_2009};

// Beyond this a view counts as leaving the display's range: half a code of 8 bits, about.
constexpr double outside_by = 0.002;

using Cones = std::array<double, 3>;
Cones cones_of(const ConeExcitation& c) {
  return {c.l, c.m, c.s};
}
ConeExcitation excitation(const Cones& c) {
  return {c[0], c[1], c[2]};
}

std::size_t row_of_missing_cone(ObserverKind kind) {
  return kind == ObserverKind::protan ? 0 : kind == ObserverKind::deutan ? 1 : 2;
}

// Coefficients (a, b) that give the missing cone as a x first + b x second of the others, on the
// plane through black and two cone excitations.
std::array<double, 2> plane_through(std::size_t missing, const Cones& p, const Cones& q) {
  const std::size_t j = (missing + 1) % 3, k = (missing + 2) % 3;
  const double determinant = p[j] * q[k] - p[k] * q[j];
  return {(p[missing] * q[k] - p[k] * q[missing]) / determinant,
          (p[j] * q[missing] - p[missing] * q[j]) / determinant};
}

}  // namespace

std::string_view name_of(ViewMethod method) {
  switch (method) {
    case ViewMethod::plane:
      return "plane";
    case ViewMethod::half_planes:
      return "half-planes";
    case ViewMethod::line:
      return "line";
    case ViewMethod::substitution:
      return "substitution";
    case ViewMethod::grey:
      return "grey";
    case ViewMethod::published_2009:
      return "published-2009";
  }
  return "plane";
}

Result<ViewMethod> view_method_from(std::string_view name) {
  for (const ViewMethod method : all_methods)
    if (name_of(method) == name) return method;
  return fail(Error::Kind::usage, "no method named '" + std::string(name) + "'", "method",
              std::string(name),
              "use plane, half-planes, line, substitution, grey or published-2009");
}

bool is_dichromat(const Observer& observer) {
  switch (observer.kind) {
    case ObserverKind::protan:
    case ObserverKind::deutan:
      return observer.separation.nm == 0;
    case ObserverKind::tritan:
      return observer.s_density_factor == 0;
    default:
      return false;
  }
}

bool is_monochromat(const Observer& o) {
  return o.kind == ObserverKind::rod_monochromat || o.kind == ObserverKind::s_cone_monochromat;
}

Observer eye_of_claim(const Observer& observer) {
  if (!missing_cone(observer)) return {};
  const Observer standard;
  Observer eye = observer;
  eye.kind = ObserverKind::normal;
  eye.separation = standard.separation;
  eye.s_density_factor = standard.s_density_factor;
  return eye;
}

Result<ViewMap> ViewMap::make(const Observer& observer, const Display& display,
                              std::optional<ViewMethod> method) {
  return from(fundamentals_of(eye_of_claim(observer)), fundamentals_of(observer), observer, display,
              method);
}

Result<ViewMap> ViewMap::from(const Fundamentals& normal, const Fundamentals& other,
                              const Observer& observer, const Display& display,
                              std::optional<ViewMethod> method) {
  ViewMap map(display);
  const bool dichromat = missing_cone(observer).has_value(), monochromat = is_monochromat(observer);
  const ViewMethod usual = monochromat                             ? ViewMethod::grey
                           : !dichromat                            ? ViewMethod::substitution
                           : observer.kind == ObserverKind::tritan ? ViewMethod::half_planes
                                                                   : ViewMethod::plane;
  map.method_ = method.value_or(usual);
  const bool has_severity = observer.kind == ObserverKind::protan ||
                            observer.kind == ObserverKind::deutan ||
                            observer.kind == ObserverKind::tritan;
  const bool possible =
      map.method_ == ViewMethod::published_2009 ? has_severity
      : monochromat                             ? map.method_ == ViewMethod::grey
      : map.method_ == ViewMethod::substitution
          ? observer.kind != ObserverKind::tritan || !dichromat
          : dichromat && map.method_ != ViewMethod::grey &&
                (map.method_ != ViewMethod::plane || observer.kind != ObserverKind::tritan);
  if (!possible)
    return fail(Error::Kind::usage,
                "method " + std::string(name_of(map.method_)) + " cannot show what " +
                    name_of(observer) + " gets",
                "method", std::string(name_of(map.method_)),
                "leave --method out to use " + std::string(name_of(usual)));

  map.lms_ = lms_from_linear_rgb(normal, display);
  map.rgb_ = inverse(map.lms_);
  const auto theirs = lms_from_linear_rgb(other, display);
  const Cones white = {1, 1, 1};
  switch (map.method_) {
    case ViewMethod::substitution:
      map.direct_ = map.rgb_ * theirs;
      break;
    case ViewMethod::grey:
      // All three rows are their one signal; the display's grey of that drive gives it back.
      map.direct_.rows = {theirs.rows[0], theirs.rows[0], theirs.rows[0]};
      break;
    case ViewMethod::published_2009: {
      COPUNCTAL_TRY(map.direct_, severity_matrix(observer.kind, published_severity(observer)));
      break;
    }
    case ViewMethod::plane: {
      const std::size_t i = row_of_missing_cone(observer.kind), j = (i + 1) % 3, k = (i + 2) % 3;
      const auto [a, b] = plane_through(i, white, cones_of(map.lms_({0, 0, 1})));
      LinearMap<ConeExcitation, ConeExcitation> onto_plane;
      for (std::size_t row = 0; row < 3; ++row) onto_plane.rows[row][row] = row == i ? 0 : 1;
      onto_plane.rows[i][j] = a;
      onto_plane.rows[i][k] = b;
      map.direct_ = map.rgb_ * (onto_plane * map.lms_);
      break;
    }
    case ViewMethod::line:
    case ViewMethod::half_planes: {
      map.missing_ = row_of_missing_cone(observer.kind);
      // The monochromatic lights that look the same to both eyes, in white-normalised cones.
      const auto anchor = [&](int nm) {
        Cones c{};
        const std::array rows = {&normal.l, &normal.m, &normal.s};
        for (std::size_t row = 0; row < 3; ++row) {
          double total = 0;
          for (const Power& primary : display.primaries) total += integral(primary, *rows[row]);
          c[row] = rows[row]->at(nm) / total;
        }
        return c;
      };
      const bool tritan = observer.kind == ObserverKind::tritan;
      map.low_ = plane_through(map.missing_, white, anchor(tritan ? 660 : 575));
      map.high_ = plane_through(map.missing_, white, anchor(tritan ? 485 : 475));
      break;
    }
  }
  return map;
}

LinearRgb ViewMap::operator()(const LinearRgb& colour) const {
  if (method_ != ViewMethod::half_planes && method_ != ViewMethod::line) return direct_(colour);
  Cones c = cones_of(lms_(colour));
  const std::size_t j = (missing_ + 1) % 3, k = (missing_ + 2) % 3;
  // Which side of the neutral axis: S against M (protan) or L (deutan), M against L (tritan).
  const bool high = missing_ == 0 ? c[2] > c[1] : missing_ == 1 ? c[2] > c[0] : c[1] > c[0];
  const auto& [a, b] = high ? high_ : low_;
  c[missing_] = a * c[j] + b * c[k];
  return rgb_(excitation(c));
}

LinearRgb ViewMap::nearest_in_range(const LinearRgb& wanted) const {
  // Weighted least squares in cones over the cube, by coordinate descent: convex, three unknowns.
  const Cones target = cones_of(lms_(wanted));
  Cones weight{};
  for (std::size_t i = 0; i < 3; ++i) {
    const double sd = (i == missing_ ? 0.30 : 0.01) * (std::max(target[i], 0.0) + 0.02);
    weight[i] = 1 / (sd * sd);
  }
  const LinearRgb start = clipped(wanted);
  std::array<double, 3> x = {start.r, start.g, start.b};
  for (int sweep = 0; sweep < 400; ++sweep) {
    double moved = 0;
    for (std::size_t p = 0; p < 3; ++p) {
      double slope = 0, curvature = 0;
      for (std::size_t i = 0; i < 3; ++i) {
        const double miss =
            lms_.rows[i][0] * x[0] + lms_.rows[i][1] * x[1] + lms_.rows[i][2] * x[2] - target[i];
        slope += weight[i] * miss * lms_.rows[i][p];
        curvature += weight[i] * lms_.rows[i][p] * lms_.rows[i][p];
      }
      const double next = std::clamp(x[p] - slope / curvature, 0.0, 1.0);
      moved = std::max(moved, std::abs(next - x[p]));
      x[p] = next;
    }
    if (moved < 1e-7) break;
  }
  return {x[0], x[1], x[2]};
}

LinearRgb ViewMap::fitted(const LinearRgb& colour) const {
  const LinearRgb exact = (*this)(colour);
  if (in_gamut(exact)) return exact;
  switch (method_) {
    case ViewMethod::half_planes:
      return nearest_in_range(exact);
    case ViewMethod::line:
      return along_the_line(colour, exact);
    default:
      return clipped(exact);
  }
}

LinearRgb ViewMap::along_the_line(const LinearRgb& from, const LinearRgb& wanted) const {
  const LinearRgb way = wanted - from;
  double share = 1;
  for (const auto& [at, by] :
       {std::pair{from.r, way.r}, std::pair{from.g, way.g}, std::pair{from.b, way.b}}) {
    if (by > 0) share = std::min(share, std::max(0.0, 1 - at) / by);
    if (by < 0) share = std::min(share, std::max(0.0, at) / -by);
  }
  return clipped(from + share * way);
}

Result<AffineStep> ViewMap::step_into_range() const {
  if (method_ != ViewMethod::plane && method_ != ViewMethod::substitution)
    return fail(Error::Kind::usage,
                "method " + std::string(name_of(method_)) + " has no exact form by compression",
                "method", std::string(name_of(method_)),
                "use method plane or substitution, or method line, whose match is exact");
  // Linear, and white stays: the extremes lie at the cube's corners.
  double least = 0, most = 1;
  for (unsigned corner = 0; corner < 8; ++corner) {
    const LinearRgb seen =
        (*this)({corner & 1U ? 1.0 : 0.0, corner & 2U ? 1.0 : 0.0, corner & 4U ? 1.0 : 0.0});
    least = std::min({least, seen.r, seen.g, seen.b});
    most = std::max({most, seen.r, seen.g, seen.b});
  }
  return AffineStep{1 / (most - least), -least / (most - least)};
}

ViewMap::ViewMap(const Display& display) : light_(display.curves), curves_(display.curves) {
  is_srgb_ = std::all_of(curves_.begin(), curves_.end(),
                         [](const ToneCurve& curve) { return curve.is_srgb(); });
}

std::optional<KernelPlan> ViewMap::kernel_plan() const {
  if (!is_srgb_) return {};
  KernelPlan plan;
  plan.slack = static_cast<float>(outside_by);
  const auto matrix_of = [&](auto&& map) {
    std::array<std::array<double, 3>, 3> rows{};
    const std::array<LinearRgb, 3> unit = {{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}};
    for (std::size_t j = 0; j < 3; ++j) {
      const LinearRgb column = map(unit[j]);
      rows[0][j] = column.r;
      rows[1][j] = column.g;
      rows[2][j] = column.b;
    }
    return rows;
  };
  std::array<std::array<double, 3>, 3> a{};
  if (method_ == ViewMethod::half_planes || method_ == ViewMethod::line) {
    // Two maps that agree where the side changes: they differ by k n, n the side's own direction.
    const std::size_t j = (missing_ + 1) % 3, k = (missing_ + 2) % 3;
    const auto one_side = [&](const std::array<double, 2>& plane) {
      return matrix_of([&](const LinearRgb& colour) {
        Cones c = cones_of(lms_(colour));
        c[missing_] = plane[0] * c[j] + plane[1] * c[k];
        return rgb_(excitation(c));
      });
    };
    a = one_side(high_);
    const auto low = one_side(low_);
    // High where this cone has more than that one.
    const std::size_t more = missing_ == 2 ? 1 : 2, less = missing_ == 0 ? 1 : 0;
    double longest = 0;
    std::array<double, 3> n{};
    for (std::size_t p = 0; p < 3; ++p) {
      n[p] = lms_.rows[more][p] - lms_.rows[less][p];
      longest = std::max(longest, std::abs(n[p]));
    }
    plan.two_sided = true;
    for (std::size_t p = 0; p < 3; ++p) {
      plan.n[p] = static_cast<float>(n[p]);
      if (std::abs(n[p]) != longest) continue;
      for (std::size_t row = 0; row < 3; ++row)
        plan.k[row] = static_cast<float>((low[row][p] - a[row][p]) / n[p]);
    }
  } else {
    a = matrix_of([&](const LinearRgb& colour) { return direct_(colour); });
    // Rows that are the same but for rounding are made the same: the kernel works them out once.
    for (std::size_t row = 1; row < 3; ++row) {
      double furthest = 0;
      for (std::size_t p = 0; p < 3; ++p)
        furthest = std::max(furthest, std::abs(a[row][p] - a[0][p]));
      if (furthest < 1e-12) a[row] = a[0];
    }
  }
  for (std::size_t row = 0; row < 3; ++row)
    for (std::size_t p = 0; p < 3; ++p) plan.a[3 * row + p] = static_cast<float>(a[row][p]);
  return plan;
}

const ViewMap::Shown& ViewMap::shown(const Code& original) {
  const std::uint32_t key = static_cast<std::uint32_t>(original[0]) << 16 |
                            static_cast<std::uint32_t>(original[1]) << 8 | original[2];
  auto known = known_.find(key);
  if (known == known_.end()) {
    const LinearRgb colour = light_.linear(original), shown = fitted(colour);
    // Photographs have millions of colours; what was forgotten is computed again.
    constexpr std::size_t most_kept = 1U << 20;
    if (known_.size() >= most_kept) known_.clear();
    known = known_.emplace(key, Shown{light_.code(shown), !in_gamut((*this)(colour), outside_by)})
                .first;
  }
  return known->second;
}

Code ViewMap::code(const Code& original) {
  const Shown& known = shown(original);
  ++seen_;
  if (known.outside) ++outside_;
  return known.code;
}

void ViewMap::apply(std::span<std::uint8_t> rgb) {
  const auto plan = kernel_plan();
  if (!plan) {
    for (std::size_t i = 0; i + 2 < rgb.size(); i += 3) {
      const Code seen = code({rgb[i], rgb[i + 1], rgb[i + 2]});
      std::copy(seen.begin(), seen.end(), rgb.begin() + static_cast<std::ptrdiff_t>(i));
    }
    return;
  }
  const std::size_t pixels = rgb.size() / 3;
  seen_ += pixels;
  if (method_ != ViewMethod::half_planes && method_ != ViewMethod::line) {
    outside_ += run_kernel(*plan, rgb.data(), pixels, nullptr);
    return;
  }
  // What leaves the range is not clipped but fitted: those pixels go the exact way.
  KernelPlan strict = *plan;
  strict.slack = 1e-6F;
  flags_.resize(pixels);
  constexpr std::size_t at_once = 4096;
  std::array<std::uint8_t, 3 * at_once> original{};
  for (std::size_t at = 0; at < pixels; at += at_once) {
    const std::size_t now = std::min(at_once, pixels - at);
    std::uint8_t* strip = rgb.data() + 3 * at;
    std::copy_n(strip, 3 * now, original.begin());
    if (run_kernel(strict, strip, now, flags_.data()) == 0) continue;
    for (std::size_t i = 0; i < now; ++i) {
      if (flags_[i] == 0) continue;
      const Shown& known = shown({original[3 * i], original[3 * i + 1], original[3 * i + 2]});
      std::copy(known.code.begin(), known.code.end(), strip + 3 * i);
      outside_ += known.outside ? 1U : 0U;
    }
  }
}

void ViewMap::encode_deep(const LinearRgb& colour, std::uint16_t* rgb) const {
  constexpr double largest = 65535;
  const std::array<double, 3> drives = {colour.r, colour.g, colour.b};
  for (std::size_t c = 0; c < 3; ++c)
    rgb[c] = static_cast<std::uint16_t>(std::lround(largest * curves_[c].encoded(drives[c])));
}

LinearRgb ViewMap::fitted_of_codes(const std::uint16_t* rgb, bool& outside) const {
  constexpr double largest = 65535;
  const LinearRgb colour = {curves_[0].decoded(rgb[0] / largest),
                            curves_[1].decoded(rgb[1] / largest),
                            curves_[2].decoded(rgb[2] / largest)};
  outside = !in_gamut((*this)(colour), outside_by);
  return fitted(colour);
}

void ViewMap::apply(std::span<std::uint16_t> rgb) {
  const std::size_t pixels = rgb.size() / 3;
  seen_ += pixels;
  const auto plan = kernel_plan();
  const bool is_fitted = method_ == ViewMethod::half_planes || method_ == ViewMethod::line;
  if (plan && !is_fitted) {
    outside_ += run_kernel(*plan, rgb.data(), pixels, nullptr);
    return;
  }
  flags_.assign(pixels, 1);
  std::vector<std::uint16_t> original(rgb.begin(), rgb.end());
  if (plan) {
    KernelPlan strict = *plan;
    strict.slack = 1e-6F;
    run_kernel(strict, rgb.data(), pixels, flags_.data());
  }
  for (std::size_t i = 0; i < pixels; ++i) {
    if (flags_[i] == 0) continue;
    bool outside = false;
    encode_deep(fitted_of_codes(&original[3 * i], outside), &rgb[3 * i]);
    outside_ += outside ? 1U : 0U;
  }
}

}  // namespace copunctal
