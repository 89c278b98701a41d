#include "copunctal/app/run_sitting_sight.h"

#include <algorithm>

#include "copunctal/app/run_sitting_checks.h"
#include "copunctal/app/run_sitting_rounds.h"
#include "copunctal/base/expects.h"

namespace copunctal {
namespace {

/// An examiner writes down what somebody else says: there is time for that.
constexpr std::int64_t examined_grace_ms = 120'000;

Settled refused(Error::Kind kind, std::string message, std::string remedy) {
  return {Error{kind, std::move(message), "answer", "", std::move(remedy)}, {}};
}

/// Once all other rounds are done, where the practical wants it.
void add_what_comes_again(const PlateSet& set, Sight& sight, const RandomBytes& random) {
  if (!sight.practical.again || progress_of(set, sight.sitting.items, sight.answers).round) return;
  for (ItemRecord& item :
       lay_out_again(set, sight.sitting.items, sight.answers, sight.sitting.order_seed, random))
    sight.sitting.items.push_back(std::move(item));
}

}  // namespace

Tell tell_in(const SittingRecord& sitting) {
  for (const Tell tell : {Tell::tell, Tell::dont_tell})
    if (sitting.tell == name_of(tell)) return tell;
  return Tell::later;
}

std::optional<SexAtBirth> sex_in(const SittingRecord& sitting) {
  if (!sitting.sex_at_birth) return std::nullopt;
  return *sitting.sex_at_birth == "female" ? SexAtBirth::female : SexAtBirth::male;
}

const ItemRecord* item_in(const SittingRecord& sitting, std::int64_t item) {
  const auto found = std::find_if(sitting.items.begin(), sitting.items.end(),
                                  [&](const ItemRecord& record) { return record.item == item; });
  return found == sitting.items.end() ? nullptr : &*found;
}

SittingState state_in(const PlateSet& set, const Sight& sight) {
  SittingState state{
      .sitting = sight.sitting.id,
      .practical = sight.practical.id,
      .practical_name = sight.practical.name,
      .pseudonym = sight.sitting.pseudonym,
      .on_loan = sight.sitting.loan.has_value(),
      .off_record = sight.off_record,
      .examined = sight.sitting.way == "examined",
      .eye = sight.sitting.eye,
      .ended = sight.sitting.state == "ended",
      .tell = tell_in(sight.sitting),
      .made_for = sight.sitting.display.value_or(set.display),
      .size_px = set.size_px,
      .exposure_ms = sight.practical.exposure_ms,
      .grace_ms = sight.sitting.way == "examined" ? examined_grace_ms : sight.practical.grace_ms,
      .family = set.family,
      .symbols = set.symbols,
      .answered = static_cast<std::int64_t>(sight.answers.size()),
      .round = std::nullopt};
  const Progress progress = progress_of(set, sight.sitting.items, sight.answers);
  if (state.ended || !progress.round) return state;

  RoundState round{.name = std::string(*progress.round),
                   .place = progress.place,
                   .of = progress.of,
                   .figures = figures_in(set, sight.sitting.items, *progress.round),
                   .items = {}};
  for (const ItemRecord& item : sight.sitting.items) {
    if (item.round != *progress.round) continue;
    const bool answered =
        std::any_of(sight.answers.begin(), sight.answers.end(),
                    [&](const AnswerRecord& answer) { return answer.item == item.item; });
    round.items.push_back({item.item, item.plate_id, answered, item.repeats.has_value()});
    // The plates of a round share one answer row.
    const Plate& plate = set.plates[static_cast<std::size_t>(item.plate)];
    state.family = answer_family(set, plate);
    state.symbols = answer_row(set, plate);
    // A path takes longer than the rings of its set's which-kind round.
    if (set.family == SymbolFamily::paths && state.family != SymbolFamily::paths)
      state.exposure_ms = std::min(sight.practical.exposure_ms, usual_exposure_ms);
  }
  state.round = std::move(round);
  return state;
}

Result<PracticalRecord> record_of(const Records& records, const PlateSet& set,
                                  std::string_view id) {
  COPUNCTAL_TRY(auto practical, records.practical(id));
  if (!practical) return no_such("practical");
  if (practical->set_hash != set.hash) return other_set(*practical);
  return *std::move(practical);
}

Result<Sight> look_up(const Records& records, const PlateSet& set, std::string_view id) {
  COPUNCTAL_TRY(auto sitting, records.sitting(id));
  if (!sitting) return no_such("sitting");
  COPUNCTAL_TRY(auto practical, records.practical(sitting->practical_id));
  expects(practical.has_value());
  if (practical->set_hash != set.hash) return other_set(*practical);
  COPUNCTAL_TRY(auto answers, records.answers_of(id));
  for (AnswerRecord& answer : answers) take_by_policy(answer, *practical);
  return Sight{*std::move(sitting), *std::move(practical), std::move(answers), false};
}

Result<Settled> judged(const PlateSet& set, Sight& sight, const AnswerRecord& answer,
                       const std::optional<AnswerRecord>& known, const RandomBytes& random,
                       std::optional<AuditReason>& audit) {
  const ItemRecord* item = item_in(sight.sitting, answer.item);
  if (item == nullptr) return wrong_field("item", "is not an item of this sitting");
  const int figures = figures_in(set, sight.sitting.items, item->round);
  const auto& row = answer_row(set, set.plates[static_cast<std::size_t>(item->plate)]);
  COPUNCTAL_TRY_VOID(check_symbols(answer.symbols, row, figures));
  if (answer.first_symbols) COPUNCTAL_TRY_VOID(check_symbols(*answer.first_symbols, row, figures));
  if ((answer.hesitated || answer.first_symbols) && sight.sitting.way != "examined")
    return wrong_field("hesitated", "is for an examiner to note");

  if (known && known->sitting_id == answer.sitting_id && known->body_sha256 == answer.body_sha256)
    return Settled{std::nullopt, {true, state_in(set, sight)}};
  if (known) {
    audit = AuditReason::conflict;
    return refused(Error::Kind::conflict, "another answer has this id", "the first one counts");
  }
  if (sight.sitting.state == "ended") {
    audit = AuditReason::late;
    return refused(Error::Kind::gone, "this sitting has ended",
                   sight.off_record ? "it does not count"
                                    : "the answer was kept, marked late; it does not count");
  }
  if (std::any_of(sight.answers.begin(), sight.answers.end(),
                  [&](const AnswerRecord& other) { return other.item == answer.item; })) {
    audit = AuditReason::conflict;
    return refused(Error::Kind::conflict, "this item has an answer already",
                   "the first one counts");
  }
  if (!progress_of(set, sight.sitting.items, sight.answers).has_reached(item->round))
    return wrong_field("item", "belongs to a round that has not been reached");
  sight.answers.push_back(answer);
  take_by_policy(sight.answers.back(), sight.practical);
  add_what_comes_again(set, sight, random);
  if (!progress_of(set, sight.sitting.items, sight.answers).round) {
    sight.sitting.state = "ended";
    sight.sitting.ended_utc = answer.received_utc;
  }
  return Settled{std::nullopt, {false, state_in(set, sight)}};
}

Result<Settled> settle(Changes& changes, const PlateSet& set, const AnswerRecord& answer,
                       const RandomBytes& random) {
  COPUNCTAL_TRY(Sight sight, look_up(changes, set, answer.sitting_id));
  COPUNCTAL_TRY(const auto known, changes.answer(answer.id));
  const bool had_ended = sight.sitting.state == "ended";
  const std::size_t items_before = sight.sitting.items.size();
  std::optional<AuditReason> audit;
  COPUNCTAL_TRY(Settled settled, judged(set, sight, answer, known, random, audit));
  if (audit) {
    if (auto kept = changes.refuse(answer, *audit); !kept)
      return tl::unexpected(std::move(kept).error());
    return settled;
  }
  if (settled.refusal || settled.receipt.is_duplicate) return settled;
  COPUNCTAL_TRY_VOID(changes.add(answer));
  if (sight.sitting.items.size() > items_before)
    COPUNCTAL_TRY_VOID(changes.add(
        answer.sitting_id, {sight.sitting.items.begin() + static_cast<std::ptrdiff_t>(items_before),
                            sight.sitting.items.end()}));
  if (!had_ended && sight.sitting.state == "ended") {
    if (auto ended = changes.end_sitting(answer.sitting_id, answer.received_utc); !ended)
      return tl::unexpected(std::move(ended).error());
  }
  return settled;
}

}  // namespace copunctal
