// A class before and after its practical: what it is expected to read, frozen as a prediction card,
// and what it read beside it (docs/science/class.md).
//
// Pure: a set, its tables and the readings go in, plain data come out.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "copunctal/app/debrief.h"
#include "copunctal/base/result.h"

namespace copunctal {

/// Who is expected, and the rule: so many misses in the first round, or more, are looked into.
struct ClassExpected {
  std::int64_t men = 0, women = 0;
  std::int64_t misses = 3;
};

struct CardPlate {
  std::int64_t plate = 0;  ///< Index into the set.
  std::string name, kind;
  std::vector<std::string> drawn;
  bool for_everybody = true;        ///< Not of the which-kind round, which comes after misses only.
  double of_class = 0;              ///< P(read as drawn), a class of that make-up.
  std::vector<double> by_observer;  ///< The same of each observer.
};

/// What is frozen when a practical opens.
struct PredictionCard {
  std::string set_hash, display, made_utc;
  ClassExpected expected;
  std::int64_t first_round = 0;        ///< Vanishing plates in it.
  std::vector<std::string> observers;  ///< The tables' grid: "normal", "protan:0" ...
  std::vector<CardPlate> plates;
  double deficient = 0;               ///< Protan and deutan people expected in the class.
  double hits = 0, false_alarms = 0;  ///< People expected to meet the rule, with and without.
};

/// The card of a class. `response_slip` of answers are taken as given at random, as in outcomes.
/// Error: bad_input for nobody, more than 1000 people, or a rule that nobody or everybody meets.
Result<PredictionCard> predicted_class(const PlateSet& set, const ReadingTables& tables,
                                       const ClassExpected& expected, std::string made_utc);
/// Canonical JSON: its SHA-256 is the card's seal.
std::string card_json(const PredictionCard& card);

/// One person's readings, and whose eyes were lent: empty for the person's own.
struct ClassSitting {
  std::string lent;
  std::vector<PlateReading> readings;
};

/// So many of so many read a plate as drawn, without cells that could point to somebody: where
/// fewer than five people differ from all others, only `nearly` is said.
struct ReadShare {
  enum class Nearly { no, all, none, too_few };
  std::int64_t of = 0;
  std::optional<std::int64_t> as_drawn;
  Nearly nearly = Nearly::no;
};
inline constexpr std::int64_t smallest_cell = 5;
ReadShare read_share(std::int64_t as_drawn, std::int64_t of);

struct ClassPlate {
  std::string name, kind;
  std::vector<std::string> drawn;
  double predicted = 0;  ///< The card's, for the class.
  ReadShare own;         ///< Everybody with own eyes.
  struct Loan {
    std::string observer;
    double predicted = 0;
    ReadShare read;  ///< Exact for lent eyes; with its small cells hidden for "own".
  };
  std::vector<Loan> loans;
};

/// How well the card's numbers were, over plates that everybody sees. No answers where fewer than
/// ten people have own eyes; eyes the lot left to their owners count nowhere.
struct CardScore {
  std::int64_t answers = 0;
  double bits = 0;      ///< Mean -log2 P of what was read; 1 is a coin's.
  double expected = 0;  ///< What it would be were the card right.
  struct Bin {
    double from = 0, to = 0, predicted = 0;
    ReadShare read;
  };
  std::vector<Bin> bins;  ///< Those with answers.
};

/// What the verdicts on answers with lent eyes came to.
struct LoanVerdicts {
  std::string observer;
  std::int64_t sittings = 0, meet_rule = 0;
  std::vector<std::pair<std::string, std::int64_t>> verdicts;
};

/// Hits and false alarms among lent eyes for every rule: the truth is known there.
struct LoanRoc {
  std::int64_t with = 0, without = 0;  ///< Lent red-green observers; own eyes drawn by lot.
  struct Point {
    std::int64_t misses = 0;
    double hits = 0, false_alarms = 0;
  };
  std::vector<Point> points;
  double area = 0, error = 0;
};

struct ClassDebrief {
  std::int64_t own = 0, on_loan = 0;
  ReadShare meet_rule;  ///< Own eyes that met the rule; here `as_drawn` counts them.
  std::vector<ClassPlate> plates;
  CardScore own_score, loan_score;
  std::vector<LoanVerdicts> verdicts;
  std::optional<LoanRoc> roc;  ///< With ten of both at least.
};

/// What a class read, beside its card. Interrupted readings count for nothing.
ClassDebrief class_debrief(const PlateSet& set, const ReadingTables& tables,
                           const PredictionCard& card, const std::vector<ClassSitting>& sittings);

/// Misses in the first round.
std::int64_t first_round_misses(const PlateSet& set, const std::vector<PlateReading>& readings);

}  // namespace copunctal
