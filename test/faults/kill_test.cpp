// Kills the server in the middle of its work, again and again, and holds it to its word.
//
//   kill_test --server PROGRAM [--set DIR] [--kills N] [--seed N] [--expect-loss]
//
// Eight clients run sittings against PROGRAM, which is started as `PROGRAM serve --data DIR --port
// 0
// [--set DIR]`. It is killed (SIGKILL) at the moment an acknowledgement arrives, or within two
// milliseconds after a request's bytes have left and before its reply is read. Then it is started
// again and the store's file is compared with what the clients were promised: each acknowledged
// answer is there once, unaltered. The clients go on where they were, sending answers whose
// acknowledgement they never saw again under the same id.
//
// --expect-loss turns the verdict round: for a server that acknowledges before it commits, the test
// passes when it catches it. Without that control the test could be one that cannot fail.
#include <unistd.h>

#include <algorithm>
#include <atomic>
#include <cstdio>
#include <memory>
#include <nlohmann/json.hpp>
#include <optional>
#include <stdexcept>
#include <thread>
#include <vector>

#include "api/http_client.h"
#include "copunctal/base/hash.h"
#include "copunctal/base/random.h"
#include "copunctal/store/scratch_directory.h"
#include "faults/ledger.h"
#include "faults/subject.h"

namespace {

using namespace copunctal;
using nlohmann::json;

constexpr int clients = 8;
constexpr std::uint32_t longest_delay_us = 2000;
constexpr std::uint32_t most_answers_before_a_kill = 60;

struct Arguments {
  std::vector<std::string> command;
  int kills = 12;
  std::uint64_t seed = 1;
  bool expects_loss = false;
};

/// When to kill, decided before each run of the server: with which answer, and at which point.
struct Plan {
  enum class Point { at_acknowledgement, before_reply } point;
  int answer;              ///< Counted over all clients since the start.
  std::uint32_t delay_us;  ///< After the request has left.
};

Plan new_plan(RandomStream& random) {
  return {random.below(2) == 0 ? Plan::Point::at_acknowledgement : Plan::Point::before_reply,
          1 + static_cast<int>(random.below(most_answers_before_a_kill)),
          random.below(longest_delay_us)};
}

/// Shared by the clients during one run of the server.
struct Run {
  Subject& subject;
  std::uint16_t port;
  Ledger& ledger;
  std::optional<Plan> plan;  ///< Nothing: answer what is left and end.
  std::atomic<int> sent = 0, acknowledged = 0;
  std::atomic<bool> is_over = false;
};

struct Counts {
  std::atomic<int> retries_stored = 0, retries_duplicate = 0, refused = 0;
};

/// One person at one connection, who goes on after every restart.
class Person {
 public:
  Person(std::uint64_t seed, std::uint32_t number) : random_(seed, 1, number) {}

  /// Answers until the server is gone or, without a plan, until this sitting has ended.
  void answer_until_over(Run& run, Counts& counts) {
    HttpClient client(run.port);
    while (!run.is_over) {
      if (!pending_ && !prepare(client, run)) return;
      if (!send_pending(client, run, counts)) return;
      if (!run.plan && state_["round"].is_null()) return;
    }
  }

  bool has_ended() const { return !state_.is_null() && state_["round"].is_null(); }

 private:
  struct Pending {
    std::string id, body;
    bool is_retry = false;
  };

