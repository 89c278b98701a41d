#include "copunctal/judge/cones.h"

#include <cmath>
#include <vector>

#include <Eigen/Dense>

#include "copunctal/base/expects.h"
#include "copunctal/data/table.h"

namespace copunctal {
namespace {

Eigen::MatrixXd columns_of(std::string_view name, const std::vector<std::string_view>& columns) {
  const Table& from = table(name);
  Eigen::MatrixXd matrix(static_cast<Eigen::Index>(from.rows()),
                         static_cast<Eigen::Index>(columns.size()));
  for (std::size_t c = 0; c < columns.size(); ++c)
    for (std::size_t row = 0; row < from.rows(); ++row)
      matrix(static_cast<Eigen::Index>(row), static_cast<Eigen::Index>(c)) =
          from.column(columns[c])[row];
  return matrix;
}

struct SmithPokorny {
  std::array<JudgeCones, 3> lms_from_xyz{};
  double residual = 0;
};

SmithPokorny fitted() {
  const Eigen::MatrixXd xyz = columns_of("xyz_judd_vos", {"x", "y", "z"}),
                        lms = columns_of("lms_smith_pokorny", {"L", "M", "S"});
  const Eigen::MatrixXd map = xyz.colPivHouseholderQr().solve(lms);  // lms = xyz map
  SmithPokorny result;
  result.residual = (xyz * map - lms).cwiseAbs().maxCoeff();
  // L and M add to luminance, as Smith & Pokorny have it.
  const Eigen::VectorXd share = lms.leftCols(2).colPivHouseholderQr().solve(xyz.col(1));
  for (Eigen::Index cone = 0; cone < 3; ++cone)
    for (Eigen::Index k = 0; k < 3; ++k)
      result.lms_from_xyz[static_cast<std::size_t>(cone)][static_cast<std::size_t>(k)] =
          map(k, cone) * (cone < 2 ? share(cone) : 1.0);
  return result;
}

const SmithPokorny& smith_pokorny() {
  static const SmithPokorny fit = fitted();
  return fit;
}

Eigen::Matrix3d lms_matrix() {
  Eigen::Matrix3d map;
  for (std::size_t i = 0; i < 3; ++i)
    for (std::size_t k = 0; k < 3; ++k)
      map(static_cast<Eigen::Index>(i), static_cast<Eigen::Index>(k)) =
          smith_pokorny().lms_from_xyz[i][k];
  return map;
}

// What curves on the five-nanometre grid catch of the primaries of the measured screen: a row for
// each primary.
Eigen::MatrixXd caught(const Eigen::MatrixXd& curves) {
  static const Eigen::MatrixXd primaries = columns_of("monitor_crt_basis", {"R", "G", "B"});
  expects(primaries.rows() == curves.rows());
  return primaries.transpose() * curves;
}

PigmentMixture mixture_of(std::string_view table_name, std::string_view column) {
  const Eigen::MatrixXd xyz = columns_of("xyz_judd_vos", {"x", "y", "z"});
  const Eigen::Matrix3d normal = caught(xyz * lms_matrix().transpose());
  const Eigen::Vector3d share =
      normal.partialPivLu().solve(Eigen::Vector3d(caught(columns_of(table_name, {column}))));
  return {share(0), share(1), share(2)};
}

// What the mixture catches relative to the white.
double mixed(const PigmentMixture& mixture, const JudgeCones& cones, const JudgeCones& white) {
  const double l = mixture.l * white[0], m = mixture.m * white[1], s = mixture.s * white[2];
  return (l * cones[0] + m * cones[1] + s * cones[2]) / (l + m + s);
}

}  // namespace

JudgeXy judd_vos_xy(JudgeXy cie_1931) {
  const auto [x, y] = cie_1931;
  const double scale = 0.03845 * x + 0.01496 * y + 1;
  return {(1.0271 * x - 0.00008 * y - 0.00009) / scale,
          (0.00376 * x + 1.0072 * y + 0.00764) / scale};
}

const std::array<JudgeCones, 3>& lms_from_judd_vos() {
  return smith_pokorny().lms_from_xyz;
}

double smith_pokorny_residual() {
  return smith_pokorny().residual;
}

JudgeXy smith_pokorny_copunctal(std::size_t cone) {
  expects(cone < 3);
  // The light that only this cone catches.
  const Eigen::Vector3d light = lms_matrix().inverse().col(static_cast<Eigen::Index>(cone));
  return {light(0) / light.sum(), light(1) / light.sum()};
}

const PigmentMixture& protanomalous_l() {
  static const PigmentMixture mixture = mixture_of("anomalous_L_demarco", "L_anom");
  return mixture;
}

const PigmentMixture& deuteranomalous_m() {
  static const PigmentMixture mixture = mixture_of("anomalous_M_demarco", "M_anom");
  return mixture;
}

std::string_view observer_name_of(JudgeEye eye) {
  switch (eye) {
    case JudgeEye::normal:
      return "normal";
    case JudgeEye::protanope:
      return "protan:0";
    case JudgeEye::protanomalous:
      return "protan:10";
    case JudgeEye::deuteranope:
      return "deutan:0";
    case JudgeEye::deuteranomalous:
      return "deutan:6";
    case JudgeEye::tritanope:
      return "tritan";
  }
  return {};
}

JudgeCones cones_of(JudgeEye eye, const JudgeCones& cones, const JudgeCones& white) {
  switch (eye) {
    case JudgeEye::normal:
    case JudgeEye::tritanope:
      break;
    case JudgeEye::protanope:
      return {cones[1], cones[1], cones[2]};
    case JudgeEye::deuteranope:
      return {cones[0], cones[0], cones[2]};
    case JudgeEye::protanomalous:
      return {mixed(protanomalous_l(), cones, white), cones[1], cones[2]};
    case JudgeEye::deuteranomalous:
      return {cones[0], mixed(deuteranomalous_m(), cones, white), cones[2]};
  }
  return cones;
}

}  // namespace copunctal
