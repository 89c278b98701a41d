#include "copunctal/server/show_routes.h"

#include <nlohmann/json.hpp>

#include "copunctal/app/debrief.h"
#include "copunctal/app/share_json.h"
#include "copunctal/base/text.h"
#include "copunctal/design/plate_set.h"
#include "copunctal/server/decode.h"
#include "copunctal/server/json_answer.h"

namespace copunctal {
namespace {

using nlohmann::ordered_json;

template <class T>
tl::unexpected<Refusal> refused(Result<T>&& result) {
  return tl::unexpected(refusal_for(std::move(result).error()));
}

ordered_json json_of(const ShowTally& tally) {
  ordered_json cells = ordered_json::array();
  for (const auto& [answer, count] : tally.cells)
    cells.push_back(
        {{"answer", answer}, {"count", count ? ordered_json(*count) : ordered_json(nullptr)}});
  return {{"answered", tally.answered},
          {"told", tally.is_told},
          {"as_drawn", tally.is_told ? share_json(tally.as_drawn) : ordered_json(nullptr)},
          {"cells", cells}};
}

/// What each observer is predicted to read, once it may be said.
ordered_json expected_of(const ShowState& state, PlateWorkshop& workshop) {
  if (state.phase != ShowPhase::revealed) return nullptr;
  const auto plates = workshop.plates(state.set);
  if (!plates || state.place >= plates->size()) return nullptr;
  const ShelfPlate& plate = (*plates)[state.place];
  ordered_json expected = ordered_json::array();
  for (const ShelfReading& reading : plate.readings)
    expected.push_back({{"observer", reading.observer},
                        {"first", reading.first},
                        {"second", plate.plate.figures.size() > 1 ? ordered_json(reading.second)
                                                                  : ordered_json(nullptr)},
                        {"margins", reading.margins}});
  return expected;
}

Response state_response(const ShowState& state, PlateWorkshop& workshop, int status = 200) {
  ordered_json drawn = ordered_json::array();
  for (const Figure& figure : state.plate.figures) drawn.push_back(figure.symbol);
  return json_response(
      {{"show", state.id},
       {"set", state.set},
       {"display", state.display},
       {"step", state.step},
       {"steps", state.steps},
       {"place", state.place},
       {"of", state.of},
       {"phase", name_of(state.phase)},
       {"over", state.is_over},
       {"on_for_ms", state.on_for_ms ? ordered_json(*state.on_for_ms) : ordered_json(nullptr)},
       {"plate",
        {{"name", state.plate.name},
         {"kind", name_of(state.plate.kind)},
         {"drawn", drawn},
         {"rests_on", basis_in_words(state.plate.kind)}}},
       {"expected", expected_of(state, workshop)},
       {"tally", json_of(state.tally)},
       {"words", show_words},
       {"intended_use", intended_use()}},
      status);
}

Response phone_response(const std::optional<PhoneShow>& show) {
  ordered_json told = nullptr;
  if (show)
    told = {{"id", show->id},
            {"place", show->place},
            {"of", show->of},
            {"open", show->is_open},
            {"symbols", show->symbols},
            {"family", name_of(show->family)},
            {"figures", show->figures},
            {"mine", show->mine ? ordered_json(*show->mine) : ordered_json(nullptr)}};
  return json_response({{"show", told}, {"words", show_words}});
}

Answered<std::size_t> number_in(const std::map<std::string, std::string>& asked, const char* key) {
  constexpr std::size_t longest = 6;
  const auto found = asked.find(key);
  const std::string text = found == asked.end() ? std::string() : found->second;
  const auto number = whole_number_from(text);
  if (!number || text.size() > longest)
    return refuse(422, key, std::string("'") + key + "' must be a small whole number",
                  "give a small whole number");
  return static_cast<std::size_t>(*number);
}

void add_presenting(Router& router, ShowDesk& shows, PlateWorkshop& workshop) {
  router.add(Access::instructor, "POST", "/api/shows",
             [&](const Request& request, const PathParts&) -> Answered<Response> {
               COPUNCTAL_TRY(const std::string set, show_set_in(request.body));
               auto begun = shows.begin(set);
               if (!begun) return refused(std::move(begun));
               // Now, so that revealing does not wait for it.
               (void)workshop.plates(set);
               return state_response(*begun, workshop, 201);
             });
  router.add(Access::instructor, "GET", "/api/shows/:id",
             [&](const Request&, const PathParts& parts) -> Answered<Response> {
               auto state = shows.state(parts[0]);
               if (!state) return refused(std::move(state));
               return state_response(*state, workshop);
             });
  router.add(Access::instructor, "PUT", "/api/shows/:id/step",
             [&](const Request& request, const PathParts& parts) -> Answered<Response> {
               COPUNCTAL_TRY(const std::size_t step, show_step_in(request.body));
               auto state = shows.go_to(parts[0], step);
               if (!state) return refused(std::move(state));
               return state_response(*state, workshop);
             });
  router.add(Access::instructor, "DELETE", "/api/shows/:id",
             [&](const Request&, const PathParts& parts) -> Answered<Response> {
               if (auto ended = shows.end(parts[0]); !ended) return refused(std::move(ended));
               return phone_response(std::nullopt);
             });
}

void add_projecting(Router& router, ShowDesk& shows) {
  router.add(Access::instructor, "GET", "/api/shows/:id/audience",
             [&](const Request&, const PathParts& parts) -> Answered<Response> {
               auto state = shows.state(parts[0]);
               if (!state) return refused(std::move(state));
               return json_response({{"place", state->place},
                                     {"phase", name_of(state->phase)},
                                     {"begun", state->step > 0},
                                     {"words", show_words}});
             });
  router.add(Access::instructor, "GET", "/api/shows/:id/picture",
             [&](const Request& request, const PathParts& parts) -> Answered<Response> {
               COPUNCTAL_TRY(const auto asked, questions_in(request.query(), {"place", "size"}));
               COPUNCTAL_TRY(const std::size_t place, number_in(asked, "place"));
               COPUNCTAL_TRY(const std::size_t size, number_in(asked, "size"));
               auto picture = shows.picture(parts[0], place, static_cast<int>(size));
               if (!picture) return refused(std::move(picture));
               Response response;
               response.content_type = "application/octet-stream";
               response.headers.emplace_back("X-Copunctal-Colour-Space", picture->colour_space);
               response.picture = picture->bytes;
               return response;
             });
}

}  // namespace

void add_shows(Router& router, ShowDesk& shows, PlateWorkshop& workshop, ClassDoor& door) {
  add_presenting(router, shows, workshop);
  add_projecting(router, shows);
  router.add(Access::participant, "GET", "/api/show",
             [&](const Request& request, const PathParts&) -> Answered<Response> {
               COPUNCTAL_TRY(const int device, door.number_of(request));
               return phone_response(shows.for_phone(device));
             });
  router.add(Access::participant, "PUT", "/api/show/answer",
             [&](const Request& request, const PathParts&) -> Answered<Response> {
               COPUNCTAL_TRY(const auto answer, show_answer_in(request.body));
               COPUNCTAL_TRY(const int device, door.number_of(request));
               auto taken = shows.answer(device, answer.place, answer.symbols);
               if (!taken) return refused(std::move(taken));
               return phone_response(*taken);
             });
}

}  // namespace copunctal
