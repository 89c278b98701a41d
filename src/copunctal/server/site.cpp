#include "copunctal/server/site.h"

#include <array>
#include <exception>
#include <string>

#include "copunctal/app/audit_view.h"
#include "copunctal/app/display_desk.h"
#include "copunctal/app/picture_figures.h"
#include "copunctal/app/run_practical.h"
#include "copunctal/base/text.h"
#include "copunctal/display/keep_display.h"
#include "copunctal/server/class_routes.h"
#include "copunctal/server/course_routes.h"
#include "copunctal/server/decode.h"
#include "copunctal/server/encode.h"
#include "copunctal/server/examine_routes.h"
#include "copunctal/server/guard.h"
#include "copunctal/server/paper_routes.h"
#include "copunctal/server/rehearsal.h"
#include "copunctal/server/room_routes.h"
#include "copunctal/server/show_routes.h"

namespace copunctal {
namespace {

Response json_response(int status, std::string text) {
  Response response;
  response.status = status;
  response.content_type = "application/json";
  response.text = std::move(text);
  return response;
}

/// The desk's answer as JSON, or the desk's refusal.
template <class T>
Answered<Response> json_or_refusal(Result<T> result, int status = 200) {
  if (!result) return tl::unexpected(refusal_for(std::move(result).error()));
  return json_response(status, json_of(*result));
}

Answered<Response> picture_or_refusal(Result<PictureBytes> result) {
  if (!result) return tl::unexpected(refusal_for(std::move(result).error()));
  Response response;
  response.content_type = "application/octet-stream";
  response.picture = *std::move(result);
  return response;
}

/// How a page must read the codes.
constexpr const char* colour_space_header = "X-Copunctal-Colour-Space";

/// The error of a view, for a page to print beside it.
void say_error(Response& response, const std::optional<AuditResult>& error) {
  if (error)
    response.headers.emplace_back("X-Copunctal-View-Error", shortest(error->reduced.mean) + " " +
                                                                shortest(error->reduced.p95) + " " +
                                                                shortest(error->reduced.largest));
}

Answered<Response> health(const Request&, const PathParts&) {
  return json_response(200, R"({"ok":true})");
}

/// The display that whoever asks was checked as; empty without a check that holds.
std::string checked_display(const Request& request, SittingDesk& desk, const DeviceChecks& checks,
                            ClassDoor& door) {
  if (!request.arrival.is_local) {
    const auto check = checks.current(door.device_of(request).value_or(0));
    return check && check->valid ? check->record.check.display : std::string();
  }
  const auto check = desk.displays().current();
  return check && *check && (*check)->valid ? (*check)->record.check.display : std::string();
}

void add_practicals(Router& router, SittingDesk& desk, const DeviceChecks& checks,
                    ClassDoor& door) {
  router.add(
      Access::instructor, "GET", "/api/practicals",
      [&desk](const Request&, const PathParts&) { return json_or_refusal(desk.practicals()); });
  router.add(Access::instructor, "POST", "/api/practicals",
             [&desk](const Request& request, const PathParts&) -> Answered<Response> {
               COPUNCTAL_TRY(const auto wish, new_practical_in(request.body));
               return json_or_refusal(desk.create_practical(wish), 201);
             });
  router.add(
      Access::demonstrator, "GET", "/api/practicals-to-run",
      [&desk](const Request&, const PathParts&) { return json_or_refusal(desk.practicals()); });
  router.add(Access::participant, "POST", "/api/practicals/:id/sittings",
             [&](const Request& request, const PathParts& parts) -> Answered<Response> {
               if (const auto device = door.device_of(request); device && !door.may_begin(*device))
                 return refuse(429, "device", "this device has begun as many sittings as one may",
                               "ask whoever runs the practical");
               COPUNCTAL_TRY(auto wish, new_sitting_in(request.body));
               wish.display = checked_display(request, desk, checks, door);
               return json_or_refusal(desk.begin_sitting(parts[0], wish), 201);
             });
}

/// How many devices were checked as each display, and whether there are plates for it.
std::string displays_of_class_json(const SittingDesk& desk, const DeviceChecks& checks,
                                   ClassDoor& door, const PlateWorkshop* workshop) {
  const auto with_plates = desk.displays_with_plates();
  std::map<std::string, std::int64_t> devices;
  for (const ClassDevice& device : door.state().devices) {
    const auto check = checks.current(device.number);
    ++devices[check && check->valid ? check->record.check.display : std::string()];
  }
  return class_displays_json(with_plates, devices,
                             workshop == nullptr ? std::nullopt : workshop->making());
}

void add_classes(Router& router, SittingDesk& sittings, const DeviceChecks& checks, ClassDoor& door,
                 const PlateWorkshop* workshop) {
  router.add(Access::demonstrator, "GET", "/api/class/displays",
             [&, workshop](const Request&, const PathParts&) -> Answered<Response> {
               return json_response(200, displays_of_class_json(sittings, checks, door, workshop));
             });
  PracticalDesk& desk = sittings.classes();
  // What somebody who joined may sit: nothing else of a practical is theirs to see.
  router.add(Access::participant, "GET", "/api/open-practicals",
             [&sittings](const Request&, const PathParts&) -> Answered<Response> {
               auto all = sittings.practicals();
               if (!all) return tl::unexpected(refusal_for(std::move(all).error()));
               std::erase_if(*all, [](const auto& practical) { return practical.state != "open"; });
               return json_response(200, open_practicals_json(*all));
             });
  const std::string one = "/api/practicals/:id";
  router.add(Access::demonstrator, "GET", one, [&desk](const Request&, const PathParts& parts) {
    return json_or_refusal(desk.practical(parts[0]));
  });
  router.add(Access::demonstrator, "POST", one + "/open",
             [&desk](const Request& request, const PathParts& parts) -> Answered<Response> {
               COPUNCTAL_TRY(const auto expected, class_expected_in(request.body));
               return json_or_refusal(desk.open(parts[0], expected));
             });
  router.add(Access::demonstrator, "POST", one + "/close",
             [&desk](const Request&, const PathParts& parts) {
               return json_or_refusal(desk.close(parts[0]));
             });
  router.add(Access::instructor, "GET", one + "/watch",
             [&desk](const Request&, const PathParts& parts) {
               return json_or_refusal(desk.watch(parts[0]));
             });
  router.add(Access::demonstrator, "GET", one + "/stages",
             [&desk](const Request&, const PathParts& parts) -> Answered<Response> {
               auto watched = desk.watch(parts[0]);
               if (!watched) return tl::unexpected(refusal_for(std::move(watched).error()));
               return json_response(200, stages_json(*watched));
             });
  router.add(Access::demonstrator, "GET", one + "/debrief",
             [&desk](const Request&, const PathParts& parts) -> Answered<Response> {
               auto debrief = desk.debrief_of(parts[0]);
               if (!debrief) return tl::unexpected(refusal_for(std::move(debrief).error()));
               auto practical = desk.practical(parts[0]);
               if (!practical) return tl::unexpected(refusal_for(std::move(practical).error()));
               return json_response(200, class_debrief_json(*debrief, *practical));
             });
}

void add_sittings(Router& router, SittingDesk& desk) {
  router.add(Access::own_sitting, "GET", "/api/sittings/:id",
             [&desk](const Request&, const PathParts& parts) {
               return json_or_refusal(desk.state_of(parts[0]));
             });
  router.add(Access::own_sitting, "GET", "/api/sittings/:id/plates/:plate",
             [&desk](const Request&, const PathParts& parts) {
               auto answer = picture_or_refusal(desk.plate_picture(parts[0], parts[1]));
               if (const auto space = desk.colour_space(parts[0]); answer && space)
                 answer->headers.emplace_back(colour_space_header, *space);
               return answer;
             });
  router.add(Access::own_sitting, "PUT", "/api/sittings/:id/answers/:answer",
             [&desk](const Request& request, const PathParts& parts) -> Answered<Response> {
               COPUNCTAL_TRY(const auto answer, sent_answer_in(request.body));
               return json_or_refusal(desk.put_answer(parts[0], parts[1], answer));
             });
  router.add(Access::own_sitting, "PUT", "/api/sittings/:id/choice",
             [&desk](const Request& request, const PathParts& parts) -> Answered<Response> {
               COPUNCTAL_TRY(const Tell tell, choice_in(request.body));
               return json_or_refusal(desk.choose(parts[0], tell));
             });
  router.add(Access::own_sitting, "DELETE", "/api/sittings/:id",
             [&desk](const Request&, const PathParts& parts) -> Answered<Response> {
               if (auto removed = desk.remove_sitting(parts[0]); !removed)
                 return tl::unexpected(refusal_for(std::move(removed).error()));
               Response response;
               response.status = 204;
               return response;
             });
}

void add_outcomes(Router& router, SittingDesk& desk) {
  router.add(Access::own_sitting, "GET", "/api/sittings/:id/outcome",
             [&desk](const Request&, const PathParts& parts) {
               return json_or_refusal(desk.outcome(parts[0]));
             });
  router.add(Access::own_sitting, "GET", "/api/sittings/:id/outcome/plates/:item",
             [&desk](const Request& request, const PathParts& parts) -> Answered<Response> {
               COPUNCTAL_TRY(const std::string observer, observer_in(request.query()));
               constexpr std::size_t longest_number = 9;
               const auto item = whole_number_from(parts[1]);
               if (!item || parts[1].size() > longest_number)
                 return refuse(404, "item", "there is no such item", "check the address");
               auto seen =
                   desk.outcome_picture(parts[0], static_cast<std::int64_t>(*item), observer);
               if (!seen) return tl::unexpected(refusal_for(std::move(seen).error()));
               auto answer = picture_or_refusal(std::move(seen->bytes));
               if (answer) {
                 if (const auto space = desk.colour_space(parts[0]))
                   answer->headers.emplace_back(colour_space_header, *space);
                 say_error(*answer, seen->error);
               }
               return answer;
             });
}

Answered<Response> displays(const Request&, const PathParts&) {
  std::vector<Display> all;
  for (const std::string& name : display_names()) all.push_back(*named_display(name));
  return json_response(200, json_of(all));
}

std::string or_else(const std::map<std::string, std::string>& questions, const char* key,
                    const char* otherwise) {
  const auto found = questions.find(key);
  return found == questions.end() ? otherwise : found->second;
}

void add_eyes(Router& router, EyePictures& pictures) {
  router.add(Access::participant, "GET", "/api/displays", displays);
  router.add(Access::instructor, "GET", "/api/eye",
             [](const Request& request, const PathParts&) -> Answered<Response> {
               COPUNCTAL_TRY(const auto asked,
                             questions_in(request.query(), {"observer", "display", "at"}));
               std::optional<Chromaticity> at;
               if (asked.contains("at")) {
                 COPUNCTAL_TRY(at, chromaticity_in(asked.at("at")));
               }
               return json_or_refusal(eye_view(or_else(asked, "observer", "normal"),
                                               or_else(asked, "display", "srgb"), at));
             });
  router.add(Access::instructor, "GET", "/api/eye/picture",
             [&pictures](const Request& request, const PathParts&) -> Answered<Response> {
               COPUNCTAL_TRY(const auto asked,
                             questions_in(request.query(), {"observer", "display", "picture"}));
               auto seen = pictures.picture(or_else(asked, "picture", "pebbles"),
                                            or_else(asked, "observer", "original"),
                                            or_else(asked, "display", "srgb"));
               if (!seen) return tl::unexpected(refusal_for(std::move(seen).error()));
               auto answer = picture_or_refusal(std::move(seen->bytes));
               if (answer) {
                 answer->headers.emplace_back("X-Copunctal-View-Method", seen->method);
                 answer->headers.emplace_back(colour_space_header, seen->colour_space);
                 say_error(*answer, seen->error);
               }
               return answer;
             });
}

/// A picture of any size as bytes.
Response rgb_response(Picture picture, const std::string& colour_space) {
  Response response;
  response.content_type = "application/octet-stream";
  response.headers.emplace_back(
      "X-Copunctal-Size", std::to_string(picture.width) + " " + std::to_string(picture.height));
  response.headers.emplace_back(colour_space_header, colour_space);
  response.picture = std::make_shared<const std::vector<std::uint8_t>>(std::move(picture.rgb));
  return response;
}

std::string colour_space_of_taken(const TakenPicture& picture) {
  return std::string(colour_space_of_named(picture.display));
}

// A pixel of a preview as X,Y; one that cannot be becomes one outside.
Answered<std::array<int, 2>> pixel_in(const std::string& text) {
  COPUNCTAL_TRY(const auto at, chromaticity_in(text));
  return std::array{static_cast<int>(std::clamp(at.x, -1.0, 1e6)),
                    static_cast<int>(std::clamp(at.y, -1.0, 1e6))};
}

// What a figure is to show.
Answered<FigureAsked> figure_in(const std::map<std::string, std::string>& asked,
                                std::string_view what) {
  const auto named = figure_named(what);
  if (!named) return tl::unexpected(refusal_for(named.error()));
  const std::string ground = or_else(asked, "ground", "light");
  if (ground != "light" && ground != "dark")
    return refuse(422, "ground", "must be light or dark", "ask for one of these");
  FigureAsked figure{
      *named, or_else(asked, "as", "normal"), or_else(asked, "view", ""), {}, ground == "dark"};
  for (const char* place : {"at", "to"})
    if (const std::string text = or_else(asked, place, ""); !text.empty()) {
      COPUNCTAL_TRY(const auto pixel, pixel_in(text));
      figure.picked.push_back(pixel);
    }
  return figure;
}

void add_pictures(Router& router, PictureDesk& desk) {
  const PictureDesk& looks = desk;
  router.add(Access::instructor, "POST", std::string(picture_path),
             [&desk](const Request& request, const PathParts&) -> Answered<Response> {
               COPUNCTAL_TRY(const auto asked, questions_in(request.query(), {"display"}));
               return json_or_refusal(desk.take(request.body, or_else(asked, "display", "srgb")),
                                      201);
             });
  const std::string one = std::string(picture_path) + "/:picture";
  router.add(Access::instructor, "GET", one + "/preview",
             [&looks](const Request&, const PathParts& parts) -> Answered<Response> {
               auto picture = looks.picture(parts[0]);
               if (!picture) return tl::unexpected(refusal_for(std::move(picture).error()));
               return rgb_response(picture->preview->clone(), colour_space_of_taken(*picture));
             });
  router.add(Access::instructor, "GET", one + "/view",
             [&looks](const Request& request, const PathParts& parts) -> Answered<Response> {
               COPUNCTAL_TRY(const auto asked, questions_in(request.query(), {"as"}));
               auto picture = looks.picture(parts[0]);
               if (!picture) return tl::unexpected(refusal_for(std::move(picture).error()));
               auto seen = looks.view(parts[0], or_else(asked, "as", "normal"));
               if (!seen) return tl::unexpected(refusal_for(std::move(seen).error()));
               return rgb_response(*std::move(seen), colour_space_of_taken(*picture));
             });
  router.add(Access::instructor, "GET", one + "/audit",
             [&looks](const Request& request, const PathParts& parts) -> Answered<Response> {
               COPUNCTAL_TRY(const auto asked, questions_in(request.query(), {"as", "view"}));
               const std::string who = or_else(asked, "as", "normal");
               auto picture = looks.picture(parts[0]);
               if (!picture) return tl::unexpected(refusal_for(std::move(picture).error()));
               auto audit = looks.audit(parts[0], who, or_else(asked, "view", ""));
               if (!audit) return tl::unexpected(refusal_for(std::move(audit).error()));
               return json_response(200, audit_json(*audit, *observer_from(who),
                                                    *named_display(picture->display), {}, {}));
             });
  router.add(Access::instructor, "GET", one + "/map",
             [&looks](const Request& request, const PathParts& parts) -> Answered<Response> {
               COPUNCTAL_TRY(const auto asked, questions_in(request.query(), {"as", "view"}));
               auto map =
                   looks.map(parts[0], or_else(asked, "as", "normal"), or_else(asked, "view", ""));
               if (!map) return tl::unexpected(refusal_for(std::move(map).error()));
               return rgb_response(*std::move(map), "srgb");
             });
  router.add(Access::instructor, "GET", one + "/same",
             [&looks](const Request& request, const PathParts& parts) -> Answered<Response> {
               COPUNCTAL_TRY(const auto asked, questions_in(request.query(), {"as", "at"}));
               COPUNCTAL_TRY(const auto at, pixel_in(or_else(asked, "at", "")));
               auto same = looks.same(parts[0], or_else(asked, "as", "normal"), at[0], at[1]);
               if (!same) return tl::unexpected(refusal_for(std::move(same).error()));
               Response response;
               response.content_type = "application/octet-stream";
               response.headers.emplace_back("X-Copunctal-Size", std::to_string(same->width) + " " +
                                                                     std::to_string(same->height));
               response.headers.emplace_back("X-Copunctal-Share", shortest(same->share));
               response.picture =
                   std::make_shared<const std::vector<std::uint8_t>>(std::move(same->mask));
               return response;
             });
  router.add(
      Access::instructor, "GET", one + "/figure",
      [&looks](const Request& request, const PathParts& parts) -> Answered<Response> {
        COPUNCTAL_TRY(
            const auto asked,
            questions_in(request.query(), {"as", "ground", "kind", "what", "view", "at", "to"}));
        const std::string kind = or_else(asked, "kind", "svg"),
                          what = or_else(asked, "what", "view");
        if (kind != "svg" && kind != "png" && kind != "pdf")
          return refuse(422, "kind", "must be svg, png or pdf", "ask for one of these");
        COPUNCTAL_TRY(const FigureAsked figure, figure_in(asked, what));
        auto drawn = picture_figure(looks, parts[0], figure);
        if (!drawn) return tl::unexpected(refusal_for(std::move(drawn).error()));
        auto file = figure_file(*drawn, kind);
        if (!file) return tl::unexpected(refusal_for(std::move(file).error()));
        Response response;
        response.content_type = kind == "svg"   ? "image/svg+xml"
                                : kind == "png" ? "image/png"
                                                : "application/pdf";
        response.headers.emplace_back(
            "Content-Disposition", "attachment; filename=\"copunctal-" + what + "." + kind + "\"");
        response.text = *std::move(file);
        return response;
      });
  router.add(
      Access::instructor, "GET", "/api/eye/plan",
      [](const Request& request, const PathParts&) -> Answered<Response> {
        COPUNCTAL_TRY(const auto asked, questions_in(request.query(), {"observer", "display"}));
        return json_or_refusal(
            view_plan(or_else(asked, "observer", "normal"), or_else(asked, "display", "srgb")));
      });
  router.add(
      Access::instructor, "GET", "/api/colours/apart",
      [](const Request& request, const PathParts&) -> Answered<Response> {
        COPUNCTAL_TRY(const auto asked, questions_in(request.query(), {"a", "b", "display"}));
        COPUNCTAL_TRY(const Code a, code_in("a", or_else(asked, "a", "")));
        COPUNCTAL_TRY(const Code b, code_in("b", or_else(asked, "b", "")));
        return json_or_refusal(apart_for_all(a, b, or_else(asked, "display", "srgb")));
      });
}

/// This computer's screen has its check in the store; a device of the class has its own. Past the
/// router who asks is this computer or a device that has joined, unless its cookie ended meanwhile:
/// number 0, which no device has.
void add_display_records(Router& router, DisplayDesk& desk, DeviceChecks& checks, ClassDoor& door) {
  router.add(Access::participant, "POST", "/api/display-records",
             [&](const Request& request, const PathParts&) -> Answered<Response> {
               COPUNCTAL_TRY(const auto check, screen_check_in(request.body));
               if (request.arrival.is_local) return json_or_refusal(desk.keep(check), 201);
               return json_or_refusal(checks.keep(door.device_of(request).value_or(0), check), 201);
             });
  router.add(Access::participant, "GET", "/api/display-records/current",
             [&](const Request& request, const PathParts&) -> Answered<Response> {
               if (request.arrival.is_local) return json_or_refusal(desk.current());
               return json_response(200,
                                    json_of(checks.current(door.device_of(request).value_or(0))));
             });
  router.add(
      Access::participant, "POST", "/api/display-records/:record/end",
      [&](const Request& request, const PathParts& parts) -> Answered<Response> {
        COPUNCTAL_TRY(const auto reason, reason_in(request.body));
        if (request.arrival.is_local) return json_or_refusal(desk.end(parts[0], reason));
        return json_or_refusal(checks.end(door.device_of(request).value_or(0), parts[0], reason));
      });
}

/// The plate's number in a path.
Answered<std::size_t> plate_in(std::string_view part) {
  constexpr std::size_t longest_number = 6;
  const auto number = whole_number_from(part);
  if (!number || part.size() > longest_number)
    return refuse(404, "plate", "there is no such plate", "check the address");
  return static_cast<std::size_t>(*number);
}

Answered<Response> svg_or_refusal(Result<std::string> svg) {
  if (!svg) return tl::unexpected(refusal_for(std::move(svg).error()));
  Response response;
  response.content_type = "image/svg+xml";
  response.text = *std::move(svg);
  return response;
}

void add_workshop(Router& router, PlateWorkshop& workshop) {
  router.add(Access::instructor, "GET", "/api/sets", [&workshop](const Request&, const PathParts&) {
    return json_response(200, json_of(workshop.sets(), workshop.making()));
  });
  router.add(Access::instructor, "POST", "/api/sets",
             [&workshop](const Request& request, const PathParts&) -> Answered<Response> {
               COPUNCTAL_TRY(const auto wish, set_wish_in(request.body));
               return json_or_refusal(workshop.make(wish), 202);
             });
  router.add(Access::instructor, "POST", "/api/set-for-display",
             [&workshop](const Request& request, const PathParts&) -> Answered<Response> {
               COPUNCTAL_TRY(const std::string display, wanted_display_in(request.body));
               auto making = workshop.make_for(display);
               const bool is_made = making && making->state == SetMaking::State::made;
               return json_or_refusal(std::move(making), is_made ? 200 : 202);
             });
  router.add(Access::instructor, "DELETE", "/api/sets/making",
             [&workshop](const Request&, const PathParts&) {
               workshop.stop();
               Response response;
               response.status = 204;
               return response;
             });
  router.add(Access::instructor, "GET", "/api/sets/:set",
             [&workshop](const Request&, const PathParts& parts) {
               return json_or_refusal(workshop.plates(parts[0]));
             });
  router.add(Access::instructor, "GET", "/api/sets/:set/plates/:plate/picture",
             [&workshop](const Request& request, const PathParts& parts) -> Answered<Response> {
               COPUNCTAL_TRY(const std::string observer, observer_in(request.query()));
               COPUNCTAL_TRY(const std::size_t plate, plate_in(parts[1]));
               auto seen = workshop.picture(parts[0], plate, observer);
               if (!seen) return tl::unexpected(refusal_for(std::move(seen).error()));
               auto answer = picture_or_refusal(std::move(seen->bytes));
               if (answer) {
                 answer->headers.emplace_back("X-Copunctal-View-Method", seen->method);
                 answer->headers.emplace_back(colour_space_header, seen->colour_space);
               }
               return answer;
             });
  router.add(Access::instructor, "GET", "/api/sets/:set/plates/:plate/readers",
             [&workshop](const Request&, const PathParts& parts) -> Answered<Response> {
               COPUNCTAL_TRY(const std::size_t plate, plate_in(parts[1]));
               return svg_or_refusal(workshop.readers(parts[0], plate));
             });
  router.add(Access::instructor, "GET", "/api/sets/:set/plates/:plate/apart",
             [&workshop](const Request& request, const PathParts& parts) -> Answered<Response> {
               COPUNCTAL_TRY(const std::string observer, observer_in(request.query()));
               COPUNCTAL_TRY(const std::size_t plate, plate_in(parts[1]));
               return svg_or_refusal(workshop.apart(parts[0], plate, observer));
             });
}

Handler page(const EmbeddedFile& file) {
  const bool is_hashed = file.path.starts_with("assets/");
  return [file, is_hashed](const Request&, const PathParts&) {
    Response response;
    response.content_type = file.content_type;
    response.embedded = file.bytes;
    response.headers.emplace_back("Cache-Control",
                                  is_hashed ? "public, max-age=31536000, immutable" : "no-store");
    return response;
  };
}

/// The addresses that show a page, and who may have it. All are the same file, which holds nothing
/// of anybody's.
struct PageAddress {
  std::string_view address;
  Access access;
};
constexpr auto page_addresses = std::to_array<PageAddress>({
    {"/", Access::anyone},
    {"/practical/:id", Access::demonstrator},
    {"/demonstrator", Access::demonstrator},
    {"/join", Access::anyone},
    {"/sit/:practical", Access::participant},
    {"/sitting/:id", Access::participant},
    {"/sitting/:id/outcome", Access::participant},
    {"/sitting/:id/sheet", Access::participant},
    {"/sheets/:practical", Access::participant},
    {"/collect", Access::participant},
    {"/eyes", Access::instructor},
    {"/display", Access::participant},
    {"/plates", Access::instructor},
    {"/paper", Access::instructor},
    {"/views", Access::instructor},
    {"/preflight", Access::participant},
    {"/show/:id", Access::instructor},
    {"/show/:id/audience", Access::instructor},
});

void add_pages(Router& router, std::span<const EmbeddedFile> files) {
  for (const EmbeddedFile& file : files) {
    router.add(Access::anyone, "GET", "/" + std::string(file.path), page(file));
    if (file.path != "index.html") continue;
    for (const PageAddress& at : page_addresses)
      router.add(at.access, "GET", at.address, page(file));
  }
}

/// The first key of every object.
void mark_invented(Response& response) {
  if (response.content_type != "application/json" || !response.text.starts_with('{')) return;
  const std::string more = response.text.starts_with("{}") ? "" : ",";
  response.text.insert(1, R"("invented":")" + std::string(invented_words) + "\"" + more);
}

// Whether a browser asks for something to be read, not a page for its data.
bool is_for_a_reader(const Request& request) {
  const auto accepted = request.header("accept");
  return !request.changes_something() && accepted &&
         accepted->find("text/html") != std::string_view::npos &&
         !request.path().starts_with("/api/") && !request.path().starts_with("/assets/");
}

}  // namespace

