// Anomalous pigments by the residues of their opsin: the published shifts, codon by codon.
#pragma once

#include <vector>

#include "copunctal/base/result.h"
#include "copunctal/base/units.h"
#include "copunctal/observer/observer.h"

namespace copunctal {

/// One of the seven codons at which the L and M opsins differ.
struct Codon {
  int number, exon;
  double m_to_l_nm;  ///< Shift when the M pigment gets L's residue.
  double l_to_m_nm;  ///< Shift when the L pigment gets M's residue (negative).
};

/// Stockman & Rider 2023, Table 3, means of six studies. The shifts sum to 27 and -31 nm; our scale
/// of separations ends at 28, and the printed numbers are taken as they are.
const std::vector<Codon>& codons();

/// The residual separation of an observer both of whose long-wave pigments are of one class and
/// differ at `changed` codons: for a protan an M pigment beside one with L's residues there, for a
/// deutan an L pigment beside one with M's. Two pigments of a class differ in exons 2 to 4 only
/// (exon 5 makes the class). Errors (usage): a codon that is not in the table or in exon 5, a kind
/// that is neither protan nor deutan.
Result<Separation> separation_by_codons(ObserverKind kind, const std::vector<int>& changed);

}  // namespace copunctal
