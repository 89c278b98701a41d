#include "copunctal/observer/neutral.h"

#include <cmath>

namespace copunctal {

std::optional<double> neutral_nm(const Fundamentals& f, MissingCone missing, const Power& white) {
  const EnergySensitivity& one = missing == MissingCone::l ? f.m : f.l;
  const EnergySensitivity& other = missing == MissingCone::s ? f.m : f.s;
  const double one_white = integral(white, one), other_white = integral(white, other);
  if (!(one_white > 0) || !(other_white > 0)) return std::nullopt;
  const auto excess = [&](int nm) {
    return std::log(one.at(nm) / one_white) - std::log(other.at(nm) / other_white);
  };
  // The tritan's ratio comes near that of white in the violet again; the trade's neutral point is
  // the yellow one, so the search goes from long to short wavelengths.
  const int from = missing == MissingCone::s ? 650 : 610;
  for (int nm = from; nm > 400; --nm) {
    const double here = excess(nm), next = excess(nm - 1);
    if ((here > 0) != (next > 0)) return nm - here / (here - next);
  }
  return std::nullopt;
}

std::optional<MissingCone> missing_cone(const Observer& o) {
  if (o.kind == ObserverKind::protan && o.separation.nm == 0) return MissingCone::l;
  if (o.kind == ObserverKind::deutan && o.separation.nm == 0) return MissingCone::m;
  if (o.kind == ObserverKind::tritan && o.s_density_factor == 0) return MissingCone::s;
  return std::nullopt;
}

Power illuminant(const char* table_name) {
  return spectrum_from<PowerKind>(table(table_name), "spd");
}

}  // namespace copunctal
