#include "copunctal/colour/quantities.h"

using namespace copunctal;

int main() {
  constexpr LinearMap<LinearRgb, ConeExcitation> lms_from_rgb{};
  constexpr LinearMap<ConeExcitation, Xyz> xyz_from_lms{};
#ifdef SHOULD_FAIL
  constexpr auto both = lms_from_rgb * xyz_from_lms;
#else
  constexpr auto both = xyz_from_lms * lms_from_rgb;
#endif
  return both.rows[0][0] == 0 ? 0 : 1;
}
