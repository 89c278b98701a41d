#include "copunctal/server/paper_routes.h"

#include <nlohmann/json.hpp>

#include "copunctal/app/debrief.h"
#include "copunctal/server/decode.h"
#include "copunctal/server/json_answer.h"

namespace copunctal {
namespace {

using nlohmann::ordered_json;

ordered_json rows_json(const std::vector<PaperRow>& rows) {
  ordered_json plates = ordered_json::array();
  for (const PaperRow& row : rows)
    plates.push_back({{"number", plates.size() + 1},
                      {"name", row.name},
                      {"kind", row.kind},
                      {"symbols", row.symbols},
                      {"figures", row.figures}});
  return ordered_json{{"plates", std::move(plates)}, {"intended_use", intended_use()}};
}

Answered<Response> file_or_refusal(Result<std::string> bytes, std::string_view type,
                                   const std::string& name) {
  if (!bytes) return tl::unexpected(refusal_for(std::move(bytes).error()));
  Response response;
  response.content_type = type;
  response.headers.emplace_back("Content-Disposition", "attachment; filename=\"" + name + "\"");
  response.text = *std::move(bytes);
  return response;
}

}  // namespace

void add_paper(Router& router, PaperDesk& paper) {
  const std::string one = "/api/sets/:set";
  router.add(Access::instructor, "GET", one + "/answer-rows",
             [&paper](const Request&, const PathParts& parts) -> Answered<Response> {
               const auto rows = paper.rows(parts[0]);
               if (!rows) return tl::unexpected(refusal_for(rows.error()));
               return json_response(rows_json(*rows));
             });
  router.add(Access::instructor, "GET", one + "/answer-sheet",
             [&paper](const Request&, const PathParts& parts) {
               return file_or_refusal(paper.answer_sheet_pdf(parts[0]), "application/pdf",
                                      "answer-sheet.pdf");
             });
  router.add(Access::instructor, "GET", one + "/answer-table",
             [&paper](const Request&, const PathParts& parts) {
               return file_or_refusal(paper.table(parts[0]), "text/csv; charset=utf-8",
                                      "answers.csv");
             });
  router.add(Access::instructor, "POST", one + "/scores",
             [&paper](const Request& request, const PathParts& parts) -> Answered<Response> {
               COPUNCTAL_TRY(const std::string csv, answer_table_in(request.body));
               auto scores = paper.scores(parts[0], csv);
               if (!scores) return tl::unexpected(refusal_for(std::move(scores).error()));
               Response response;
               response.content_type = "application/json";
               response.text = *std::move(scores);
               return response;
             });
}

}  // namespace copunctal
