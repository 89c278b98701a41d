#include "copunctal/observer/codons.h"

#include <algorithm>
#include <cmath>
#include <string>

#include "copunctal/data/table.h"

namespace copunctal {

const std::vector<Codon>& codons() {
  static const std::vector<Codon> all = [] {
    const Table& published = table("opsin_codons");
    std::vector<Codon> list;
    for (std::size_t i = 0; i < published.rows(); ++i)
      list.push_back({static_cast<int>(published.column("codon")[i]),
                      static_cast<int>(published.column("exon")[i]),
                      published.column("m_to_l_nm")[i], published.column("l_to_m_nm")[i]});
    return list;
  }();
  return all;
}

Result<Separation> separation_by_codons(ObserverKind kind, const std::vector<int>& changed) {
  if (kind != ObserverKind::protan && kind != ObserverKind::deutan)
    return fail(Error::Kind::usage, "only protan and deutan have a hybrid pigment", "codons", "",
                "leave out codons=");
  double sum = 0;
  for (const int number : changed) {
    const auto codon = std::find_if(codons().begin(), codons().end(),
                                    [&](const Codon& c) { return c.number == number; });
    if (codon == codons().end() || codon->exon == 5)
      return fail(
          Error::Kind::usage,
          "codon " + std::to_string(number) + " does not tell two pigments of one class apart",
          "codons", std::to_string(number), "use 116, 180, 230 and 233, joined by '+'");
    if (std::count(changed.begin(), changed.end(), number) > 1)
      return fail(Error::Kind::usage, "codon " + std::to_string(number) + " is given twice",
                  "codons", std::to_string(number), "give each codon once");
    sum += kind == ObserverKind::protan ? codon->m_to_l_nm : -codon->l_to_m_nm;
  }
  return Separation{sum};
}

}  // namespace copunctal
