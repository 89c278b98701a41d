// `rehearse`: a practical with an invented class, in a directory of its own that is removed.
#include <algorithm>
#include <chrono>
#include <cstdio>
#include <filesystem>
#include <memory>
#include <stop_token>
#include <string>
#include <thread>

#include <nlohmann/json.hpp>

#include "copunctal/app/debrief.h"
#include "copunctal/app/rehearsal_desk.h"
#include "copunctal/cli/commands.h"
#include "copunctal/cli/interrupt.h"
#include "copunctal/cli/output.h"
#include "copunctal/cli/served.h"
#include "copunctal/server/rehearsal.h"

namespace copunctal {
namespace {

using Json = nlohmann::ordered_json;

constexpr auto ask_again = std::chrono::milliseconds(200);

Json report_json(const InventedReport& report) {
  return {{"people", report.people},   {"sittings", report.sittings},
          {"ended", report.ended},     {"late", report.late},
          {"refused", report.refused}, {"off_record", report.off_record},
          {"by_lot", report.by_lot},   {"answers", report.answers},
          {"queued", report.queued},   {"sent_again", report.sent_again}};
}

std::string words_of(const InventedReport& report) {
  const auto number = [](std::size_t count) { return std::to_string(count); };
  return number(report.sittings) + " of " + number(report.people) + " invented people sat, " +
         number(report.late) + " of them late, " + number(report.off_record) +
         " off the record and " + number(report.by_lot) + " by lot; " + number(report.refused) +
         " did not consent. " + number(report.answers) + " answers, " + number(report.queued) +
         " of them sent after a cut of the network and " + number(report.sent_again) +
         " sent twice.";
}

Result<Json> asked(const Rehearsal& rehearsal, const std::string& method, const std::string& path,
                   const Json& body = {}) {
  const RouteReply reply =
      rehearsal.ask(method, path, body.is_null() ? std::string("{}") : body.dump());
  Json parsed = Json::parse(reply.body, nullptr, false);
  if (reply.status == 200 && parsed.is_object()) return parsed;
  return fail(Error::Kind::io, method + " " + path + " was answered with " + reply.body,
              "rehearsal", path, "look into it: it would happen on the day, too");
}

tl::unexpected<Error> interrupted() {
  return fail(Error::Kind::stopped, "the rehearsal was interrupted; nothing of it is left",
              "rehearsal", "", "begin it again");
}

/// Opens, waits for the class, closes; the debrief.
Result<Json> all_by_itself(const Rehearsal& rehearsal, const std::stop_token& stop) {
  const RehearsalState begun = rehearsal.state();
  const auto people = invented_class(begun.wish.people, begun.wish.seed);
  const auto men = std::count_if(people.begin(), people.end(),
                                 [](const InventedPerson& one) { return one.is_man; });
  const std::string practical = "/api/practicals/" + begun.practical;
  for (bool is_drawn = false; !is_drawn;) {
    COPUNCTAL_TRY(const Json state, asked(rehearsal, "GET", practical));
    is_drawn = std::all_of(state["loans_drawn"].begin(), state["loans_drawn"].end(),
                           [](const Json& loan) { return loan["ready"] == true; });
    if (stop.stop_requested()) return interrupted();
    if (!is_drawn) std::this_thread::sleep_for(ask_again);
  }
  COPUNCTAL_TRY_VOID(asked(
      rehearsal, "POST", practical + "/open",
      {{"men", men}, {"women", static_cast<std::ptrdiff_t>(people.size()) - men}, {"misses", 3}}));
  for (;;) {
    const RehearsalState now = rehearsal.state();
    if (now.stage == "has played") break;
    if (stop.stop_requested()) return interrupted();
    if (!now.trouble.empty())
      return fail(Error::Kind::io, now.trouble, "rehearsal", "",
                  "look into it: it would happen on the day, too");
    std::this_thread::sleep_for(ask_again);
  }
  COPUNCTAL_TRY_VOID(asked(rehearsal, "POST", practical + "/close"));
  return asked(rehearsal, "GET", practical + "/debrief");
}

Result<void> rehearse(const RehearseOptions& options) {
  COPUNCTAL_TRY(const std::string named, data_directory(options.served.data));
  const std::filesystem::path directory = rehearsal_directory(named);
  if (options.wipe) {
    COPUNCTAL_TRY_VOID(remove_rehearsal(directory));
    print("Nothing of a rehearsal is left below " + named + ".\n");
    return {};
  }
  COPUNCTAL_TRY(const auto seed, seed_from(options.seed));
  COPUNCTAL_TRY(PlateSet set, set_of(options.served, named));
  const StopOnInterrupt on_interrupt;
  const std::stop_token stop = on_interrupt.token();
  RehearsalWish wish;
  wish.people = options.people;
  wish.seed = seed;
  wish.lasts = std::chrono::seconds(options.seconds);
  wish.port = options.served.port;
  COPUNCTAL_TRY(
      const auto rehearsal,
      Rehearsal::start({directory, std::move(set), pages(),
                        [](std::string_view trouble) { say("copunctal: " + std::string(trouble)); },
                        build_reading_tables},
                       wish));
  if (options.alone) {
    COPUNCTAL_TRY(const Json debrief, all_by_itself(*rehearsal, stop));
    const InventedReport report = rehearsal->state().report;
    rehearsal->ask_to_end();
    rehearsal->wait_for_end();
    if (options.json) {
      print(Json{{"invented", invented_words},
                 {"report", report_json(report)},
                 {"debrief", debrief},
                 {"intended_use", intended_use()}}
                .dump(1) +
            "\n");
      return {};
    }
    print(std::string(invented_words) + "\n" + words_of(report) + "\nIt was opened, closed and " +
          "debriefed; nothing of it is left.\n" + std::string(intended_use()) + "\n");
    return {};
  }
  print(std::string(invented_words) + "\nThe rehearsal is ready at " + rehearsal->state().address +
        "\nOpen it there, and the invented class comes. Ending it removes it.\n" +
        std::string(intended_use()) + "\n");
  COPUNCTAL_TRY_VOID(written());
  while (!stop.stop_requested() && !rehearsal->has_ended()) std::this_thread::sleep_for(ask_again);
  rehearsal->ask_to_end();
  rehearsal->wait_for_end();
  print(words_of(rehearsal->state().report) + "\nIt has ended, and nothing of it is left.\n");
  return {};
}

}  // namespace

int rehearse_command(const RehearseOptions& options) {
  const auto done = rehearse(options);
  return done ? 0 : failed(done.error());
}

}  // namespace copunctal
