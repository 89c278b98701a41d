#include "copunctal/server/examine_routes.h"

#include <nlohmann/json.hpp>

#include "copunctal/app/examine_sitting.h"
#include "copunctal/base/text.h"
#include "copunctal/server/decode.h"
#include "copunctal/server/encode.h"
#include "copunctal/server/json_answer.h"

namespace copunctal {
namespace {

using nlohmann::ordered_json;

ordered_json sheet_json(const SittingSheet& sheet) {
  ordered_json rows = ordered_json::array();
  for (const SittingSheet::Row& row : sheet.rows)
    rows.push_back(
        {{"item", row.item},
         {"round", row.round},
         {"plate", row.plate},
         {"end", row.end},
         {"entered", row.entered},
         {"first_symbols", row.first_symbols ? ordered_json(*row.first_symbols) : nullptr},
         {"hesitated", row.hesitated},
         {"seconds", row.seconds ? ordered_json(*row.seconds) : nullptr},
         {"void", row.void_reason.empty() ? nullptr : ordered_json(row.void_reason)},
         {"repeats", row.repeats ? ordered_json(*row.repeats) : nullptr},
         {"drawn", sheet.shows_drawn ? ordered_json(row.drawn) : nullptr}});
  ordered_json points = ordered_json::array();
  for (const TechniquePoint& point : sheet.points)
    points.push_back({{"name", point.name}, {"words", point.words}});
  ordered_json signed_off = nullptr;
  if (sheet.sign_off)
    signed_off = {{"done", sheet.sign_off->done},
                  {"examiner", sheet.sign_off->examiner},
                  {"supervisor", sheet.sign_off->supervisor},
                  {"remark", sheet.sign_off->remark},
                  {"signed_utc", sheet.signed_utc}};
  ordered_json eyes = ordered_json::array();
  for (const auto& [sitting, eye] : sheet.other_eyes)
    eyes.push_back({{"sitting", sitting}, {"eye", eye}});
  return {{"sitting", sheet.sitting},
          {"practical", sheet.practical},
          {"practical_name", sheet.practical_name},
          {"pseudonym", sheet.pseudonym},
          {"eye", sheet.eye},
          {"state", sheet.state},
          {"shows_drawn", sheet.shows_drawn},
          {"rows", std::move(rows)},
          {"points", std::move(points)},
          {"sign_off", std::move(signed_off)},
          {"other_eyes", std::move(eyes)},
          {"intended_use", intended_use()},
          {"whom_to_see", whom_to_see()}};
}

Answered<Response> state_or_refusal(Result<SittingState> state, int status = 200) {
  if (!state) return tl::unexpected(refusal_for(std::move(state).error()));
  Response response;
  response.status = status;
  response.content_type = "application/json";
  response.text = json_of(*state);
  return response;
}

Answered<Response> sheet_or_refusal(Result<SittingSheet> sheet) {
  if (!sheet) return tl::unexpected(refusal_for(std::move(sheet).error()));
  return json_response(sheet_json(*sheet));
}

Answered<Response> rota(const Request& request) {
  COPUNCTAL_TRY(const auto asked, questions_in(request.query(), {"people", "stations"}));
  const auto number = [&](const char* key) {
    const auto at = asked.find(key);
    constexpr std::size_t longest = 6;
    if (at == asked.end() || at->second.size() > longest) return std::int64_t{0};
    return static_cast<std::int64_t>(whole_number_from(at->second).value_or(0));
  };
  auto made = rota_for(number("people"), number("stations"));
  if (!made) return tl::unexpected(refusal_for(std::move(made).error()));
  ordered_json turns = ordered_json::array();
  for (const auto& turn : made->turns) {
    ordered_json places = ordered_json::array();
    for (const Rota::Place& place : turn)
      places.push_back(
          {{"station", place.station}, {"sits", place.sits}, {"examines", place.examines}});
    turns.push_back(std::move(places));
  }
  return json_response({{"turns", std::move(turns)}});
}

}  // namespace

void add_examining(Router& router, SittingDesk& desk) {
  ExaminerDesk& examiners = desk.examiners();
  const std::string one = "/api/sittings/:id";
  router.add(Access::own_sitting, "POST", one + "/voids",
             [&examiners](const Request& request, const PathParts& parts) -> Answered<Response> {
               COPUNCTAL_TRY(const auto wish, void_in(request.body));
               return state_or_refusal(examiners.declare_void(parts[0], wish.first, wish.second));
             });
  router.add(Access::own_sitting, "POST", one + "/other-eye",
             [&examiners](const Request& request, const PathParts& parts) -> Answered<Response> {
               COPUNCTAL_TRY_VOID(nothing_in(request.body));
               constexpr int created = 201;
               return state_or_refusal(examiners.other_eye(parts[0]), created);
             });
  router.add(Access::own_sitting, "GET", one + "/sheet",
             [&examiners](const Request&, const PathParts& parts) {
               return sheet_or_refusal(examiners.sheet(parts[0]));
             });
  router.add(Access::own_sitting, "PUT", one + "/sign-off",
             [&examiners](const Request& request, const PathParts& parts) -> Answered<Response> {
               COPUNCTAL_TRY(const auto sign_off, sign_off_in(request.body));
               return sheet_or_refusal(examiners.sign_off(parts[0], sign_off));
             });
  router.add(Access::own_sitting, "POST", one + "/enough",
             [&desk](const Request& request, const PathParts& parts) -> Answered<Response> {
               COPUNCTAL_TRY_VOID(nothing_in(request.body));
               return state_or_refusal(desk.end_before_again(parts[0]));
             });
  router.add(Access::demonstrator, "GET", "/api/rota",
             [](const Request& request, const PathParts&) { return rota(request); });
}

}  // namespace copunctal
