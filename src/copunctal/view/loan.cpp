#include "copunctal/view/loan.h"

#include <cmath>

#include "copunctal/observer/observer.h"
#include "copunctal/view/view_map.h"

namespace copunctal {

Result<Loan> Loan::make(const Observer& lent, const Display& display, double l_weight) {
  if (is_monochromat(lent))
    return fail(Error::Kind::unsupported,
                "a monochromat cannot be lent: no picture gives a viewer rods alone, or S cones",
                "loan", std::string(name_of(lent.kind)), "lend protan, deutan or tritan");
  const Fundamentals viewer_cones = fundamentals_of(Observer{}), lent_cones = fundamentals_of(lent);
  const auto viewer = lms_from_linear_rgb(viewer_cones, display);
  const ConeExcitation veil = veil_excitation(viewer_cones, display);

  // What the viewer's cones are to get: a map of the colour, and a veil of its own.
  LinearMap<LinearRgb, ConeExcitation> wanted = lms_from_linear_rgb(lent_cones, display);
  ConeExcitation wanted_veil = veil_excitation(lent_cones, display);
  const bool is_red_green = lent.kind == ObserverKind::protan || lent.kind == ObserverKind::deutan;
  if (is_red_green && lent.separation.nm <= 0) {
    const std::size_t kept = lent.kind == ObserverKind::protan ? 1 : 0;
    wanted.rows[0] = wanted.rows[1] = viewer.rows[kept];
    wanted_veil.l = wanted_veil.m = kept == 0 ? veil.l : veil.m;
  }
  if (lent.kind == ObserverKind::tritan && lent.s_density_factor <= 0) {
    for (std::size_t p = 0; p < 3; ++p)
      wanted.rows[2][p] = l_weight * wanted.rows[0][p] + (1 - l_weight) * wanted.rows[1][p];
    wanted_veil.s = l_weight * wanted_veil.l + (1 - l_weight) * wanted_veil.m;
  }

  Loan loan;
  loan.cones_ = wanted;
  loan.back_ = inverse(viewer);
  loan.wanted_veil_ = wanted_veil;
  loan.veil_ = veil;
  loan.l_weight_ = l_weight;
  return loan;
}

LinearRgb Loan::operator()(const LinearRgb& colour, double gain) const {
  ConeExcitation cones = cones_(colour) + wanted_veil_;
  if (gain != 1 && cones.l > 0 && cones.m > 0) {
    const double y = l_weight_ * cones.l + (1 - l_weight_) * cones.m,
                 ratio = std::pow(cones.l / cones.m, gain);
    cones.m = y / (l_weight_ * ratio + 1 - l_weight_);
    cones.l = ratio * cones.m;
  }
  return back_(cones - veil_);
}

}  // namespace copunctal
