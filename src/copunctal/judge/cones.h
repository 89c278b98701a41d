// The second judge's cones: Smith & Pokorny 1975, as a matrix of the Judd-Vos observer.
//
// They come from other measurements than the fundamentals of observer/ and need no spectra: a
// chromaticity is enough. Anomalous pigments (DeMarco, Pokorny & Smith 1992) are
// no such matrix; they are taken as the mixture of normal cones that is exact on one measured
// screen, a cathode-ray tube. docs/science/judge.md says what that costs on others.
#pragma once

#include <array>
#include <string_view>

namespace copunctal {

/// Chromaticity coordinates, plain numbers.
using JudgeXy = std::array<double, 2>;
/// L, M, S.
using JudgeCones = std::array<double, 3>;

/// Chromaticity of the Judd-Vos observer for one of CIE 1931 (Vos 1978; coefficients from memory,
/// checked against both tables' spectral loci: within .0001 to 620 nm, .0013 to 700 nm).
JudgeXy judd_vos_xy(JudgeXy cie_1931);

/// L, M, S of Judd-Vos tristimulus values, rows L, M, S; least squares of lms_smith_pokorny on
/// xyz_judd_vos, L and M scaled so that L + M is the Judd-Vos luminance, S as tabulated.
const std::array<JudgeCones, 3>& lms_from_judd_vos();

/// Largest residual of that fit, in units of the peak, over cones and wavelengths.
double smith_pokorny_residual();

/// Where the confusion lines of the eye without cone 0 (L), 1 (M) or 2 (S) meet, Judd-Vos x, y.
JudgeXy smith_pokorny_copunctal(std::size_t cone);

/// An anomalous pigment as a mixture of L, M and S on the scales of lms_from_judd_vos(): what it
/// catches of each primary of monitor_crt_basis, exactly, and nearly of any other light.
struct PigmentMixture {
  double l = 0, m = 0, s = 0;
};
/// Of anomalous_L_demarco: the protanomalous L'; its published separation from M is 10 nm.
const PigmentMixture& protanomalous_l();
/// Of anomalous_M_demarco: the deuteranomalous M'; its published separation from L is 6 nm.
const PigmentMixture& deuteranomalous_m();

/// The eyes the judge speaks for. `protanomalous`: separation 10 nm, `deuteranomalous`: 6 nm.
enum class JudgeEye { normal, protanope, protanomalous, deuteranope, deuteranomalous, tritanope };
inline constexpr std::array judge_eyes = {JudgeEye::normal,          JudgeEye::protanope,
                                          JudgeEye::protanomalous,   JudgeEye::deuteranope,
                                          JudgeEye::deuteranomalous, JudgeEye::tritanope};
/// The observer they are compared with: "normal", "protan:0", "protan:10", "deutan:0", "deutan:6",
/// "tritan".
std::string_view observer_name_of(JudgeEye eye);

/// What an eye's cones catch of a light the normal cones catch `cones` of, all relative to the same
/// white's. A dichromat's missing cone catches what its neighbour does, so that it tells nothing; a
/// tritan's S stays and is not used. `white`: what the normal cones catch of that white, L + M = 1.
JudgeCones cones_of(JudgeEye eye, const JudgeCones& cones, const JudgeCones& white);

}  // namespace copunctal
