#include "copunctal/display/read_profile.h"

#include <cmath>
#include <memory>
#include <vector>

#include <lcms2.h>

#include <Eigen/Dense>

#include "copunctal/base/text.h"

namespace copunctal {
namespace {

using Matrix = Eigen::Matrix3d;
using Vector = Eigen::Vector3d;

struct CloseProfile {
  void operator()(void* profile) const { cmsCloseProfile(profile); }
};
struct DeleteTransform {
  void operator()(void* transform) const { cmsDeleteTransform(transform); }
};
using Profile = std::unique_ptr<void, CloseProfile>;
using Transform = std::unique_ptr<void, DeleteTransform>;

// D50 of the profile connection space (ICC.1).
const Vector d50(0.9642, 1.0, 0.8249);

Vector vector_of(const cmsCIEXYZ& c) {
  return {c.X, c.Y, c.Z};
}

Chromaticity chromaticity(const Vector& c) {
  return chromaticity_of({c[0], c[1], c[2]});
}

// Bradford's cone-like responses (ICC.1, annex E).
Matrix bradford_from(const Vector& from, const Vector& to) {
  Matrix response;
  response << 0.8951, 0.2664, -0.1614, -0.7502, 1.7135, 0.0367, 0.0389, -0.0685, 1.0296;
  const Vector a = response * from, b = response * to;
  return response.inverse() * b.cwiseQuotient(a).asDiagonal() * response;
}

tl::unexpected<Error> profile_error(const std::string& name, const std::string& what,
                                    const std::string& remedy) {
  return fail(Error::Kind::bad_input, name + ": " + what, "profile", name, remedy);
}

const cmsCIEXYZ* xyz_tag(void* profile, cmsTagSignature tag) {
  return static_cast<const cmsCIEXYZ*>(cmsReadTag(profile, tag));
}

// The way back from the profile connection space to the screen's own light.
Matrix unadapted(void* profile) {
  if (const auto* chad =
          static_cast<const cmsFloat64Number*>(cmsReadTag(profile, cmsSigChromaticAdaptationTag))) {
    Matrix matrix;
    for (int i = 0; i < 3; ++i)
      for (int j = 0; j < 3; ++j) matrix(i, j) = chad[3 * i + j];
    if (std::abs(matrix.determinant()) > 1e-6) return matrix.inverse();
  }
  if (const cmsCIEXYZ* white = xyz_tag(profile, cmsSigMediaWhitePointTag))
    if (white->Y > 0) return bradford_from(d50, vector_of(*white) / white->Y);
  return Matrix::Identity();
}

constexpr int curve_samples = 1024;

Result<ToneCurve> curve_from(const std::vector<double>& light) {
  std::vector<double> encoded(light.size()), rising(light);
  for (std::size_t i = 0; i < light.size(); ++i) {
    encoded[i] = static_cast<double>(i) / static_cast<double>(light.size() - 1);
    // Rounding inside a profile may step back by a hair; more is refused by the curve itself.
    if (i > 0 && rising[i] < rising[i - 1] && rising[i - 1] - rising[i] < 1e-4 * light.back())
      rising[i] = rising[i - 1];
  }
  return ToneCurve::sampled(encoded, rising);
}

struct Contents {
  std::array<Vector, 3> primaries;  ///< In the connection space.
  Vector white;
  std::array<std::vector<double>, 3> ramps;
  std::string how;
};

Result<Contents> matrix_contents(void* profile, const std::string& name) {
  constexpr std::array colorants = {cmsSigRedColorantTag, cmsSigGreenColorantTag,
                                    cmsSigBlueColorantTag};
  constexpr std::array curves = {cmsSigRedTRCTag, cmsSigGreenTRCTag, cmsSigBlueTRCTag};
  Contents contents;
  contents.white = Vector::Zero();
  for (std::size_t p = 0; p < 3; ++p) {
    const cmsCIEXYZ* colorant = xyz_tag(profile, colorants[p]);
    const auto* curve = static_cast<const cmsToneCurve*>(cmsReadTag(profile, curves[p]));
    if (colorant == nullptr || curve == nullptr)
      return profile_error(name, "a colorant or tone curve is missing", "use a display's profile");
    contents.primaries[p] = vector_of(*colorant);
    contents.white += contents.primaries[p];
    for (int i = 0; i < curve_samples; ++i)
      contents.ramps[p].push_back(static_cast<double>(cmsEvalToneCurveFloat(
          curve,
          static_cast<cmsFloat32Number>(i) / static_cast<cmsFloat32Number>(curve_samples - 1))));
  }
  contents.how = "matrix and tone curves";
  return contents;
}

Result<Contents> table_contents(void* profile, const std::string& name) {
  const Profile xyz(cmsCreateXYZProfile());
  const Transform transform(cmsCreateTransform(profile, TYPE_RGB_DBL, xyz.get(), TYPE_XYZ_DBL,
                                               INTENT_RELATIVE_COLORIMETRIC,
                                               cmsFLAGS_NOCACHE | cmsFLAGS_NOOPTIMIZE));
  if (!transform)
    return profile_error(name, "it holds neither a matrix nor a usable table",
                         "use a display's profile with colorants or an A2B table");
  const auto seen = [&](double r, double g, double b) -> Vector {
    const std::array<double, 3> rgb = {r, g, b};
    cmsCIEXYZ out{};
    cmsDoTransform(transform.get(), rgb.data(), &out, 1);
    return vector_of(out);
  };
  const Vector black = seen(0, 0, 0);
  Contents contents;
  contents.white = seen(1, 1, 1) - black;
  Vector sum = Vector::Zero();
  for (std::size_t p = 0; p < 3; ++p) {
    const auto channel = [&](double v) -> Vector {
      return seen(p == 0 ? v : 0, p == 1 ? v : 0, p == 2 ? v : 0) - black;
    };
    contents.primaries[p] = channel(1);
    sum += contents.primaries[p];
    constexpr int steps = 256;
    for (int i = 0; i < steps; ++i)
      contents.ramps[p].push_back(
          std::max(0.0, channel(static_cast<double>(i) / (steps - 1)).dot(contents.primaries[p])));
  }
  const double miss = (sum - contents.white).norm() / contents.white.norm();
  if (!(miss <= 0.05))
    return profile_error(
        name,
        "its primaries do not add to its white (they miss it by " + decimals(100 * miss, 1) + " %)",
        "cone work needs a display whose channels add: measure its spectra");
  contents.how = "tables, whose primaries miss their white by " + decimals(100 * miss, 2) + " %";
  return contents;
}

}  // namespace

Result<Display> display_from_profile(std::string_view bytes, const std::string& name,
                                     std::string_view panel) {
  const Profile profile(
      cmsOpenProfileFromMem(bytes.data(), static_cast<cmsUInt32Number>(bytes.size())));
  if (!profile)
    return profile_error(name, "this is no ICC profile, or a damaged one",
                         "export the display's profile again");
  if (cmsGetColorSpace(profile.get()) != cmsSigRgbData)
    return profile_error(name, "the profile is not of an RGB device", "use a display's profile");
  const bool has_matrix = cmsIsTag(profile.get(), cmsSigRedColorantTag) != 0 &&
                          cmsIsTag(profile.get(), cmsSigRedTRCTag) != 0;
  COPUNCTAL_TRY(const Contents contents, has_matrix ? matrix_contents(profile.get(), name)
                                                    : table_contents(profile.get(), name));
  const Matrix back = unadapted(profile.get());
  PrimaryColours colours;
  for (std::size_t p = 0; p < 3; ++p) {
    const Vector own = back * contents.primaries[p];
    if (!(own.sum() > 0) || !own.allFinite())
      return profile_error(name, "a primary gives no light", "export the display's profile again");
    colours.primaries[p] = chromaticity(own);
  }
  colours.white = chromaticity(back * contents.white);
  auto display = display_of(colours, panel);
  if (!display) return while_doing(name, std::move(display).error());
  for (std::size_t p = 0; p < 3; ++p) {
    auto curve = curve_from(contents.ramps[p]);
    if (!curve) return while_doing(name, std::move(curve).error());
    display->curves[p] = *std::move(curve);
  }
  if (const cmsCIEXYZ* luminance = xyz_tag(profile.get(), cmsSigLuminanceTag))
    if (luminance->Y > 0) {
      display->peak_cd_m2 = luminance->Y;
      display->peak_known = true;
    }
  display->name = name;
  display->known = DisplayStatus::profile;
  display->status = "profile: chromaticities and tone curves of an ICC profile version " +
                    decimals(cmsGetProfileVersion(profile.get()), 1) + " (" + contents.how + "), " +
                    display->status + "; the spectra were not measured";
  return display;
}

}  // namespace copunctal
