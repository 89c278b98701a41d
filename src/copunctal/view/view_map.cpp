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

bool is_monochromat(const Observer& o) {
  return o.kind == ObserverKind::rod_monochromat || o.kind == ObserverKind::s_cone_monochromat;
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

Result<ViewMap> ViewMap::make(const Observer& observer, const Display& display,
                              std::optional<ViewMethod> method) {
  return from(fundamentals_of(Observer{}), fundamentals_of(observer), observer, display, method);
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

void ViewMap::take(const AffineStep& step) {
  step_ = step;
  known_.clear();
}

Code ViewMap::compressed(const Code& original) const {
  return light_.code(clipped(step_(light_.linear(original))));
}

Code ViewMap::code(const Code& original) {
  const std::uint32_t key = static_cast<std::uint32_t>(original[0]) << 16 |
                            static_cast<std::uint32_t>(original[1]) << 8 | original[2];
  auto known = known_.find(key);
  if (known == known_.end()) {
    const LinearRgb colour = step_(light_.linear(original)), shown = fitted(colour);
    known = known_.emplace(key, Shown{light_.code(shown), !in_gamut((*this)(colour), 0.002)}).first;
  }
  ++seen_;
  if (known->second.outside) ++outside_;
  return known->second.code;
}

void ViewMap::apply(std::span<std::uint8_t> rgb) {
  for (std::size_t i = 0; i + 2 < rgb.size(); i += 3) {
    const Code seen = code({rgb[i], rgb[i + 1], rgb[i + 2]});
    std::copy(seen.begin(), seen.end(), rgb.begin() + static_cast<std::ptrdiff_t>(i));
  }
}

}  // namespace copunctal
