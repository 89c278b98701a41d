#include "copunctal/view/published.h"

#include <algorithm>
#include <array>
#include <cmath>

#include "copunctal/base/expects.h"
#include "copunctal/data/table.h"

namespace copunctal {

double published_severity(const Observer& observer) {
  constexpr double normal_nm = 28;
  switch (observer.kind) {
    case ObserverKind::protan:
    case ObserverKind::deutan:
      return 100 * (normal_nm - observer.separation.nm) / normal_nm;
    case ObserverKind::tritan:
      return 100 * std::clamp(1 - observer.s_density_factor, 0.0, 1.0);
    default:
      return 0;
  }
}

Result<LinearMap<LinearRgb, LinearRgb>> severity_matrix(ObserverKind kind, double percent) {
  const char* letter = kind == ObserverKind::protan   ? "P"
                       : kind == ObserverKind::deutan ? "D"
                       : kind == ObserverKind::tritan ? "T"
                                                      : nullptr;
  if (letter == nullptr)
    return fail(Error::Kind::usage,
                "the matrices of 2009 know no " + std::string(name_of(kind)) + " observer",
                "method", "published-2009", "use protan, deutan or tritan");
  expects(percent >= 0 && percent <= 100);
  const Table& matrices = table("machado2009_matrices");
  const auto last = matrices.rows() - 1;
  const double at = percent / 100 * static_cast<double>(last);
  const std::size_t row = std::min(static_cast<std::size_t>(at), last - 1);
  const double t = at - static_cast<double>(row);
  LinearMap<LinearRgb, LinearRgb> map;
  for (std::size_t i = 0; i < 3; ++i)
    for (std::size_t j = 0; j < 3; ++j) {
      const auto& column = matrices.column(letter + std::to_string(i) + std::to_string(j));
      map.rows[i][j] = (1 - t) * column[row] + t * column[row + 1];
    }
  return map;
}

LinearMap<LinearRgb, LinearRgb> severity_matrix_for(ObserverKind kind, double percent,
                                                    const std::array<Power, 3>& primaries) {
  expects(kind == ObserverKind::protan || kind == ObserverKind::deutan);
  // Ingling & Tsou 1977, as used by the paper.
  constexpr std::array<std::array<double, 3>, 3> opponent = {
      {{0.600, 0.400, 0.000}, {0.240, 0.105, -0.700}, {1.200, -1.600, 0.400}}};
  const Table& cones = table("lms_smith_pokorny");
  const auto l = spectrum_from<EnergySensitivityKind>(cones, "L"),
             m = spectrum_from<EnergySensitivityKind>(cones, "M"),
             s = spectrum_from<EnergySensitivityKind>(cones, "S");
  double area_l = 0, area_m = 0;
  for (std::size_t i = 0; i < spectrum_size; ++i) {
    area_l += l[i];
    area_m += m[i];
  }
  EnergySensitivity l_a = l, m_a = m;
  const double alpha = 1 - percent / 100;
  for (std::size_t i = 0; i < spectrum_size; ++i) {
    if (kind == ObserverKind::protan)
      l_a[i] = alpha * l[i] + (1 - alpha) * 0.96 * area_l / area_m * m[i];
    else
      m_a[i] = alpha * m[i] + (1 - alpha) / 0.96 * area_m / area_l * l[i];
  }
  const auto stage = [&](const EnergySensitivity& cone_l, const EnergySensitivity& cone_m) {
    LinearMap<LinearRgb, ConeExcitation> gamma;
    for (std::size_t row = 0; row < 3; ++row) {
      double sum = 0;
      for (std::size_t p = 0; p < 3; ++p) {
        gamma.rows[row][p] = opponent[row][0] * integral(primaries[p], cone_l) +
                             opponent[row][1] * integral(primaries[p], cone_m) +
                             opponent[row][2] * integral(primaries[p], s);
        sum += gamma.rows[row][p];
      }
      for (double& entry : gamma.rows[row]) entry /= sum;
    }
    return gamma;
  };
  return inverse(stage(l, m)) * stage(l_a, m_a);
}

const LinearMap<LinearRgb, ConeExcitation> cones_of_1999{
    {{{17.8824, 43.5161, 4.11935}, {3.45565, 27.1554, 3.86714}, {0.0299566, 0.184309, 1.46709}}}};

std::array<double, 2> coefficients_of_1999(ObserverKind kind) {
  expects(kind == ObserverKind::protan || kind == ObserverKind::deutan);
  if (kind == ObserverKind::protan) return {2.02344, -2.52581};
  return {0.494207, 1.24827};
}

LinearMap<LinearRgb, LinearRgb> plane_of_1999(ObserverKind kind) {
  const auto [a, b] = coefficients_of_1999(kind);
  LinearMap<ConeExcitation, ConeExcitation> onto_plane;
  if (kind == ObserverKind::protan)
    onto_plane.rows = {{{0, a, b}, {0, 1, 0}, {0, 0, 1}}};
  else
    onto_plane.rows = {{{1, 0, 0}, {a, 0, b}, {0, 0, 1}}};
  return inverse(cones_of_1999) * (onto_plane * cones_of_1999);
}

AffineStep compression_of_1999(ObserverKind kind) {
  if (kind == ObserverKind::protan) return {0.992052, 0.003974};
  return {0.957237, 0.0213814};
}

}  // namespace copunctal
