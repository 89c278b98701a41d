// What one sitting's readings say: evidence first, then the prior, then what was shown.
//
// Pure: a set, the readings and the optional sex at birth go in, plain data for pages and files
// come out. Nothing here decides whether the person wanted to know; run_sitting does.
#pragma once

#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "copunctal/base/result.h"
#include "copunctal/design/plate_set.h"
#include "copunctal/image/picture.h"
#include "copunctal/view/audit.h"

namespace copunctal {

/// Asked for the prior only; "not given" is an equal mix of both.
enum class SexAtBirth { female, male };

/// One plate as it was answered in a sitting.
struct PlateReading {
  std::size_t plate = 0;             ///< Index into set.plates.
  std::vector<std::string> symbols;  ///< What was read, ascending; empty: "no figure for me".
  bool out_of_time = false;          ///< No answer came; `symbols` is empty. Counts as a miss.
  bool interrupted = false;          ///< Void: shown in the debrief, not weighed.
};

/// Whether symbols, ascending as in a reading, are those a plate was drawn with, and no others.
bool read_as_drawn(const Plate& plate, const std::vector<std::string>& symbols);

/// How well one observer explains the readings.
struct ObserverEvidence {
  std::string observer;         ///< "normal", "protan:5", "tritan", ...
  double log10_likelihood = 0;  ///< log10 P(readings | observer).
  double relative = 0;          ///< Likelihood over that of the best observer, 0..1.
};

/// Probability of a kind, before (prior) and after (posterior) the readings.
struct KindProbability {
  std::string kind;  ///< "normal", "protan", "deutan", "tritan".
  double prior = 0, evidence_only = 0,
         posterior = 0;  ///< evidence_only: posterior under equal kinds.
};

/// Posterior over residual separation within one kind; probabilities sum to 1.
struct SeparationProbability {
  double separation_nm = 0, probability = 0;
};

/// What one observer was predicted to do with one plate.
struct PlatePrediction {
  std::string observer;
  std::string reads;    ///< Most probable reading in words: "4", "nothing", "4 and 7".
  double intended = 0;  ///< P(the drawn symbol, or for fork plates the first, is read).
  double second = 0;    ///< Fork plates: P(the second is read); else 0.
  double nothing = 0, other = 0;
  std::string
      margins;  ///< "red-green 0, yellow-violet 0.3, luminance 0.8 of 3.8 needed: no figure".
};

struct DebriefPlate {
  PlateReading reading;
  std::string name, kind, aim;
  std::vector<std::string> drawn;
  bool as_drawn = false;  ///< Every drawn symbol was read, and nothing else.
  std::vector<PlatePrediction> predictions;
};

struct Debrief {
  bool interpretable = true;  ///< False when an opener was not read: then nothing else is said.
  std::vector<ObserverEvidence> evidence;  ///< Best first.
  std::vector<KindProbability> kinds;
  std::vector<SeparationProbability> protan_separation, deutan_separation;
  std::string prior_text;  ///< The prior in words, with its source.
  std::string verdict;     ///< "normal", "protan", "deutan", "tritan" or "cannot tell".
  std::string summary;     ///< One or two sentences, with the uncertainty.
  std::vector<std::string> assumptions;
  std::string caution;               ///< The intended-use sentence and whom to see.
  std::vector<DebriefPlate> plates;  ///< In the order shown.
};

/// Tables that take a second or two to compute, once per set: P(answer | observer) for a fresh
/// population at every grid point. Immutable once built; may be shared between threads.
class ReadingTables;

/// Builds the tables. Error: bad_input for a display unknown to this build.
Result<std::shared_ptr<const ReadingTables>> build_reading_tables(const PlateSet& set);

/// Weighs the readings. Each reading's plate must be a valid index (expects).
Debrief debrief(const PlateSet& set, const ReadingTables& tables,
                const std::vector<PlateReading>& readings, std::optional<SexAtBirth> sex);

/// A plate's picture, and for a dichromat's view how wrong that picture is.
struct SeenPlate {
  Picture picture;
  std::optional<AuditResult> error;
};

/// A plate as drawn ("original") or as another observer gets it ("protan:0", "tritan"), audited
/// where the view is a dichromat's. Error: usage for an observer that cannot be parsed.
Result<SeenPlate> plate_as_seen_by(const PlateSet& set, std::size_t plate,
                                   const std::string& observer);

/// The intended use, identical everywhere.
std::string_view intended_use();
/// Whom to see, and local rules.
std::string_view whom_to_see();

}  // namespace copunctal
