#include "copunctal/app/run_practical.h"

#include <algorithm>
#include <map>

#include <nlohmann/json.hpp>

#include "copunctal/app/run_sitting_checks.h"
#include "copunctal/app/run_sitting_sight.h"
#include "copunctal/app/share_json.h"
#include "copunctal/base/hash.h"
#include "copunctal/store/store.h"

namespace copunctal {
namespace {

using Json = nlohmann::ordered_json;

struct Class {
  PracticalRecord practical;
  std::vector<SittingRecord> sittings;
  std::vector<std::vector<AnswerRecord>> answers;  ///< Beside the sittings.
};

Result<Class> class_of(const Records& records, const PlateSet& set, std::string_view id) {
  Class all;
  COPUNCTAL_TRY(all.practical, record_of(records, set, id));
  COPUNCTAL_TRY(all.sittings, records.sittings_of(id));
  for (const SittingRecord& sitting : all.sittings) {
    COPUNCTAL_TRY(auto answers, records.answers_of(sitting.id));
    for (AnswerRecord& answer : answers) take_by_policy(answer, all.practical);
    all.answers.push_back(std::move(answers));
  }
  return all;
}

tl::unexpected<Error> wrong_state(const PracticalRecord& practical, const std::string& wanted,
                                  const std::string& remedy) {
  return fail(Error::Kind::conflict,
              "the practical '" + practical.name + "' is " + practical.state + ", not " + wanted,
              "practical", "", remedy);
}

// A card as it was sealed, read back for comparing.
PredictionCard card_in(const std::string& text) {
  const Json json = Json::parse(text);
  PredictionCard card;
  card.set_hash = json.at("set_hash");
  card.display = json.at("display");
  card.made_utc = json.at("made_utc");
  card.expected = {json.at("men"), json.at("women"), json.at("misses")};
  card.first_round = json.at("first_round");
  card.deficient = json.at("expected_deficient");
  card.hits = json.at("expected_hits");
  card.false_alarms = json.at("expected_false_alarms");
  for (const Json& one : json.at("plates")) {
    CardPlate plate;
    plate.plate = one.at("plate");
    plate.name = one.at("name");
    plate.kind = one.at("kind");
    plate.drawn = one.at("drawn").get<std::vector<std::string>>();
    plate.for_everybody = one.at("for_everybody");
    // Four decimals may have made a certainty of what is none.
    constexpr double least = 0.00005;
    const auto open = [=](double p) { return std::clamp(p, least, 1 - least); };
    plate.of_class = open(one.at("of_class"));
    for (const auto& [observer, share] : one.at("by_observer").items()) {
      if (card.plates.empty()) card.observers.push_back(observer);
      plate.by_observer.push_back(open(share));
    }
    card.plates.push_back(std::move(plate));
  }
  return card;
}

Json score_json(const CardScore& score) {
  Json bins = Json::array();
  for (const CardScore::Bin& bin : score.bins)
    bins.push_back({{"from", bin.from},
                    {"to", bin.to},
                    {"predicted", bin.predicted},
                    {"read", share_json(bin.read)}});
  return {{"answers", score.answers},
          {"bits", score.bits},
          {"expected_bits", score.expected},
          {"bins", std::move(bins)}};
}

}  // namespace

Result<PracticalInFull> PracticalDesk::practical(std::string_view id) const {
  COPUNCTAL_TRY(const PracticalRecord record,
                rests_.store.read<PracticalRecord>(
                    [&](const Records& records) { return record_of(records, rests_.set, id); }));
  PracticalInFull full;
  full.summary = summary_of(record);
  full.card = record.card.value_or("");
  full.card_is_as_sealed = record.card && record.card_sha256 == sha256_hex(*record.card);
  for (const std::string& observer : record.loans) {
    rests_.loans.want(observer);
    LoanStatus status{observer, rests_.loans.is_ready(observer), {}, ""};
    if (status.is_ready) {
      if (const auto plates = rests_.loans.plates(observer))
        status.left_out = (*plates)->left_out;
      else
        status.refusal = plates.error().message;
    }
    full.loans.push_back(std::move(status));
  }
  return full;
}

Result<PracticalInFull> PracticalDesk::open(std::string_view id, const ClassExpected& expected) {
  COPUNCTAL_TRY(const PracticalInFull before, practical(id));
  for (const LoanStatus& loan : before.loans) {
    if (!loan.is_ready)
      return fail(Error::Kind::conflict,
                  "plates on loan of " + loan.observer + " are still being drawn", "practical", "",
                  "open it in some seconds");
    if (!loan.refusal.empty())
      return fail(Error::Kind::unsupported, loan.refusal, "loan", loan.observer,
                  "prepare a practical without this loan");
  }
  const auto& tables = rests_.tables.get();
  if (!tables) return unknown_display(tables.error());
  const std::string now = rests_.clocks.utc();
  COPUNCTAL_TRY(const PredictionCard card, predicted_class(rests_.set, **tables, expected, now));
  const std::string text = card_json(card), key(id);
  COPUNCTAL_TRY_VOID(
      rests_.store
          .change<bool>([this, key, text, now](Changes& changes) -> Result<bool> {
            COPUNCTAL_TRY(const PracticalRecord record, record_of(changes, rests_.set, key));
            if (record.state != "preparing")
              return wrong_state(record, "being prepared", "prepare another practical");
            if (auto opened = changes.open_practical(key, text, sha256_hex(text), now); !opened)
              return tl::unexpected(std::move(opened).error());
            return true;
          })
          .get());
  return practical(id);
}

Result<PracticalInFull> PracticalDesk::close(std::string_view id) {
  const std::string key(id), now = rests_.clocks.utc();
  COPUNCTAL_TRY_VOID(
      rests_.store
          .change<bool>([this, key, now](Changes& changes) -> Result<bool> {
            COPUNCTAL_TRY(const PracticalRecord record, record_of(changes, rests_.set, key));
            if (record.state != "open")
              return wrong_state(record, "open", "only an open practical can be closed");
            if (auto closed = changes.close_practical(key, now); !closed)
              return tl::unexpected(std::move(closed).error());
            return true;
          })
          .get());
  return practical(id);
}

Result<std::vector<WatchedSitting>> PracticalDesk::watch(std::string_view id) const {
  COPUNCTAL_TRY(const Class all, rests_.store.read<Class>([&](const Records& records) {
    return class_of(records, rests_.set, id);
  }));
  std::vector<WatchedSitting> watched;
  for (std::size_t s = 0; s < all.sittings.size(); ++s) {
    const SittingRecord& sitting = all.sittings[s];
    const std::string eye = sitting.eye == "both" ? "" : ", " + sitting.eye + " eye";
    WatchedSitting one{.pseudonym = sitting.pseudonym + eye,
                       .stage = "begun",
                       .answered = 0,
                       .of = 0,
                       .last_heard_utc = sitting.created_utc};
    const auto is_early = [](const ItemRecord& item) {
      return item.round == "warm-up" || item.round == "first";
    };
    one.of = std::count_if(sitting.items.begin(), sitting.items.end(), is_early);
    for (const AnswerRecord& answer : all.answers[s]) {
      one.last_heard_utc = std::max(one.last_heard_utc, answer.received_utc);
      for (const ItemRecord& item : sitting.items)
        if (item.item == answer.item && is_early(item)) ++one.answered;
    }
    if (one.answered > 0) one.stage = one.answered < one.of ? "first round" : "later rounds";
    if (sitting.state == "ended") one.stage = "ended";
    watched.push_back(std::move(one));
  }
  // Nobody shall be known by the order in which they came.
  std::sort(watched.begin(), watched.end(), [](const WatchedSitting& a, const WatchedSitting& b) {
    return a.pseudonym < b.pseudonym;
  });
  return watched;
}

Result<ClassDebrief> PracticalDesk::debrief_of(std::string_view id) const {
  COPUNCTAL_TRY(const Class all, rests_.store.read<Class>([&](const Records& records) {
    return class_of(records, rests_.set, id);
  }));
  if (all.practical.state != "closed")
    return wrong_state(all.practical, "closed", "close it first: nothing is said of a running one");
  const auto& tables = rests_.tables.get();
  if (!tables) return unknown_display(tables.error());
  std::vector<ClassSitting> sittings;
  for (std::size_t s = 0; s < all.sittings.size(); ++s) {
    // One eye alone is not what the card predicts.
    if (all.answers[s].empty() || !all.sittings[s].for_class || all.sittings[s].eye != "both")
      continue;
    sittings.push_back(
        {all.sittings[s].loan.value_or(""), readings_in(all.sittings[s], all.answers[s])});
  }
  if (!all.practical.card) {
    // Opened without one: what would have been predicted of a class of as many men as women.
    const auto half = static_cast<std::int64_t>((sittings.size() + 1) / 2);
    COPUNCTAL_TRY(const PredictionCard card,
                  predicted_class(rests_.set, **tables,
                                  {.men = std::max<std::int64_t>(1, half),
                                   .women = std::max<std::int64_t>(1, half),
                                   .misses = std::min<std::int64_t>(
                                       3, static_cast<std::int64_t>(rests_.set.plates.size()))},
                                  all.practical.created_utc));
    return class_debrief(rests_.set, **tables, card, sittings);
  }
  return class_debrief(rests_.set, **tables, card_in(*all.practical.card), sittings);
}

std::string class_debrief_json(const ClassDebrief& debrief, const PracticalInFull& practical) {
  Json plates = Json::array();
  for (const ClassPlate& plate : debrief.plates) {
    Json loans = Json::array();
    for (const ClassPlate::Loan& loan : plate.loans)
      loans.push_back({{"observer", loan.observer},
                       {"predicted", loan.predicted},
                       {"read", share_json(loan.read)}});
    plates.push_back({{"name", plate.name},
                      {"kind", plate.kind},
                      {"drawn", plate.drawn},
                      {"predicted", plate.predicted},
                      {"own", share_json(plate.own)},
                      {"loans", std::move(loans)}});
  }
  Json verdicts = Json::array();
  for (const LoanVerdicts& row : debrief.verdicts) {
    Json counts = Json::object();
    for (const auto& [verdict, count] : row.verdicts) counts[verdict] = count;
    verdicts.push_back({{"observer", row.observer},
                        {"sittings", row.sittings},
                        {"meet_rule", row.meet_rule},
                        {"verdicts", std::move(counts)}});
  }
  Json roc = nullptr;
  if (debrief.roc) {
    Json points = Json::array();
    for (const LoanRoc::Point& point : debrief.roc->points)
      points.push_back(
          {{"misses", point.misses}, {"hits", point.hits}, {"false_alarms", point.false_alarms}});
    roc = {{"with", debrief.roc->with},
           {"without", debrief.roc->without},
           {"points", std::move(points)},
           {"area", debrief.roc->area},
           {"error", debrief.roc->error}};
  }
  return Json{{"own", debrief.own},
              {"on_loan", debrief.on_loan},
              {"meet_rule", share_json(debrief.meet_rule)},
              {"plates", std::move(plates)},
              {"own_score", score_json(debrief.own_score)},
              {"loan_score", score_json(debrief.loan_score)},
              {"loans", std::move(verdicts)},
              {"roc", std::move(roc)},
              {"card_was_sealed", !practical.card.empty()},
              {"card_is_as_sealed", practical.card_is_as_sealed},
              {"intended_use", intended_use()},
              {"whom_to_see", whom_to_see()}}
      .dump();
}

}  // namespace copunctal
