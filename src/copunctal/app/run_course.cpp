#include "copunctal/app/run_course.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <set>

#include "copunctal/app/run_sitting_checks.h"
#include "copunctal/app/run_sitting_rounds.h"
#include "copunctal/app/run_sitting_sight.h"
#include "copunctal/base/hash.h"
#include "copunctal/base/random.h"
#include "copunctal/base/text.h"
#include "copunctal/store/store.h"

namespace copunctal {
namespace {

constexpr std::size_t collect_code_size = 16;  // 80 bits

constexpr std::array kinds = {"normal", "protan", "deutan", "tritan"};

// The sittings on which a lot was drawn, in an order that follows from the practical's id alone.
Result<std::vector<Sight>> sheets_of(const Records& records, const PlateSet& set,
                                     std::string_view practical) {
  COPUNCTAL_TRY(const PracticalRecord record, record_of(records, set, practical));
  if (record.state != "closed")
    return fail(Error::Kind::conflict, "sheets are judged once the practical is closed",
                "practical", "", "close it first");
  COPUNCTAL_TRY(auto sittings, records.sittings_of(practical));
  std::erase_if(sittings, [](const SittingRecord& one) { return !one.loan || !one.for_class; });
  std::sort(sittings.begin(), sittings.end(),
            [](const SittingRecord& a, const SittingRecord& b) { return a.id < b.id; });
  RandomStream(std::stoull(sha256_hex(std::string(practical)).substr(0, 15), nullptr, 16))
      .shuffle(sittings);
  std::vector<Sight> sights;
  for (const SittingRecord& sitting : sittings) {
    COPUNCTAL_TRY(Sight sight, look_up(records, set, sitting.id));
    if (!sight.answers.empty()) sights.push_back(std::move(sight));
  }
  return sights;
}

BlindSheet sheet_of(const PlateSet& set, const Sight& sight, std::int64_t number) {
  BlindSheet sheet;
  sheet.number = number;
  for (const AnswerRecord& answer : sight.answers) {
    const ItemRecord& item = *item_in(sight.sitting, answer.item);
    if (item.round != "first" && item.round != "blue-yellow") continue;
    const auto plate = static_cast<std::size_t>(item.plate);
    sheet.rows.push_back({set.plates[plate].name, drawn_on(set, item.plate), answer.symbols,
                          answer.is_void || answer.end == "interrupted"});
  }
  // By plate: the order of showing is the sitting's own.
  std::sort(sheet.rows.begin(), sheet.rows.end(),
            [](const auto& a, const auto& b) { return a.plate < b.plate; });
  return sheet;
}

std::string_view kind_lent(const Sight& sight) {
  for (const std::string_view kind : {"protan", "deutan", "tritan"})
    if (sight.sitting.loan->starts_with(kind)) return kind;
  return "normal";
}

bool is_before(const std::string& day, const std::string& now_utc) {
  return day < now_utc.substr(0, 10);
}

tl::unexpected<Error> no_rater() {
  return wrong_field("rater", "must be 32 lower-case hexadecimal digits");
}

}  // namespace

RatedArea rated_area(const std::vector<double>& with, const std::vector<double>& without) {
  if (with.empty() || without.empty()) return {};
  double wins = 0;
  for (const double one : with)
    for (const double other : without) wins += one > other ? 1 : one == other ? 0.5 : 0;
  const auto n = static_cast<double>(with.size()), m = static_cast<double>(without.size());
  const double area = wins / (n * m), two_with = area / (2 - area),
               two_without = 2 * area * area / (1 + area);
  const double variance = (area * (1 - area) + (n - 1) * (two_with - area * area) +
                           (m - 1) * (two_without - area * area)) /
                          (n * m);
  return {area, std::sqrt(std::max(0.0, variance))};
}

Result<PracticalSummary> CourseDesk::copy(std::string_view practical, const std::string& name,
                                          const std::string& course, const std::string& group) {
  return rests_.store
      .change<PracticalSummary>(
          [this, key = std::string(practical), name, course, group, id = new_id(rests_.random),
           now = rests_.clocks.utc()](Changes& changes) -> Result<PracticalSummary> {
            COPUNCTAL_TRY(const PracticalRecord was, record_of(changes, rests_.set, key));
            const PracticalRecord record{.id = id,
                                         .name = name,
                                         .created_utc = now,
                                         .display = was.display,
                                         .set_hash = was.set_hash,
                                         .plates = was.plates,
                                         .exposure_ms = was.exposure_ms,
                                         .grace_ms = was.grace_ms,
                                         .state = "preparing",
                                         .loans = was.loans,
                                         .course = course,
                                         .group = group,
                                         .lateness = was.lateness,
                                         .again = was.again};
            COPUNCTAL_TRY_VOID(check_practical(record));
            COPUNCTAL_TRY_VOID(changes.add(record));
            return summary_of(record);
          })
      .get();
}

Result<PracticalSummary> CourseDesk::keep_until(std::string_view practical,
                                                std::optional<std::string> day) {
  return rests_.store
      .change<PracticalSummary>(
          [this, key = std::string(practical), day = std::move(day),
           now = rests_.clocks.utc()](Changes& changes) -> Result<PracticalSummary> {
            COPUNCTAL_TRY(PracticalRecord record, record_of(changes, rests_.set, key));
            record.keep_until = day;
            COPUNCTAL_TRY_VOID(check_practical(record));
            if (day && is_before(*day, now)) return wrong_field("keep_until", "has passed");
            COPUNCTAL_TRY_VOID(changes.keep_practical_until(key, day));
            return summary_of(record);
          })
      .get();
}

Result<void> CourseDesk::take_part(std::string_view practical, const std::string& entry) {
  constexpr std::size_t longest = 64;
  if (entry.empty() || characters_in(entry) > longest || has_control_character(entry))
    return wrong_field("entry", "must have 1 to 64 characters, such as a student number");
  COPUNCTAL_TRY(
      [[maybe_unused]] const bool is_entered,
      rests_.store
          .change<bool>(
              [this, key = std::string(practical), entry](Changes& changes) -> Result<bool> {
                COPUNCTAL_TRY(const PracticalRecord record, record_of(changes, rests_.set, key));
                if (record.state == "preparing")
                  return fail(Error::Kind::conflict, "this practical is not open yet", "practical",
                              "", "ask whoever runs it");
                COPUNCTAL_TRY_VOID(changes.add_participation(key, entry));
                return true;
              })
          .get());
  return {};
}

Result<std::vector<std::string>> CourseDesk::participations(std::string_view practical) const {
  return rests_.store.read<std::vector<std::string>>(
      [&](const Records& records) -> Result<std::vector<std::string>> {
        if (const auto there = record_of(records, rests_.set, practical); !there)
          return tl::unexpected(there.error());
        return records.participations_of(practical);
      });
}

Result<std::string> CourseDesk::new_collect_code(std::string_view sitting) {
  const std::string code = new_code(rests_.random, collect_code_size);
  COPUNCTAL_TRY([[maybe_unused]] const bool is_kept,
                rests_.store
                    .change<bool>([this, id = std::string(sitting),
                                   hash = sha256_hex(code)](Changes& changes) -> Result<bool> {
                      COPUNCTAL_TRY([[maybe_unused]] const Sight sight,
                                    look_up(changes, rests_.set, id));
                      COPUNCTAL_TRY_VOID(changes.set_collect_code(id, hash));
                      return true;
                    })
                    .get());
  return code;
}

Result<std::string> CourseDesk::collect(std::string_view code) const {
  const auto read = code_from(code, collect_code_size);
  if (!read) return wrong_field("code", "must be the sixteen letters and digits that were shown");
  COPUNCTAL_TRY(const auto sitting,
                rests_.store.read<std::optional<std::string>>([&](const Records& records) {
                  return records.sitting_to_collect(sha256_hex(*read));
                }));
  if (!sitting) return no_such("code");
  return *sitting;
}

Result<std::vector<BlindSheet>> CourseDesk::blind_sheets(std::string_view practical,
                                                         std::string_view rater) const {
  if (!is_id(rater)) return no_rater();
  return rests_.store.read<std::vector<BlindSheet>>(
      [&](const Records& records) -> Result<std::vector<BlindSheet>> {
        COPUNCTAL_TRY(const auto sights, sheets_of(records, rests_.set, practical));
        COPUNCTAL_TRY(const auto ratings, records.sheet_ratings_of(practical));
        std::vector<BlindSheet> sheets;
        for (const Sight& sight : sights) {
          BlindSheet& sheet = sheets.emplace_back(
              sheet_of(rests_.set, sight, static_cast<std::int64_t>(sheets.size()) + 1));
          for (const SheetRating& rating : ratings)
            if (rating.rater == rater && rating.sitting_id == sight.sitting.id) {
              sheet.rating = rating.rating;
              sheet.kind = rating.kind;
            }
        }
        return sheets;
      });
}

Result<void> CourseDesk::rate(std::string_view practical, std::string_view rater,
                              std::int64_t sheet, std::int64_t rating, const std::string& kind) {
  if (!is_id(rater)) return no_rater();
  if (rating < 1 || rating > 5) return wrong_field("rating", "must be 1 to 5");
  if (std::find(kinds.begin(), kinds.end(), kind) == kinds.end())
    return wrong_field("kind", "must be 'normal', 'protan', 'deutan' or 'tritan'");
  COPUNCTAL_TRY(
      [[maybe_unused]] const bool is_rated,
      rests_.store
          .change<bool>([this, key = std::string(practical), who = std::string(rater), sheet,
                         rating, kind](Changes& changes) -> Result<bool> {
            COPUNCTAL_TRY(const auto sights, sheets_of(changes, rests_.set, key));
            if (sheet < 1 || sheet > static_cast<std::int64_t>(sights.size()))
              return wrong_field("sheet", "is not one of these sheets");
            const Sight& sight = sights[static_cast<std::size_t>(sheet - 1)];
            COPUNCTAL_TRY_VOID(changes.put(SheetRating{who, sight.sitting.id, rating, kind}));
            return true;
          })
          .get());
  return {};
}

CourseDesk::Computed CourseDesk::computed_of(const Sight& sight,
                                             const ReadingTables& tables) const {
  {
    const std::scoped_lock hold(computed_lock_);
    if (const auto at = computed_.find(sight.sitting.id); at != computed_.end()) return at->second;
  }
  const Debrief said =
      debrief(rests_.set, tables, readings_in(sight.sitting, sight.answers), std::nullopt);
  Computed computed{0, said.verdict};
  for (const KindProbability& one : said.kinds)
    if (one.kind != "normal") computed.not_normal += one.evidence_only;
  const std::scoped_lock hold(computed_lock_);
  return computed_.emplace(sight.sitting.id, std::move(computed)).first->second;
}

void CourseDesk::forget(std::string_view sitting) {
  const std::scoped_lock hold(computed_lock_);
  if (const auto at = computed_.find(sitting); at != computed_.end()) computed_.erase(at);
}

Result<BlindResult> CourseDesk::blind_result(std::string_view practical) const {
  std::vector<Sight> sights;
  std::vector<SheetRating> ratings;
  COPUNCTAL_TRY([[maybe_unused]] const bool is_read,
                rests_.store.read<bool>([&](const Records& records) -> Result<bool> {
                  COPUNCTAL_TRY(sights, sheets_of(records, rests_.set, practical));
                  COPUNCTAL_TRY(ratings, records.sheet_ratings_of(practical));
                  return true;
                }));
  const auto& tables = rests_.tables.get();
  if (!tables) return unknown_display(tables.error());

  BlindResult result;
  result.sheets = static_cast<std::int64_t>(sights.size());
  std::set<std::string> raters;
  std::vector<double> rated_with, rated_without, computed_with, computed_without;
  for (const Sight& sight : sights) {
    const std::string_view kind = kind_lent(sight);
    const bool is_lent = kind != "normal";
    ++(is_lent ? result.with : result.without);
    const Computed said = computed_of(sight, **tables);
    (is_lent ? computed_with : computed_without).push_back(said.not_normal);
    if (is_lent && said.verdict == kind) ++result.computed_right;
    for (const SheetRating& rating : ratings) {
      if (rating.sitting_id != sight.sitting.id) continue;
      raters.insert(rating.rater);
      ++result.ratings;
      (is_lent ? rated_with : rated_without).push_back(static_cast<double>(rating.rating));
      if (!is_lent) continue;
      ++result.kinds_of;
      if (rating.kind == kind) ++result.kinds_right;
    }
  }
  result.raters = static_cast<std::int64_t>(raters.size());
  const auto enough = [](const std::vector<double>& group) {
    return static_cast<std::int64_t>(group.size()) >= smallest_cell;
  };
  // Own eyes by lot are real people's: fewer than five of them would be pointed at.
  if (!enough(computed_with) || !enough(computed_without)) return result;
  const RatedArea computed = rated_area(computed_with, computed_without);
  result.computed_area = computed.area;
  result.computed_error = computed.error;
  if (!enough(rated_with) || !enough(rated_without)) return result;
  const RatedArea rated = rated_area(rated_with, rated_without);
  result.area = rated.area;
  result.error = rated.error;
  const auto share = [](const std::vector<double>& group, std::int64_t from) {
    return static_cast<double>(
               std::count_if(group.begin(), group.end(),
                             [&](double one) { return one >= static_cast<double>(from); })) /
           static_cast<double>(group.size());
  };
  for (std::int64_t from = 5; from >= 2; --from)
    result.points.push_back({from, share(rated_with, from), share(rated_without, from)});
  return result;
}

}  // namespace copunctal
