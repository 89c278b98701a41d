// The second judge over a whole set, beside the readings predicted by the model that designed it.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "copunctal/design/plate_set.h"
#include "copunctal/display/display.h"
#include "copunctal/judge/judge.h"

namespace copunctal {

/// What a figure is meant to do for an observer; `free`: nothing is asked of it.
enum class Meant { read, not_read, free };
/// "read", "not read" or "free".
std::string_view name_of(Meant meant);

/// What both say against what is meant. `not_asked` where nothing is.
enum class Standing { not_asked, as_meant, doubtful, not_as_meant };
/// "not asked", "as meant", "doubtful" or "not as meant".
std::string_view name_of(Standing standing);

/// One observer and one figure, seen by both.
struct SecondOpinion {
  std::string observer;  ///< As in observer_name_of().
  JudgeFinding judge;
  double reader = 0;  ///< P(the figure is read) of our own reader, averaged over its population.
  Meant meant = Meant::free;
  /// The worse of the two: the reader says "read" from one half on, the judge "visible", "marginal"
  /// (doubtful) or "invisible".
  Standing worse = Standing::not_asked;
  /// The two contradict each other: read and invisible, or not read and visible.
  bool disagree() const;
};

/// All of one plate, figure by figure, each in the order of judge_eyes.
struct PlateJudgement {
  std::vector<std::string> symbols;
  std::vector<std::vector<SecondOpinion>> figures;
  Standing worse = Standing::not_asked;  ///< The worst over figures and observers.
  /// Contradictions in words, one sentence each.
  std::vector<std::string> disagreements() const;
};

/// What a plate's figure is meant to do for an eye the judge knows: docs/science/judge.md.
Meant meant_of(const Plate& plate, std::size_t figure, JudgeEye eye);

/// The worse of the reader's P and the judge's verdict for what is meant.
Standing worse_of(Meant meant, double reader, JudgeVerdict judge);

/// Ground and figures of a plate as the judge gets them: codes and numbers of pebbles. Costs as
/// mosaic_of().
JudgePlate judge_plate_of(const Plate& plate);

/// A display as the judge gets it: chromaticities, the light of each code and the veil (black level
/// and ambient light); no spectra.
JudgeScreen judge_screen_of(const Display& display);

/// Joins the judge's findings on `judged`, a plate's judge_plate_of(), and the reader's
/// probabilities, reader[figure][eye] in the order of judge_eyes.
PlateJudgement judgement_of(const Plate& plate, const JudgePlate& judged, const JudgeScreen& screen,
                            const std::vector<std::vector<double>>& reader,
                            const JudgeConstants& constants = {});

}  // namespace copunctal
