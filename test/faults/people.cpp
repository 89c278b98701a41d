#include "faults/people.h"

#include <unistd.h>

#include <array>
#include <cstdio>
#include <exception>
#include <stdexcept>
#include <thread>

#include "copunctal/base/hash.h"

namespace copunctal {
namespace {

using nlohmann::json;

constexpr std::uint32_t longest_delay_us = 2000;
constexpr std::uint32_t most_answers_before_a_fault = 60;
constexpr int most_refusals_printed = 3;

}  // namespace

class Person::Way {
 public:
  explicit Way(const Run& run)
      : ports_{run.port, run.other != 0 ? run.other : run.port},
        first_(run.way != 0 ? run.way : run.port) {
    if (run.other != 0) second_.emplace(run.other);
  }

  /// Sends a request to one server, the next to the other; the reply comes from receive().
  bool send(const std::string& method, const std::string& target, const std::string& body) {
    turn_ = 1 - turn_;
    // The server's own name whichever way the bytes go, or it would not answer.
    const std::string host = "127.0.0.1:" + std::to_string(ports_[turn_]);
    return client().send(client().request_text(method, target, body,
                                               {{"Host", host}, {"Origin", "http://" + host}}));
  }
  std::optional<Reply> receive() { return client().receive(); }

 private:
  HttpClient& client() { return turn_ == 1 && second_ ? *second_ : first_; }

  std::array<std::uint16_t, 2> ports_;
  HttpClient first_;
  std::optional<HttpClient> second_;
  std::size_t turn_ = 0;
};

bool is_proper_refusal(const Reply& reply) {
  const json body = json::parse(reply.body, nullptr, /*allow_exceptions=*/false);
  if (!body.is_object() || !body.contains("error") || !body["error"].is_object()) return false;
  const json& error = body["error"];
  bool has_texts = true;
  for (const char* name : {"code", "thing", "place", "message", "remedy"})
    has_texts = has_texts && error.contains(name) && error[name].is_string() &&
                !error[name].get<std::string>().empty();
  return has_texts && error.size() == 5 && error["code"] == "unavailable" &&
         reply.headers.count("retry-after") == 1;
}

Plan new_plan(RandomStream& random) {
  return {random.below(2) == 0 ? Plan::Point::at_acknowledgement : Plan::Point::before_reply,
          1 + static_cast<int>(random.below(most_answers_before_a_fault)),
          random.below(longest_delay_us)};
}

void Person::answer_until_over(Run& run, Counts& counts) {
  Way way(run);
  while (!run.is_over) {
    if (!pending_ && !prepare(way, run, counts)) return;
    if (!send_pending(way, run, counts)) return;
    if (!run.plan && state_["round"].is_null()) return;
  }
}

bool Person::prepare(Way& way, Run& run, Counts& counts) {
  if (state_.is_null() || state_["round"].is_null()) {
    if (!begin(way, run, counts)) return false;
  }
  for (const json& item : state_["round"]["items"]) {
    if (item["answered"].get<bool>()) continue;
    const json& row = state_["symbols"];
    const json symbols =
        random_.below(3) == 0
            ? json::array()
            : json::array({row[random_.below(static_cast<std::uint32_t>(row.size()))]});
    // As json dumps it, with sorted keys and no spaces, this is the canonical form whose hash the
    // store keeps.
    const json body = {{"item", item["item"]},
                       {"symbols", symbols},
                       {"end", "answered"},
                       {"onset_ms", 1000.5 + random_.below(1000)},
                       {"response_ms", 3000.25 + random_.below(1000)},
                       {"shown_ms", 999.75},
                       {"frames", 60},
                       {"hidden", false},
                       {"page_load", page_load_}};
    pending_ = Pending{new_id(), body.dump()};
    run.ledger.sent(pending_->id, {state_["sitting"].get<std::string>(), item["item"].get<int>(),
                                   sha256_hex(pending_->body)});
    return true;
  }
  throw std::runtime_error("a round without an open item");
}

bool Person::begin(Way& way, Run& run, Counts& counts) {
  const auto ask = [&](const std::string& target, const std::string& body) {
    return way.send("POST", target, body) ? way.receive() : std::nullopt;
  };
  if (practical_.empty()) {
    const auto made = taken(ask("/api/practicals", "{}"), 201, run, counts);
    if (!made) return false;
    practical_ = made->at("id").get<std::string>();
  }
  const auto begun = taken(ask("/api/practicals/" + practical_ + "/sittings",
                               R"({"consent":true,"sex_at_birth":null,"tell":"tell"})"),
                           201, run, counts);
  if (!begun || (run.deafens && run.is_over)) return false;
  state_ = *begun;
  run.ledger.begun(state_.at("sitting").get<std::string>());
  return true;
}

std::optional<json> Person::taken(const std::optional<Reply>& reply, int status, Run& run,
                                  Counts& counts) {
  if (!reply) return std::nullopt;
  if (reply->status == status) return json::parse(reply->body);
  if (reply->status == 503 && run.on_unavailable) run.on_unavailable(*reply);
  const bool is_expected = reply->status == 503 && (run.may_refuse || run.is_over);
  if (!is_expected && ++counts.refused <= most_refusals_printed)
    std::fprintf(stderr, "refused: %d %s\n", reply->status, reply->body.c_str());
  return std::nullopt;
}

bool Person::send_pending(Way& way, Run& run, Counts& counts) {
  const std::string address =
      "/api/sittings/" + state_["sitting"].get<std::string>() + "/answers/" + pending_->id;
  if (!way.send("PUT", address, pending_->body)) return lost_touch();
  const int number = ++run.sent;
  if (run.plan && run.plan->point == Plan::Point::before_reply && number == run.plan->answer) {
    usleep(run.plan->delay_us);
    run.is_over = true;
    run.fault();
  }
  const auto receipt = taken(way.receive(), 200, run, counts);
  return receipt ? take(*receipt, run, counts) : lost_touch();
}

bool Person::take(const json& receipt, Run& run, Counts& counts) {
  if (run.deafens && run.is_over) {
    run.ledger.heard_too_late(pending_->id);
    return lost_touch();
  }
  run.ledger.acknowledged(pending_->id);
  const int number = ++run.acknowledged;
  if (run.plan && run.plan->point == Plan::Point::at_acknowledgement &&
      number == run.plan->answer) {
    run.is_over = true;
    run.fault();
  }
  const bool is_duplicate = receipt.at("status") == "duplicate";
  if (pending_->is_retry) ++(is_duplicate ? counts.retries_duplicate : counts.retries_stored);
  if (!pending_->is_retry && is_duplicate) ++counts.refused;  // a first try is no duplicate
  state_ = receipt.at("state");
  pending_.reset();
  return true;
}

bool Person::lost_touch() {
  pending_->is_retry = true;
  return false;
}

std::string Person::new_id() {
  std::string id;
  for (int i = 0; i < 32; ++i) id += "0123456789abcdef"[random_.below(16)];
  return id;
}

std::vector<Person> new_people(std::uint64_t seed, int count) {
  std::vector<Person> people;
  for (int i = 0; i < count; ++i) people.emplace_back(seed, static_cast<std::uint32_t>(i));
  return people;
}

void run_people(std::vector<Person>& people, Run& run, Counts& counts) {
  std::vector<std::thread> threads;
  for (Person& person : people)
    threads.emplace_back([&] {
      try {
        person.answer_until_over(run, counts);
      } catch (const std::exception& trouble) {
        std::fprintf(stderr, "client: %s\n", trouble.what());
        ++counts.refused;
      }
    });
  for (std::thread& thread : threads) thread.join();
}

}  // namespace copunctal
