#include "copunctal/server/rehearsal.h"

#include <algorithm>
#include <future>
#include <utility>

#include <nlohmann/json.hpp>

#include "copunctal/server/decode.h"
#include "copunctal/server/loopback_client.h"
#include "copunctal/server/server.h"

namespace copunctal {
namespace {

using nlohmann::json;
using nlohmann::ordered_json;

constexpr auto ask_again = std::chrono::milliseconds(200);
constexpr int good = 200, created = 201;

/// The page as it is, but that it says from the first moment what it is.
std::string marked(std::string_view page) {
  std::string text(page);
  const std::string words(invented_words);
  const auto put = [&](std::string_view before, const std::string& after) {
    if (const auto at = text.find(before); at != std::string::npos)
      text.replace(at, before.size(), after);
  };
  put("<html ", "<html data-invented=\"" + words + "\" ");
  put("<title>", "<title>" + words + " · ");
  return text;
}

bool sleep_for(std::chrono::nanoseconds time, const std::stop_token& stop) {
  const auto until = std::chrono::steady_clock::now() + time;
  while (!stop.stop_requested()) {
    const auto left = until - std::chrono::steady_clock::now();
    if (left <= left.zero()) return true;
    std::this_thread::sleep_for(std::min<std::chrono::nanoseconds>(left, ask_again));
  }
  return false;
}

ordered_json json_of(const InventedReport& report) {
  return {{"people", report.people},   {"sittings", report.sittings},
          {"ended", report.ended},     {"late", report.late},
          {"refused", report.refused}, {"off_record", report.off_record},
          {"by_lot", report.by_lot},   {"answers", report.answers},
          {"queued", report.queued},   {"sent_again", report.sent_again}};
}

Response json_response(const std::optional<RehearsalState>& state, int status) {
  ordered_json body = {{"rehearsal", nullptr}, {"words", invented_words}};
  if (state)
    body["rehearsal"] = {
        {"stage", state->stage},
        {"address", state->address},
        {"practical", state->practical},
        {"people", state->wish.people},
        {"seed", state->wish.seed},
        {"report", json_of(state->report)},
        {"trouble", state->trouble.empty() ? ordered_json(nullptr) : ordered_json(state->trouble)}};
  Response response;
  response.status = status;
  response.content_type = "application/json";
  response.text = body.dump();
  return response;
}

tl::unexpected<Refusal> none_here() {
  return refuse(409, "rehearsal", "no rehearsal can be begun from here",
                "begin it at the server of the real practicals");
}

}  // namespace

Result<std::unique_ptr<Rehearsal>> Rehearsal::start(Rests rests, const RehearsalWish& wish) {
  std::unique_ptr<Rehearsal> made(new Rehearsal);
  Rehearsal& self = *made;
  self.rests_ = std::move(rests);
  self.state_.wish = wish;
  for (EmbeddedFile& file : self.rests_.files) {
    if (file.path != "index.html") continue;
    self.marked_page_ =
        marked({reinterpret_cast<const char*>(file.bytes.data()), file.bytes.size()});
    file.bytes = std::as_bytes(std::span(self.marked_page_));
  }
  COPUNCTAL_TRY(self.desk_, RehearsalDesk::open(self.rests_.directory, self.rests_.set, wish.seed,
                                                self.rests_.tables));
  self.site_ = std::make_unique<Site>(self.desk_->desk(), self.rests_.files, self.rests_.report);
  self.site_->say_invented();
  self.site_->let_rehearse({.start = {},
                            .state = [&self] { return self.state(); },
                            .end = [&self] { self.ask_to_end(); }});
  std::promise<Result<std::uint16_t>> ready;
  auto port = ready.get_future();
  self.serving_ = std::thread([&self, &ready] {
    bool is_ready = false;
    self.serve_all([&](std::uint16_t bound) {
      is_ready = true;
      ready.set_value(bound);
    });
    // Not bound: what was wrong was kept by serve_all().
    if (!is_ready)
      ready.set_value(fail(Error::Kind::io, self.trouble_, "port", "", "choose another port"));
  });
  COPUNCTAL_TRY(self.port_, port.get());
  const json practical = {{"name", invented_words}, {"prepare", true}, {"loans", wish.loans}};
  const RouteReply reply = self.ask("POST", "/api/practicals", practical.dump());
  const json body = json::parse(reply.body, nullptr, false);
  if (reply.status != created || !body.is_object())
    return fail(Error::Kind::io, "the rehearsal's practical was refused: " + reply.body,
                "rehearsal", "", "look into it; it would be refused on the day, too");
  const std::string id = body["id"];
  self.say([&](RehearsalState& state) {
    state.practical = id;
    state.address = "http://127.0.0.1:" + std::to_string(self.port_) + "/practical/" + id;
    state.stage = "waits to be opened";
  });
  return made;
}

Rehearsal::~Rehearsal() {
  ask_to_end();
  wait_for_end();
}

void Rehearsal::serve_all(std::function<void(std::uint16_t)> on_ready) {
  ServerOptions options;
  options.port = state_.wish.port;
  options.stop = stop_.get_token();
  options.report = rests_.report;
  std::jthread player;
  const auto served = serve(*site_, options, [&](std::uint16_t port) {
    on_ready(port);
    player = std::jthread([this](const std::stop_token&) { play(stop_.get_token()); });
  });
  if (!served) trouble_ = served.error().message;
  stop_.request_stop();
  if (player.joinable()) player.join();
  site_.reset();
  desk_.reset();
  say([](RehearsalState& state) { state.stage = "ended"; });
  has_ended_ = true;
}

void Rehearsal::play(const std::stop_token& stop) {
  while (state().practical.empty())
    if (!sleep_for(ask_again, stop)) return;
  const std::string id = state().practical;
  for (bool is_open = false; !is_open;) {
    const json practical =
        json::parse(ask("GET", "/api/practicals/" + id, "").body, nullptr, false);
    is_open = practical.is_object() && practical.value("state", "") == "open";
    if (!is_open && !sleep_for(ask_again, stop)) return;
  }
  const RehearsalWish wish = state().wish;
  say([](RehearsalState& state) { state.stage = "plays"; });
  const auto display = display_of_set(rests_.set);
  if (!display) {
    return say([&](RehearsalState& state) {
      state.stage = "stopped";
      state.trouble = display.error().message;
    });
  }
  // About so many answers, so that it lasts as long as was wished.
  constexpr double answers_each = 14;
  const auto pause = std::chrono::duration_cast<std::chrono::nanoseconds>(
      wish.lasts / (answers_each * static_cast<double>(wish.people)));
  const auto played = play_invented_class(
      invented_class(wish.people, wish.seed), wish.seed, *display, id, !wish.loans.empty(),
      [this](const std::string& method, const std::string& path, const std::string& body) {
        return ask(method, path, body);
      },
      [&] { return sleep_for(pause, stop); },
      [this](const InventedReport& report) {
        say([&](RehearsalState& state) { state.report = report; });
      });
  say([&](RehearsalState& state) {
    state.stage = played ? "has played" : "stopped";
    if (!played && played.error().kind != Error::Kind::stopped)
      state.trouble = played.error().message;
    if (played) state.report = *played;
  });
}

void Rehearsal::say(const std::function<void(RehearsalState&)>& change) {
  const std::lock_guard lock(mutex_);
  change(state_);
}

RehearsalState Rehearsal::state() const {
  const std::lock_guard lock(mutex_);
  return state_;
}

RouteReply Rehearsal::ask(const std::string& method, const std::string& path,
                          const std::string& body) const {
  return ask_loopback(port_, method, path, body);
}

void Rehearsal::ask_to_end() {
  stop_.request_stop();
}

void Rehearsal::wait_for_end() {
  const std::lock_guard lock(ending_);
  if (serving_.joinable()) serving_.join();
}

RehearsalControl Rehearsals::control() {
  return {.start = [this](const RehearsalWish& wish) { return start(wish); },
          .state = [this]() -> std::optional<RehearsalState> {
            const std::lock_guard lock(mutex_);
            if (running_ == nullptr || running_->has_ended()) return std::nullopt;
            return running_->state();
          },
          .end =
              [this] {
                const std::lock_guard lock(mutex_);
                running_.reset();
              }};
}

Answered<RehearsalState> Rehearsals::start(const RehearsalWish& wish) {
  const std::lock_guard lock(mutex_);
  if (running_ != nullptr && !running_->has_ended())
    return refuse(409, "rehearsal", "there is a rehearsal already", "end it, then begin another");
  running_.reset();
  auto started = Rehearsal::start(rests_(), wish);
  if (!started) return tl::unexpected(refusal_for(std::move(started).error()));
  running_ = *std::move(started);
  return running_->state();
}

void add_rehearsal(Router& router, const RehearsalControl& control) {
  router.add(Access::instructor, "GET", "/api/rehearsal",
             [&control](const Request&, const PathParts&) -> Answered<Response> {
               return json_response(control.state ? control.state() : std::nullopt, good);
             });
  router.add(Access::instructor, "POST", "/api/rehearsal",
             [&control](const Request& request, const PathParts&) -> Answered<Response> {
               COPUNCTAL_TRY(const auto asked, rehearsal_in(request.body));
               if (!control.start) return none_here();
               RehearsalWish wish;
               wish.people = asked.people;
               wish.seed = asked.seed;
               wish.lasts = std::chrono::seconds(asked.lasts_s);
               COPUNCTAL_TRY(const auto state, control.start(wish));
               return json_response(state, created);
             });
  router.add(Access::instructor, "DELETE", "/api/rehearsal",
             [&control](const Request&, const PathParts&) -> Answered<Response> {
               if (!control.end) return none_here();
               control.end();
               return json_response(std::nullopt, good);
             });
}

}  // namespace copunctal