Site::Site(SittingDesk& desk, std::span<const EmbeddedFile> files, TroubleReport report,
           PlateWorkshop* workshop, ClassDoor* door)
    : closed_door_(kernel_random(), system_clocks().steady_ns),
      door_(door == nullptr ? &closed_door_ : door),
      workshop_(workshop),
      device_checks_(system_clocks().utc, kernel_random()),
      csp_reports_(system_clocks().steady_ns),
      devices_(kernel_random()),
      eye_pictures_(std::make_unique<EyePictures>()),
      picture_desk_(std::make_unique<PictureDesk>(kernel_random())),
      report_(std::move(report)),
      rehearsals_(std::make_unique<RehearsalControl>()) {
  router_.add(Access::anyone, "GET", "/api/health", health);
  add_csp(router_, csp_reports_);
  add_class(router_, *door_);
  add_practicals(router_, desk, device_checks_, *door_);
  add_classes(router_, desk, device_checks_, *door_, workshop);
  add_sittings(router_, desk);
  add_outcomes(router_, desk);
  add_examining(router_, desk);
  add_courses(router_, desk, *door_);
  add_eyes(router_, *eye_pictures_);
  add_pictures(router_, *picture_desk_);
  add_display_records(router_, desk.displays(), device_checks_, *door_);
  if (workshop != nullptr) {
    add_workshop(router_, *workshop);
    paper_ = std::make_unique<PaperDesk>(*workshop, build_reading_tables);
    add_paper(router_, *paper_);
    // Plates of another purpose, or for a display that has some, are none of the class's.
    workshop->when_made([&desk](const PlateSet& set) { static_cast<void>(desk.add_plates(set)); });
    shows_ = std::make_unique<ShowDesk>(*workshop, kernel_random(), system_clocks().steady_ns);
    add_shows(router_, *shows_, *workshop, *door_);
  }
  add_preflight(router_, devices_, *door_);
  add_rehearsal(router_, *rehearsals_);
  add_pages(router_, files);
}

