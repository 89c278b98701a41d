#include "copunctal/app/observer_table.h"

#include <fmt/format.h>

#include "copunctal/app/debrief.h"
#include "copunctal/base/text.h"

namespace copunctal {

std::string observer_table_csv(const Observer& observer) {
  const Fundamentals f = fundamentals_of(observer);
  std::string csv = "# observer " + name_of(observer) + ", age " + shortest(observer.age.years) +
                    " years, field " + shortest(observer.field.deg) + " degrees\n";
  csv += "# cone fundamentals at the cornea, energy units, each peak 1\n";
  csv += "# source: CIE 170-1:2006 formulae and tables; docs/science/observer.md\n";
  if (observer.kind == ObserverKind::protan)
    csv += "# column L: what the L cones of this protan hold, residual separation " +
           shortest(observer.separation.nm) + " nm\n";
  if (observer.kind == ObserverKind::deutan)
    csv += "# column M: what the M cones of this deutan hold, residual separation " +
           shortest(observer.separation.nm) + " nm\n";
  for (const std::string& note : notes_on(observer)) csv += "# note: " + note + "\n";
  csv += "# " + std::string(intended_use()) + "\n";
  csv += "nm,L,M,S\n";
  for (std::size_t i = 0; i < spectrum_size; ++i)
    csv += fmt::format("{},{:.9g},{:.9g},{:.9g}\n", first_nm + static_cast<int>(i), f.l[i], f.m[i],
                       f.s[i]);
  return csv;
}

}  // namespace copunctal
