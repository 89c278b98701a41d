#include "copunctal/server/course_routes.h"

#include <nlohmann/json.hpp>

#include "copunctal/app/run_course.h"
#include "copunctal/base/text.h"
#include "copunctal/server/decode.h"
#include "copunctal/server/encode.h"
#include "copunctal/server/json_answer.h"

namespace copunctal {
namespace {

using nlohmann::ordered_json;

template <class T, class Encode>
Answered<Response> encoded_or_refusal(Result<T> result, Encode encode) {
  if (!result) return tl::unexpected(refusal_for(std::move(result).error()));
  return json_response(encode(*result));
}

Answered<Response> summary_or_refusal(Result<PracticalSummary> summary, int status) {
  if (!summary) return tl::unexpected(refusal_for(std::move(summary).error()));
  Response response;
  response.status = status;
  response.content_type = "application/json";
  response.text = json_of(*summary);
  return response;
}

Answered<Response> done_or_refusal(const Result<void>& done) {
  if (!done) return tl::unexpected(refusal_for(done.error()));
  Response response;
  response.status = 204;
  return response;
}

ordered_json sheets_json(const std::vector<BlindSheet>& sheets) {
  ordered_json list = ordered_json::array();
  for (const BlindSheet& sheet : sheets) {
    ordered_json rows = ordered_json::array();
    for (const BlindSheet::Row& row : sheet.rows)
      rows.push_back(
          {{"plate", row.plate}, {"drawn", row.drawn}, {"read", row.read}, {"void", row.is_void}});
    list.push_back({{"sheet", sheet.number},
                    {"rows", std::move(rows)},
                    {"rating", sheet.rating ? ordered_json(*sheet.rating) : nullptr},
                    {"kind", sheet.kind.empty() ? nullptr : ordered_json(sheet.kind)}});
  }
  return {{"sheets", std::move(list)}, {"intended_use", intended_use()}};
}

ordered_json result_json(const BlindResult& result) {
  ordered_json points = ordered_json::array();
  for (const BlindResult::Point& point : result.points)
    points.push_back(
        {{"from", point.from}, {"hits", point.hits}, {"false_alarms", point.false_alarms}});
  const bool is_enough = result.computed_area > 0;
  return {{"raters", result.raters},
          {"sheets", result.sheets},
          {"ratings", result.ratings},
          {"with", result.with},
          {"without", result.without},
          {"points", points},
          {"area", points.empty() ? nullptr : ordered_json(result.area)},
          {"error", points.empty() ? nullptr : ordered_json(result.error)},
          {"computed_area", is_enough ? ordered_json(result.computed_area) : nullptr},
          {"computed_error", is_enough ? ordered_json(result.computed_error) : nullptr},
          {"kinds_right", result.kinds_right},
          {"kinds_of", result.kinds_of},
          {"computed_right", result.computed_right},
          {"intended_use", intended_use()}};
}

Answered<Response> sheets(CourseDesk& courses, const Request& request, const PathParts& parts) {
  COPUNCTAL_TRY(const auto asked, questions_in(request.query(), {"rater"}));
  const auto at = asked.find("rater");
  return encoded_or_refusal(
      courses.blind_sheets(parts[0], at == asked.end() ? std::string() : at->second), sheets_json);
}

Answered<Response> rate(CourseDesk& courses, const Request& request, const PathParts& parts) {
  COPUNCTAL_TRY(const auto rated, sheet_rating_in(request.body));
  constexpr std::size_t longest = 6;
  const auto sheet = whole_number_from(parts[1]);
  if (!sheet || parts[1].size() > longest)
    return refuse(404, "sheet", "there is no such sheet", "check the address");
  return done_or_refusal(courses.rate(parts[0], rated.rater, static_cast<std::int64_t>(*sheet),
                                      rated.rating, rated.kind));
}

}  // namespace

void add_courses(Router& router, SittingDesk& desk, ClassDoor& door) {
  CourseDesk& courses = desk.courses();
  const std::string one = "/api/practicals/:id";
  router.add(Access::instructor, "POST", one + "/copy",
             [&courses](const Request& request, const PathParts& parts) -> Answered<Response> {
               COPUNCTAL_TRY(const auto wish, copy_in(request.body));
               constexpr int created = 201;
               return summary_or_refusal(courses.copy(parts[0], wish.name, wish.course, wish.group),
                                         created);
             });
  router.add(Access::instructor, "PUT", one + "/keep",
             [&courses](const Request& request, const PathParts& parts) -> Answered<Response> {
               COPUNCTAL_TRY(const auto day, last_day_in(request.body));
               return summary_or_refusal(courses.keep_until(parts[0], day), 200);
             });
  router.add(Access::participant, "POST", one + "/participation",
             [&courses](const Request& request, const PathParts& parts) -> Answered<Response> {
               COPUNCTAL_TRY(const std::string entry, entry_in(request.body));
               return done_or_refusal(courses.take_part(parts[0], entry));
             });
  router.add(Access::instructor, "GET", one + "/participations",
             [&courses](const Request&, const PathParts& parts) {
               return encoded_or_refusal(courses.participations(parts[0]), [](const auto& entries) {
                 return ordered_json{{"entries", entries}};
               });
             });
  router.add(Access::own_sitting, "POST", "/api/sittings/:id/collect-code",
             [&courses](const Request& request, const PathParts& parts) -> Answered<Response> {
               COPUNCTAL_TRY_VOID(nothing_in(request.body));
               return encoded_or_refusal(courses.new_collect_code(parts[0]),
                                         [](const std::string& code) {
                                           return ordered_json{{"code", code}};
                                         });
             });
  // 80 random bits: there is no finding one by trying.
  router.add(Access::participant, "POST", "/api/collect",
             [&courses, &door](const Request& request, const PathParts&) -> Answered<Response> {
               COPUNCTAL_TRY(const std::string code, join_code_in(request.body));
               auto sitting = courses.collect(code);
               if (!sitting) return tl::unexpected(refusal_for(std::move(sitting).error()));
               if (const auto device = door.device_of(request)) door.hand_over(*device, *sitting);
               return json_response({{"sitting", *sitting}});
             });
  router.add(Access::participant, "GET", one + "/sheets",
             [&courses](const Request& request, const PathParts& parts) {
               return sheets(courses, request, parts);
             });
  router.add(Access::participant, "PUT", one + "/sheets/:sheet",
             [&courses](const Request& request, const PathParts& parts) {
               return rate(courses, request, parts);
             });
  router.add(Access::demonstrator, "GET", one + "/sheets-result",
             [&courses](const Request&, const PathParts& parts) {
               return encoded_or_refusal(courses.blind_result(parts[0]), result_json);
             });
}

}  // namespace copunctal