Site::~Site() {
  if (workshop_ != nullptr) workshop_->when_made({});
}

void Site::let_rehearse(RehearsalControl control) {
  *rehearsals_ = std::move(control);
}

Site::Site(std::span<const EmbeddedFile> files, TroubleReport report, ClassDoor& door,
           DeviceList::Heard heard)
    : closed_door_(kernel_random(), system_clocks().steady_ns),
      door_(&door),
      device_checks_(system_clocks().utc, kernel_random()),
      csp_reports_(system_clocks().steady_ns),
      devices_(kernel_random()),
      report_(std::move(report)) {
  devices_.tell(std::move(heard));
  router_.add(Access::anyone, "GET", "/api/health", health);
  add_csp(router_, csp_reports_);
  add_class(router_, *door_, Serving::preflight);
  add_preflight(router_, devices_, *door_);
  add_pages(router_, files);
}

Response Site::answer(const Request& request) const {
  Response response;
  try {
    const auto allowed = check_request(request);
    response = allowed ? answer_unguarded(request) : response_for(allowed.error(), request.path());
    if (response.status == 405 && !allowed)
      response.headers.emplace_back("Allow", "GET, HEAD, POST, PUT, DELETE");
  } catch (const std::exception& trouble) {
    // Whatever it was, it is ours to put right; the person who asked learns no insides.
    if (report_) report_(trouble.what());
    response = response_for({500, Error{Error::Kind::io, "the program made a mistake", "program",
                                        "", "try again; if it stays so, restart the program"}},
                            request.path());
  }
  if (is_invented_) mark_invented(response);
  protect(response);
  return response;
}

