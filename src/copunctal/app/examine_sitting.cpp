#include "copunctal/app/examine_sitting.h"

#include <algorithm>
#include <array>

#include "copunctal/app/run_sitting_checks.h"
#include "copunctal/app/run_sitting_rounds.h"
#include "copunctal/app/run_sitting_sight.h"
#include "copunctal/base/text.h"
#include "copunctal/store/store.h"

namespace copunctal {
namespace {

constexpr std::size_t most_void = 20;

tl::unexpected<Error> conflict(std::string message, std::string remedy) {
  return fail(Error::Kind::conflict, std::move(message), "sitting", "", std::move(remedy));
}

Result<Sight> examined(const Records& records, const PlateSet& set, std::string_view id) {
  COPUNCTAL_TRY(Sight sight, look_up(records, set, id));
  if (sight.sitting.way != "examined")
    return fail(Error::Kind::unsupported, "nobody examines in this sitting", "sitting", "",
                "begin one with an examiner");
  return sight;
}

const AnswerRecord* answer_to(const Sight& sight, std::int64_t item) {
  const auto at = std::find_if(sight.answers.begin(), sight.answers.end(),
                               [&](const AnswerRecord& answer) { return answer.item == item; });
  return at == sight.answers.end() ? nullptr : &*at;
}

bool has_later_round_begun(const PlateSet& set, const Sight& sight, const std::string& round) {
  const Progress progress = progress_of(set, sight.sitting.items, sight.answers);
  const auto place = [&](std::string_view name) {
    return std::find(progress.reached.begin(), progress.reached.end(), name);
  };
  return std::any_of(sight.answers.begin(), sight.answers.end(), [&](const AnswerRecord& answer) {
    return place(item_in(sight.sitting, answer.item)->round) > place(round);
  });
}

Result<void> check_signed(const SignOff& sign_off, const std::string& eye) {
  for (const std::string& name : sign_off.done) {
    const auto& all = technique_points();
    const auto point =
        std::find_if(all.begin(), all.end(), [&](const auto& one) { return one.name == name; });
    if (point == all.end() || (point->is_for_one_eye && eye == "both"))
      return wrong_field("done", "names '" + name.substr(0, 32) + "', which is no point here");
    if (std::count(sign_off.done.begin(), sign_off.done.end(), name) > 1)
      return wrong_field("done", "names '" + name + "' twice");
  }
  constexpr std::size_t longest_name = 64, longest_remark = 500;
  for (const auto& [field, text] :
       {std::pair{"examiner", &sign_off.examiner}, {"supervisor", &sign_off.supervisor}})
    if (text->empty() || characters_in(*text) > longest_name || has_control_character(*text))
      return wrong_field(field, "must have 1 to 64 characters, such as initials");
  if (characters_in(sign_off.remark) > longest_remark || has_control_character(sign_off.remark))
    return wrong_field("remark", "must have no more than 500 characters, in one line");
  return {};
}

}  // namespace

const std::vector<TechniquePoint>& technique_points() {
  static const std::vector<TechniquePoint> points = {
      {"room", "The room was dim, and nothing coloured was mirrored in the screen."},
      {"distance", "The distance was measured, and kept."},
      {"glasses", "Usual glasses were worn; tinted ones were taken off."},
      {"covered eye", "The other eye was covered, and not pressed.", true},
      {"same words", "The task was put in the same words as to everybody else."},
      {"time", "Each plate stood for its time and no longer, and was not shown a second time."},
      {"no verdict", "Neither words nor face said whether a reading was right."},
      {"as it was said",
       "Each reading was entered as it was said, with its hesitation or correction, before the "
       "next plate."},
      {"void", "Interrupted readings were declared void and repeated, not guessed."},
      {"in private", "The room could not hear the readings."},
  };
  return points;
}

Result<SittingState> ExaminerDesk::declare_void(std::string_view sitting, std::int64_t item,
                                                const std::string& reason) {
  constexpr std::array reasons = {"interrupted", "not looking", "wrong entry", "other"};
  if (std::find(reasons.begin(), reasons.end(), reason) == reasons.end())
    return wrong_field("reason", "must be 'interrupted', 'not looking', 'wrong entry' or 'other'");
  return rests_.store
      .change<SittingState>([this, id = std::string(sitting), item, reason,
                             now = rests_.clocks.utc()](Changes& changes) -> Result<SittingState> {
        COPUNCTAL_TRY(Sight sight, examined(changes, rests_.set, id));
        const ItemRecord* record = item_in(sight.sitting, item);
        if (record == nullptr || answer_to(sight, item) == nullptr)
          return wrong_field("item", "has no reading that could be void");
        if (sight.sitting.state == "ended")
          return conflict("this sitting has ended", "begin another one");
        COPUNCTAL_TRY(const auto voids, changes.voids_of(id));
        if (voids.size() >= most_void)
          return conflict("twenty readings of this sitting are void", "begin another one");
        for (const auto& [number, why] : voids)
          if (number == item) return conflict("this reading is void already", "go on");
        if (has_later_round_begun(rests_.set, sight, record->round))
          return conflict("a later round has begun", "only readings of the last round can be void");
        const ItemRecord repeat{static_cast<std::int64_t>(sight.sitting.items.size()),
                                record->round, record->plate, new_id(rests_.random), item};
        COPUNCTAL_TRY_VOID(changes.declare_void(id, item, reason, now));
        COPUNCTAL_TRY_VOID(changes.add(id, {repeat}));
        COPUNCTAL_TRY(sight, look_up(changes, rests_.set, id));
        return state_in(rests_.set, sight);
      })
      .get();
}

Result<SittingState> ExaminerDesk::other_eye(std::string_view sitting) {
  return rests_.store
      .change<SittingState>([this, id = std::string(sitting),
                             now = rests_.clocks.utc()](Changes& changes) -> Result<SittingState> {
        COPUNCTAL_TRY(Sight sight, examined(changes, rests_.set, id));
        if (sight.sitting.eye == "both")
          return conflict("both eyes sat together", "begin a sitting with one eye covered");
        if (sight.sitting.state != "ended") return still_running();
        if (sight.practical.state != "open")
          return conflict("this practical is closed", "ask whoever runs it");
        COPUNCTAL_TRY(const auto sat, changes.sittings_of_person(*sight.sitting.person));
        if (sat.size() > 1) return conflict("the other eye has sat", "see its own sheet");
        SittingRecord other = std::move(sight.sitting);
        other.id = new_id(rests_.random);
        other.eye = other.eye == "right" ? "left" : "right";
        other.state = "running";
        other.created_utc = now;
        other.ended_utc = std::nullopt;
        other.collect_sha256 = std::nullopt;
        other.order_seed = new_seed(rests_.random);
        other.items = lay_out_items(rests_.set, other.order_seed, rests_.random);
        COPUNCTAL_TRY_VOID(changes.add(other));
        COPUNCTAL_TRY(sight, look_up(changes, rests_.set, other.id));
        return state_in(rests_.set, sight);
      })
      .get();
}

Result<SittingSheet> ExaminerDesk::sheet(std::string_view sitting) const {
  return rests_.store.read<SittingSheet>([&](const Records& records) -> Result<SittingSheet> {
    COPUNCTAL_TRY(const Sight sight, examined(records, rests_.set, sitting));
    SittingSheet sheet{
        .sitting = sight.sitting.id,
        .practical = sight.practical.id,
        .practical_name = sight.practical.name,
        .pseudonym = sight.sitting.pseudonym,
        .eye = sight.sitting.eye,
        .state = sight.sitting.state,
        .shows_drawn = sight.sitting.state == "ended" && tell_in(sight.sitting) == Tell::tell,
        .rows = {},
        .points = {},
        .sign_off = {},
        .signed_utc = {},
        .other_eyes = {}};
    COPUNCTAL_TRY(const auto voids, records.voids_of(sitting));
    for (const AnswerRecord& answer : sight.answers) {
      const ItemRecord& item = *item_in(sight.sitting, answer.item);
      SittingSheet::Row row{.item = answer.item,
                            .round = item.round,
                            .plate = rests_.set.plates[static_cast<std::size_t>(item.plate)].name,
                            .end = answer.end,
                            .entered = answer.symbols,
                            .first_symbols = answer.first_symbols,
                            .hesitated = answer.hesitated,
                            .seconds = {},
                            .void_reason = {},
                            .repeats = item.repeats,
                            .drawn = sheet.shows_drawn ? drawn_on(rests_.set, item.plate)
                                                       : std::vector<std::string>()};
      if (answer.response_ms) row.seconds = (*answer.response_ms - answer.onset_ms) / 1000;
      for (const auto& [number, why] : voids)
        if (number == answer.item) row.void_reason = why;
      sheet.rows.push_back(std::move(row));
    }
    for (const TechniquePoint& point : technique_points())
      if (!point.is_for_one_eye || sheet.eye != "both") sheet.points.push_back(point);
    COPUNCTAL_TRY(const auto record, records.sign_off_of(sitting));
    if (record) {
      sheet.sign_off = {record->done, record->examiner, record->supervisor, record->remark};
      sheet.signed_utc = record->signed_utc;
    }
    COPUNCTAL_TRY(const auto all, records.sittings_of_person(*sight.sitting.person));
    for (const SittingRecord& other : all)
      if (other.id != sight.sitting.id) sheet.other_eyes.emplace_back(other.id, other.eye);
    return sheet;
  });
}

Result<SittingSheet> ExaminerDesk::sign_off(std::string_view sitting, const SignOff& sign_off) {
  COPUNCTAL_TRY(
      [[maybe_unused]] const bool is_signed,
      rests_.store
          .change<bool>([this, id = std::string(sitting), sign_off,
                         now = rests_.clocks.utc()](Changes& changes) -> Result<bool> {
            COPUNCTAL_TRY(const Sight sight, examined(changes, rests_.set, id));
            if (sight.sitting.state != "ended") return still_running();
            COPUNCTAL_TRY_VOID(check_signed(sign_off, sight.sitting.eye));
            COPUNCTAL_TRY(const auto before, changes.sign_off_of(id));
            if (before) return conflict("this sheet is signed", "a signature is never changed");
            COPUNCTAL_TRY_VOID(changes.add(SignOffRecord{
                id, sign_off.done, sign_off.examiner, sign_off.supervisor, sign_off.remark, now}));
            return true;
          })
          .get());
  return sheet(sitting);
}

Result<Rota> rota_for(std::int64_t people, std::int64_t stations) {
  constexpr std::int64_t most_people = 400;
  if (people < 2 || people > most_people)
    return wrong_field("people", "must be 2 to 400: somebody sits and somebody examines");
  if (stations < 1 || stations > most_people)
    return wrong_field("stations", "must be 1 to 400 screens");
  std::vector<std::vector<int>> groups;
  for (int person = 1; person <= people; ++person) {
    if (person % 2 == 1 && person < people) groups.emplace_back();
    groups.back().push_back(person);
  }
  Rota rota;
  for (std::size_t first = 0; first < groups.size(); first += static_cast<std::size_t>(stations)) {
    const std::size_t end = std::min(groups.size(), first + static_cast<std::size_t>(stations));
    std::size_t longest = 0;
    for (std::size_t g = first; g < end; ++g) longest = std::max(longest, groups[g].size());
    for (std::size_t turn = 0; turn < longest; ++turn) {
      auto& places = rota.turns.emplace_back();
      for (std::size_t g = first; g < end; ++g) {
        const std::vector<int>& group = groups[g];
        if (turn >= group.size()) continue;
        places.push_back(
            {static_cast<int>(g - first) + 1, group[turn], group[(turn + 1) % group.size()]});
      }
    }
  }
  return rota;
}

}  // namespace copunctal