  /// Chooses the next item, beginning a new sitting when there is none.
  bool prepare(HttpClient& client, Run& run) {
    if (state_.is_null() || state_["round"].is_null()) {
      if (!begin(client, run)) return false;
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

  bool begin(HttpClient& client, Run& run) {
    if (practical_.empty()) {
      const auto made = client.ask("POST", "/api/practicals", "{}");
      if (!made) return false;
      practical_ = json::parse(made->body).at("id").get<std::string>();
    }
    const auto begun = client.ask("POST", "/api/practicals/" + practical_ + "/sittings",
                                  R"({"consent":true,"sex_at_birth":null,"tell":"tell"})");
    if (!begun) return false;
    state_ = json::parse(begun->body);
    run.ledger.begun(state_.at("sitting").get<std::string>());
    return true;
  }

  bool send_pending(HttpClient& client, Run& run, Counts& counts) {
    const std::string address =
        "/api/sittings/" + state_["sitting"].get<std::string>() + "/answers/" + pending_->id;
    if (!client.send(client.request_text("PUT", address, pending_->body))) return lost_touch();
    const int number = ++run.sent;
    if (run.plan && run.plan->point == Plan::Point::before_reply && number == run.plan->answer) {
      usleep(run.plan->delay_us);
      run.is_over = true;
      run.subject.kill();
    }
    const auto reply = client.receive();
    if (!reply) return lost_touch();
    return take(*reply, run, counts);
  }

  bool take(const Reply& reply, Run& run, Counts& counts) {
    const json receipt = json::parse(reply.body);
    if (reply.status != 200) {
      if (++counts.refused <= 3) std::fprintf(stderr, "refused: %s\n", reply.body.c_str());
      return lost_touch();
    }
    run.ledger.acknowledged(pending_->id);
    const int number = ++run.acknowledged;
    if (run.plan && run.plan->point == Plan::Point::at_acknowledgement &&
        number == run.plan->answer) {
      run.is_over = true;
      run.subject.kill();
    }
    const bool is_duplicate = receipt.at("status") == "duplicate";
    if (pending_->is_retry) ++(is_duplicate ? counts.retries_duplicate : counts.retries_stored);
    if (!pending_->is_retry && is_duplicate) ++counts.refused;  // a first try is no duplicate
    state_ = receipt.at("state");
    pending_.reset();
    return true;
  }

  bool lost_touch() {
    pending_->is_retry = true;
    return false;
  }

  std::string new_id() {
    std::string id;
    for (int i = 0; i < 32; ++i) id += "0123456789abcdef"[random_.below(16)];
    return id;
  }

  RandomStream random_;
  const std::string page_load_ = new_id();
  std::string practical_;
  json state_;
  std::optional<Pending> pending_;
};

void run_clients(std::vector<Person>& people, Run& run, Counts& counts) {
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

Arguments arguments_in(int count, char** words) {
  Arguments arguments;
  std::string server, set;
  for (int i = 1; i < count; ++i) {
    const std::string name = words[i];
    if (name == "--expect-loss") {
      arguments.expects_loss = true;
      continue;
    }
    if (i + 1 == count) throw std::invalid_argument(name);
    const std::string value = words[++i];
    if (name == "--server")
      server = value;
    else if (name == "--set")
      set = value;
    else if (name == "--kills")
      arguments.kills = std::stoi(value);
    else if (name == "--seed")
      arguments.seed = std::stoull(value);
    else
      throw std::invalid_argument(name);
  }
  if (server.empty() || arguments.kills < 1) throw std::invalid_argument("--server");
  arguments.command = {server, "serve"};
  if (!set.empty()) arguments.command.insert(arguments.command.end(), {"--set", set});
  return arguments;
}

int run_test(const Arguments& arguments) {
  const ScratchDirectory scratch;
  const std::string directory = (scratch.path() / "data").string();
  const std::string file = directory + "/copunctal.db";
  Subject subject(arguments.command, directory);
  Ledger ledger;
  Counts counts;
  RandomStream random(arguments.seed);
  std::vector<Person> people;
  for (std::uint32_t i = 0; i < clients; ++i) people.emplace_back(arguments.seed, i);

  int kills = 0, kills_with_answers_under_way = 0, worst_lost = 0;
  bool is_clean = true;
  for (; kills < arguments.kills && is_clean; ++kills) {
    const auto port = subject.start();
    if (!port) throw std::runtime_error("the server does not start");
    Run run{subject, *port, ledger, new_plan(random)};
    run_clients(people, run, counts);
    subject.kill();
    subject.wait();
    kills_with_answers_under_way += run.sent > run.acknowledged ? 1 : 0;

    const Findings found = compare(ledger, file);
    is_clean = found.is_clean();
    worst_lost = std::max(worst_lost, found.lost);
  }

  if (is_clean) {  // the sittings go on to their end, and the server ends by itself
    const auto port = subject.start();
    if (!port) throw std::runtime_error("the server does not start");
    Run last{subject, *port, ledger, std::nullopt};
    run_clients(people, last, counts);
    if (subject.stop() != 0) throw std::runtime_error("the server did not end cleanly");
  }
  const Findings found = compare(ledger, file);
  const auto ended = std::count_if(people.begin(), people.end(),
                                   [](const Person& person) { return person.has_ended(); });
  std::printf(
      "kills %d (%d with answers between request and acknowledgement), acknowledged %d, lost %d, "
      "altered %d, doubled %d, unknown %d; sent again: %d stored, %d duplicate; refused %d, "
      "sittings gone on to the end %d of %d, damage %zu\n",
      kills, kills_with_answers_under_way, found.acknowledged, std::max(found.lost, worst_lost),
      found.altered, found.doubled, found.unknown, counts.retries_stored.load(),
      counts.retries_duplicate.load(), counts.refused.load(), static_cast<int>(ended), clients,
      found.damage.size());
  for (const std::string& damage : found.damage) std::printf("damage: %s\n", damage.c_str());

  if (arguments.expects_loss) return worst_lost > 0 ? 0 : 1;
  const bool has_tested_something = found.acknowledged >= arguments.kills &&
                                    2 * kills_with_answers_under_way >= kills &&
                                    counts.retries_stored + counts.retries_duplicate > 0;
  if (!has_tested_something) std::puts("too few kills fell between request and acknowledgement");
  const bool is_good = is_clean && found.is_clean() && counts.refused == 0 && ended == clients;
  return is_good && has_tested_something ? 0 : 1;
}

}  // namespace

int main(int count, char** words) {
  try {
    return run_test(arguments_in(count, words));
  } catch (const std::invalid_argument& trouble) {
    std::fprintf(stderr,
                 "usage: kill_test --server PROGRAM [--set DIR] [--kills N] [--seed N] "
                 "[--expect-loss] (%s)\n",
                 trouble.what());
    return 2;
  } catch (const std::exception& trouble) {
    std::fprintf(stderr, "kill_test: %s\n", trouble.what());
    return 1;
  }
}