std::optional<Response> Site::page_of_nothing(const Request& request) const {
  auto page = shell_for(request);
  if (page) page->status = 404;
  return page;
}

std::optional<Response> Site::page_to_join(const Request& request) const {
  auto page = shell_for(request);
  if (!page) return std::nullopt;
  page->status = 401;
  page->headers.emplace_back("WWW-Authenticate", "Join");
  return page;
}

std::optional<Response> Site::shell_for(const Request& request) const {
  Request first = {.method = request.method,
                   .target = "/join",
                   .headers = {},
                   .body = {},
                   .arrival = request.arrival};
  std::string allowed;
  auto page = router_.answer(first, {}, allowed);
  if (!page) return std::nullopt;
  return *std::move(page);
}

Response Site::answer_unguarded(const Request& request) const {
  const Asker asker = door_->asker_of(request);
  std::string allowed;
  auto answered = router_.answer(request, asker, allowed);
  if (answered) {
    if (asker.role == Role::participant)
      if (const std::string begun = sitting_begun_by(*answered); !begun.empty()) asker.takes(begun);
    return *std::move(answered);
  }
  if (answered.error().status == 401 && !request.path().starts_with("/api/"))
    if (auto page = page_to_join(request)) return *std::move(page);
  if (answered.error().status == 404 && is_for_a_reader(request))
    if (auto page = page_of_nothing(request)) return *std::move(page);
  Response response = response_for(answered.error(), request.path());
  if (answered.error().status == 405) response.headers.emplace_back("Allow", allowed);
  return response;
}

}  // namespace copunctal
