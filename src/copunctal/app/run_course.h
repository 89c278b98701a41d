// What stands above one practical: courses and their groups, who took part, how long data are kept,
// outcomes collected later, and answer sheets that the class judges blind.
#pragma once

#include <cstdint>
#include <functional>
#include <future>
#include <map>
#include <memory>
#include <mutex>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "copunctal/app/class_card.h"
#include "copunctal/app/run_sitting.h"
#include "copunctal/base/result.h"

namespace copunctal {

struct Sight;

/// An answer sheet without a name: what was read, plate by plate of the first round.
struct BlindSheet {
  std::int64_t number = 0;  ///< From 1, in an order of the practical's own.
  struct Row {
    std::string plate;
    std::vector<std::string> drawn, read;
    bool is_void = false;
  };
  std::vector<Row> rows;
  std::optional<std::int64_t> rating;  ///< This rater's own.
  std::string kind;                    ///< The same; empty before.
};

/// What the class made of its sheets, beside what is computed from the same readings.
struct BlindResult {
  std::int64_t raters = 0, sheets = 0, ratings = 0;
  std::int64_t with = 0, without = 0;  ///< Sheets with lent eyes, and with own ones by lot.
  struct Point {
    std::int64_t from = 0;  ///< Ratings of so much or more say "not normal".
    double hits = 0, false_alarms = 0;
  };
  std::vector<Point> points;  ///< Of all ratings together; empty with fewer than five of each.
  double area = 0, error = 0;
  double computed_area = 0, computed_error = 0;  ///< By the posterior's share of "not normal".
  std::int64_t kinds_right = 0, kinds_of = 0;    ///< Kinds named, of sheets with lent eyes.
  std::int64_t computed_right = 0;               ///< The same by the verdicts; of `with` sheets.
};

/// May be used from any number of threads. Errors common to all: as PracticalDesk.
class CourseDesk {
 public:
  /// What must outlive the desk.
  struct Rests {
    Store& store;
    const PlateSet& set;
    const DeskClocks& clocks;
    const RandomBytes& random;
    std::shared_future<Result<std::shared_ptr<const ReadingTables>>> tables;
  };
  explicit CourseDesk(Rests rests) : rests_(std::move(rests)) {}

  /// Prepares a practical as another one was, with nobody in it: last year's once more. Error:
  /// bad_input as for a new one.
  Result<PracticalSummary> copy(std::string_view practical, const std::string& name,
                                const std::string& course, const std::string& group);
  /// Nothing: without end. Error: bad_input for no day, or one that has passed.
  Result<PracticalSummary> keep_until(std::string_view practical, std::optional<std::string> day);

  /// Enters somebody in the list of those who took part; nothing leads from there to a sitting, and
  /// the list does not say when or in which order. Errors: bad_input; conflict unless it is open or
  /// closed less than a day ago.
  Result<void> take_part(std::string_view practical, const std::string& entry);
  Result<std::vector<std::string>> participations(std::string_view practical) const;

  /// A code with which the person's page is found again from any device; a new one takes the place
  /// of the old. Error: conflict off the record.
  Result<std::string> new_collect_code(std::string_view sitting);
  /// The sitting. Errors: bad_input for no code in form; not_found.
  Result<std::string> collect(std::string_view code) const;

  /// The sheets of a closed practical on which a lot was drawn, by consent to count in the class.
  /// `rater`: a random id that the device made up. Errors: bad_input, conflict until it is closed.
  Result<std::vector<BlindSheet>> blind_sheets(std::string_view practical,
                                               std::string_view rater) const;
  /// Error: bad_input for a rating other than 1 to 5, a kind or a sheet there is not.
  Result<void> rate(std::string_view practical, std::string_view rater, std::int64_t sheet,
                    std::int64_t rating, const std::string& kind);
  Result<BlindResult> blind_result(std::string_view practical) const;
  /// Nothing that was computed of a removed sitting stays in memory.
  void forget(std::string_view sitting);

 private:
  /// What is computed from a sheet's readings, which never change once its practical is closed.
  struct Computed {
    double not_normal = 0;  ///< The posterior's share under equal kinds.
    std::string verdict;
  };
  Computed computed_of(const Sight& sight, const ReadingTables& tables) const;

  Rests rests_;
  mutable std::mutex computed_lock_;
  mutable std::map<std::string, Computed, std::less<>> computed_;  ///< By sitting.
};

/// A rating's area under the curve and its error, from counts by rating (Hanley & McNeil 1982).
struct RatedArea {
  double area = 0, error = 0;
};
RatedArea rated_area(const std::vector<double>& with, const std::vector<double>& without);

}  // namespace copunctal
