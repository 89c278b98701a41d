#include "copunctal/server/encode.h"

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

#include "copunctal/base/expects.h"

namespace copunctal {
namespace {

using Json = nlohmann::ordered_json;

// The library would write null for a number that is none; a reader would take it for "absent".
double finite(double number) {
  expects(std::isfinite(number));
  return number;
}

Json text_or_null(const std::string& text) {
  return text.empty() ? Json(nullptr) : Json(text);
}

template <class T, class Encode>
Json list_of(const std::vector<T>& things, Encode encode) {
  Json list = Json::array();
  for (const T& thing : things) list.push_back(encode(thing));
  return list;
}

Json or_null(const std::string& text) {
  return text.empty() ? Json(nullptr) : Json(text);
}

Json practical_json(const PracticalSummary& practical) {
  return {{"id", practical.id},
          {"name", practical.name},
          {"created_utc", practical.created_utc},
          {"display", practical.display},
          {"set_hash", practical.set_hash},
          {"plates", practical.plates},
          {"exposure_ms", practical.exposure_ms},
          {"grace_ms", practical.grace_ms},
          {"sittings", practical.sittings},
          {"state", practical.state},
          {"loans", practical.loans},
          {"course", practical.course},
          {"group", practical.group},
          {"lateness", practical.lateness},
          {"again", practical.again},
          {"keep_until", or_null(practical.keep_until)},
          {"intended_use", intended_use()}};
}

Json round_json(const std::optional<RoundState>& round) {
  if (!round) return nullptr;
  return {{"name", round->name},
          {"place", round->place},
          {"of", round->of},
          {"figures", round->figures},
          {"items", list_of(round->items, [](const RoundState::Item& item) {
             return Json{{"item", item.item},
                         {"plate", item.plate},
                         {"answered", item.answered},
                         {"repeat", item.is_repeat}};
           })}};
}

Json state_json(const SittingState& state) {
  return {{"sitting", state.sitting},
          {"practical", state.practical},
          {"practical_name", state.practical_name},
          {"pseudonym", state.pseudonym},
          {"on_loan", state.on_loan},
          {"off_record", state.off_record},
          {"examined", state.examined},
          {"eye", state.eye},
          {"state", state.ended ? "ended" : "running"},
          {"tell", name_of(state.tell)},
          {"made_for", state.made_for},
          {"size_px", state.size_px},
          {"exposure_ms", state.exposure_ms},
          {"grace_ms", state.grace_ms},
          {"family", name_of(state.family)},
          {"symbols", state.symbols},
          {"answered", state.answered},
          {"round", round_json(state.round)}};
}

Json evidence_json(const ObserverEvidence& evidence) {
  return {{"observer", evidence.observer},
          {"log10_likelihood", finite(evidence.log10_likelihood)},
          {"relative", finite(evidence.relative)}};
}

Json kind_json(const KindProbability& kind) {
  return {{"kind", kind.kind},
          {"evidence_only", finite(kind.evidence_only)},
          {"prior", finite(kind.prior)},
          {"posterior", finite(kind.posterior)}};
}

Json separation_json(const SeparationProbability& separation) {
  return {{"separation_nm", finite(separation.separation_nm)},
          {"probability", finite(separation.probability)}};
}

Json line_json(const std::optional<DrawnScore>& drawn) {
  if (!drawn) return nullptr;
  return {{"followed", text_or_null(drawn->followed)},
          {"how", drawn->how},
          {"mean", finite(drawn->mean)},
          {"p95", finite(drawn->p95)},
          {"largest", finite(drawn->largest)},
          {"off_path", finite(drawn->off_path)},
          {"completeness", finite(drawn->completeness)},
          {"length_ratio", finite(drawn->length_ratio)},
          {"pen_lifts", drawn->pen_lifts},
          {"first_ms", finite(drawn->first_ms)},
          {"total_ms", finite(drawn->total_ms)}};
}

Json plate_json(const DebriefPlate& plate, const SittingOutcome::Shown& shown) {
  const bool has_second = plate.drawn.size() > 1;
  const auto prediction_json = [&](const PlatePrediction& prediction) {
    return Json{{"observer", prediction.observer},
                {"reads", prediction.reads},
                {"intended", finite(prediction.intended)},
                {"second", has_second ? Json(finite(prediction.second)) : Json(nullptr)},
                {"nothing", finite(prediction.nothing)},
                {"other", finite(prediction.other)},
                {"margins", prediction.margins}};
  };
  return {{"item", shown.item},
          {"round", shown.round},
          {"name", plate.name},
          {"kind", plate.kind},
          {"aim", text_or_null(plate.aim)},
          {"drawn", plate.drawn},
          {"answered", plate.reading.symbols},
          {"end", shown.end},
          {"void", shown.is_void},
          {"repeat", shown.is_repeat},
          {"hesitated", shown.hesitated},
          {"first_symbols", shown.first_symbols ? Json(*shown.first_symbols) : Json(nullptr)},
          {"line", line_json(shown.drawn)},
          {"flaw", text_or_null(shown.flaw)},
          {"as_drawn", plate.as_drawn},
          {"predictions", list_of(plate.predictions, prediction_json)}};
}

Json caution_json(const SittingOutcome& outcome) {
  return {{"intended_use", outcome.intended_use}, {"whom_to_see", outcome.whom_to_see}};
}

Json told_json(const SittingOutcome& outcome) {
  const Debrief& debrief = *outcome.debrief;
  expects(debrief.plates.size() == outcome.shown.size());
  // Of somebody who did not read an opener nothing more is said.
  const auto list_if_said = [&](const auto& list, const auto& one_json) {
    return debrief.interpretable ? list_of(list, one_json) : Json(Json::array());
  };
  Json plates = Json::array();
  for (std::size_t i = 0; i < debrief.plates.size(); ++i)
    plates.push_back(plate_json(debrief.plates[i], outcome.shown[i]));
  return {{"told", true},
          {"lent", or_null(outcome.lent)},
          {"interpretable", debrief.interpretable},
          {"caution", caution_json(outcome)},
          {"verdict", debrief.verdict},
          {"summary", debrief.summary},
          {"evidence", list_if_said(debrief.evidence, evidence_json)},
          {"kinds", list_if_said(debrief.kinds, kind_json)},
          {"separation",
           {{"protan", list_if_said(debrief.protan_separation, separation_json)},
            {"deutan", list_if_said(debrief.deutan_separation, separation_json)}}},
          {"prior_text", debrief.prior_text},
          {"assumptions", debrief.assumptions},
          {"plates", std::move(plates)},
          {"again", list_of(outcome.again, [](const SittingOutcome::Again& again) {
             return Json{{"item", again.item},     {"name", again.name}, {"drawn", again.drawn},
                         {"before", again.before}, {"now", again.now},   {"agree", again.agree}};
           })}};
}

template <class T>
Json or_null(const std::optional<T>& value) {
  return value ? Json(*value) : Json(nullptr);
}

Json asked_json(const ScreenCheck& check) {
  return {
      {"display", check.display},
      {"card_px", or_null(check.card_px)},
      {"device_pixel_ratio", check.device_pixel_ratio},
      {"screen_px", check.screen_px},
      {"screen_at", check.screen_at},
      {"colour_depth", check.colour_depth},
      {"gamut", check.gamut},
      {"tone_matches",
       list_of(
           check.tone_matches,
           [](const ToneMatch& match) {
             return Json{{"channel", match.channel}, {"share", match.share}, {"code", match.code}};
           })},
      {"black_step", or_null(check.black_step)},
      {"white_step", or_null(check.white_step)},
      {"neutral", or_null(check.neutral)},
      {"night_mode_off", check.night_mode_off},
      {"adapted", check.adapted},
      {"room_light", or_null(check.room_light)},
      {"statement", check.statement},
      {"refresh_hz", or_null(check.refresh_hz)},
      {"frame_spread_ms", or_null(check.frame_spread_ms)},
      {"dropped_frames", or_null(check.dropped_frames)}};
}

Json tone_json(const std::array<std::optional<ToneFit>, 3>& tone) {
  const auto fit_json = [](const std::optional<ToneFit>& fit) {
    return fit ? Json{{"gamma", finite(fit->gamma)}, {"rms_codes", finite(fit->rms_codes)}}
               : Json(nullptr);
  };
  if (!tone[0] && !tone[1] && !tone[2]) return nullptr;
  return {{"r", fit_json(tone[0])}, {"g", fit_json(tone[1])}, {"b", fit_json(tone[2])}};
}

Json display_json(const CheckedDisplay& checked) {
  return {{"record", checked.record.id},
          {"made_utc", checked.record.made_utc},
          {"expires_utc", checked.record.expires_utc},
          {"valid", checked.valid},
          {"ended", or_null(checked.ended)},
          {"status", checked.status},
          {"words", checked.words},
          {"pixels_per_mm", or_null(checked.pixels_per_mm)},
          {"tone", tone_json(checked.tone)},
          {"findings", list_of(checked.findings,
                               [](const DisplayFinding& finding) {
                                 return Json{{"what", finding.what},
                                             {"state", name_of(finding.state)},
                                             {"words", finding.words}};
                               })},
          {"asked", asked_json(checked.record.check)},
          {"intended_use", intended_use()}};
}

}  // namespace

std::string json_of(const PracticalSummary& practical) {
  return practical_json(practical).dump();
}

std::string open_practicals_json(const std::vector<PracticalSummary>& practicals) {
  return Json{{"practicals", list_of(practicals,
                                     [](const PracticalSummary& practical) {
                                       return Json{{"id", practical.id},
                                                   {"name", practical.name},
                                                   {"plates", practical.plates},
                                                   {"exposure_ms", practical.exposure_ms},
                                                   {"lends", !practical.loans.empty()}};
                                     })},
              {"intended_use", intended_use()}}
      .dump();
}

std::string json_of(const PracticalInFull& practical) {
  Json json = practical_json(practical.summary);
  json["loans_drawn"] = list_of(practical.loans, [](const LoanStatus& loan) {
    return Json{{"observer", loan.observer},
                {"ready", loan.is_ready},
                {"left_out", loan.left_out},
                {"refusal", loan.refusal.empty() ? Json(nullptr) : Json(loan.refusal)}};
  });
  json["opened_utc"] = or_null(practical.summary.opened_utc);
  json["closed_utc"] = or_null(practical.summary.closed_utc);
  json["card"] = practical.card.empty() ? Json(nullptr) : Json::parse(practical.card);
  json["card_sha256"] = or_null(practical.summary.card_sha256);
  json["card_is_as_sealed"] = practical.card_is_as_sealed;
  return json.dump();
}

std::string json_of(const std::vector<WatchedSitting>& sittings) {
  return Json{{"sittings", list_of(sittings,
                                   [](const WatchedSitting& one) {
                                     return Json{{"pseudonym", one.pseudonym},
                                                 {"stage", one.stage},
                                                 {"answered", one.answered},
                                                 {"of", one.of},
                                                 {"last_heard_utc", one.last_heard_utc}};
                                   })},
              {"intended_use", intended_use()}}
      .dump();
}

std::string json_of(const std::vector<PracticalSummary>& practicals) {
  return Json{{"practicals", list_of(practicals, practical_json)}}.dump();
}

std::string json_of(const SittingState& state) {
  return state_json(state).dump();
}

std::string json_of(const AnswerReceipt& receipt) {
  return Json{{"status", receipt.is_duplicate ? "duplicate" : "stored"},
              {"state", state_json(receipt.state)}}
      .dump();
}

std::string json_of(const SittingOutcome& outcome) {
  if (outcome.told) return told_json(outcome).dump();
  return Json{{"told", false},
              {"can_choose", outcome.can_choose},
              {"waits", outcome.waits},
              {"caution", caution_json(outcome)}}
      .dump();
}

std::string json_of(const CheckedDisplay& checked) {
  return display_json(checked).dump();
}

std::string json_of(const std::optional<CheckedDisplay>& current) {
  return Json{{"current", current ? display_json(*current) : Json(nullptr)}}.dump();
}

std::string stages_json(const std::vector<WatchedSitting>& watched) {
  Json stages = {{"begun", 0}, {"first round", 0}, {"later rounds", 0}, {"ended", 0}};
  for (const WatchedSitting& one : watched)
    stages[one.stage] = stages[one.stage].get<std::int64_t>() + 1;
  return Json{{"stages", std::move(stages)}, {"intended_use", intended_use()}}.dump();
}

}  // namespace copunctal
