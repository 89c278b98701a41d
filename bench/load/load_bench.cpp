// A class at its screens: how long an answer takes to be saved, and whether all of them were.
//
//   copunctal_load_bench --server PROGRAM [--set DIR] [--seconds N] [--bursts N] [--database]
//
// Three hundred connections, each a person in a sitting. Steady: 100 answers a second in all, as
// when everybody answers every three seconds. Bursts: all 300 answer within 100 ms, as when a time
// limit ends for everybody, every three seconds. Both alone and beside 200 clients that send a
// header byte by byte. Every acknowledgement goes into a ledger that is compared with the database
// at the end.
//
// --database: practicals are kept in a PostgreSQL server of the bench's own, in a temporary
// directory and waiting for the disk, and looked for there.
//
// The floor is the same generator against a server that does nothing, in the same run: a time
// means nothing without it, on a computer that has other things to do. Prints; judges lost and
// doubled only (exit code 1), never a time.
#include <cstdio>
#include <nlohmann/json.hpp>
#include <optional>
#include <stdexcept>
#include <string>
#include <vector>

#include "api/http_client.h"
#include "copunctal/base/hash.h"
#include "copunctal/base/random.h"
#include "copunctal/store/postgres_server.h"
#include "copunctal/store/scratch_directory.h"
#include "faults/ledger.h"
#include "faults/subject.h"
#include "load/open_loop.h"

namespace {

using namespace copunctal;
using nlohmann::json;

constexpr std::size_t people = 300;
constexpr std::size_t slow_clients = 200;
constexpr double steady_rate = 100;  // answers a second, of all together
constexpr double burst_s = 0.1, between_bursts_s = 3;

struct Arguments {
  std::vector<std::string> command;
  int seconds = 20, bursts = 5;
  bool has_database = false;
};

Arguments arguments_in(int count, char** words) {
  Arguments arguments;
  std::string server, set;
  for (int i = 1; i < count; ++i) {
    const std::string name = words[i];
    if (name == "--database") {
      arguments.has_database = true;
      continue;
    }
    if (++i == count) throw std::invalid_argument(name);
    const std::string value = words[i];
    if (name == "--server")
      server = value;
    else if (name == "--set")
      set = value;
    else if (name == "--seconds")
      arguments.seconds = std::stoi(value);
    else if (name == "--bursts")
      arguments.bursts = std::stoi(value);
    else
      throw std::invalid_argument(name);
  }
  if (server.empty() || arguments.seconds < 1 || arguments.bursts < 1)
    throw std::invalid_argument("--server");
  arguments.command = {server, "serve"};
  if (!set.empty()) arguments.command.insert(arguments.command.end(), {"--set", set});
  return arguments;
}

/// The people of one practical, as the requests they send and what they make of the replies.
class Class {
 public:
  explicit Class(std::uint16_t port) : client_(port), people_(people) {
    const auto made = client_.ask("POST", "/api/practicals", "{}");
    if (!made || made->status != 201) throw std::runtime_error("no practical");
    practical_ = json::parse(made->body).at("id").get<std::string>();
    for (Person& person : people_) {
      const auto begun = client_.ask("POST", sittings(), consent);
      if (!begun || begun->status != 201) throw std::runtime_error("no sitting");
      take_state(person, json::parse(begun->body));
    }
  }

  /// The next answer; the last one again when it was not acknowledged.
  std::string answer_of(std::size_t index) {
    Person& person = people_[index];
    if (person.answer.empty()) prepare(person);
    return client_.request_text(
        "PUT", "/api/sittings/" + person.sitting + "/answers/" + person.answer, person.body);
  }

  /// A new sitting, when the last one has come to its end.
  std::optional<std::string> take(std::size_t index, const LoadReply& reply) {
    Person& person = people_[index];
    if (reply.status == 201) {
      take_state(person, json::parse(reply.body));
    } else if (reply.status == 200) {
      ledger_.acknowledged(person.answer);
      person.answer.clear();
      last_receipt_ = reply.body;
      person.state = json::parse(reply.body).at("state");
    } else if (++refusals_ <= 3) {
      std::fprintf(stderr, "%d %s\n", reply.status, reply.body.c_str());
    }
    if (!person.state["round"].is_null()) return std::nullopt;
    return client_.request_text("POST", sittings(), consent);
  }

  const Ledger& ledger() const { return ledger_; }
  const std::string& last_receipt() const { return last_receipt_; }

 private:
  struct Person {
    std::string sitting, answer, body;
    json state;
  };

  static constexpr const char* consent = R"({"consent":true,"sex_at_birth":null,"tell":"tell"})";

  std::string sittings() const { return "/api/practicals/" + practical_ + "/sittings"; }

  void take_state(Person& person, json state) {
    person.state = std::move(state);
    person.sitting = person.state.at("sitting").get<std::string>();
    ledger_.begun(person.sitting);
  }

  void prepare(Person& person) {
    for (const json& item : person.state["round"]["items"]) {
      if (item["answered"].get<bool>()) continue;
      person.answer = new_id();
      person.body = json{{"item", item["item"]},
                         {"symbols", json::array({person.state["symbols"][random_.below(4)]})},
                         {"end", "answered"},
                         {"onset_ms", 1000.5},
                         {"response_ms", 2345.25},
                         {"shown_ms", 1344.75},
                         {"frames", 80},
                         {"hidden", false},
                         {"page_load", page_load_}}
                        .dump();
      ledger_.sent(person.answer,
                   {person.sitting, item["item"].get<int>(), sha256_hex(person.body)});
      return;
    }
    throw std::runtime_error("a round without an open item");
  }

  std::string new_id() {
    std::string id;
    for (int i = 0; i < 32; ++i) id += "0123456789abcdef"[random_.below(16)];
    return id;
  }

  HttpClient client_;
  RandomStream random_{1};
  const std::string page_load_ = new_id();
  std::string practical_, last_receipt_;
  std::vector<Person> people_;
  Ledger ledger_;
  int refusals_ = 0;
};

std::vector<double> steady(int seconds) {
  std::vector<double> due;
  for (int i = 0; i < seconds * static_cast<int>(steady_rate); ++i) due.push_back(i / steady_rate);
  return due;
}

std::vector<double> bursts(int count) {
  std::vector<double> due;
  for (int burst = 0; burst < count; ++burst)
    for (std::size_t i = 0; i < people; ++i)
      due.push_back(burst * between_bursts_s +
                    burst_s * static_cast<double>(i) / static_cast<double>(people));
  return due;
}

struct Scenario {
  const char* name;
  std::vector<double> due_s;
  std::size_t slow;
};

void print(const std::string& name, const Latencies& found) {
  std::printf("%-38s %7zu %8.2f %8.2f %8.2f %9.2f %5d %6d %7d %6d\n", name.c_str(), found.ms.size(),
              quantile(found.ms, 0.5), quantile(found.ms, 0.99), quantile(found.ms, 1),
              quantile(found.late_ms, 0.99), found.server_errors, found.other_refusals,
              found.broken, found.slow_closed);
  std::fflush(stdout);
}

int run_bench(const Arguments& arguments) {
  const std::vector<Scenario> scenarios = {
      {"steady, 100 a second", steady(arguments.seconds), 0},
      {"steady, beside 200 slow clients", steady(arguments.seconds), slow_clients},
      {"bursts, 300 in 100 ms", bursts(arguments.bursts), 0},
      {"bursts, beside 200 slow clients", bursts(arguments.bursts), slow_clients},
  };
  const ScratchDirectory scratch;
  const std::string directory = (scratch.path() / "data").string();
  std::optional<PostgresServer> postgres;
  std::vector<std::string> command = arguments.command;
  if (arguments.has_database) {
    if (const auto why_not = PostgresServer::missing()) throw std::runtime_error(*why_not);
    postgres.emplace("autovacuum = on");  // as a server has it that nobody has touched
    command.insert(command.end(), {"--database", postgres->new_database()});
  }
  Subject subject(command, directory);
  const auto port = subject.start();
  if (!port) throw std::runtime_error("the server does not start");
  Class class_of_people(*port);

  std::printf("%zu connections; milliseconds from when an answer was due\n", people);
  std::printf("%-38s %7s %8s %8s %8s %9s %5s %6s %7s %6s\n", "", "answers", "p50", "p99", "max",
              "woke p99", "5xx", "other", "broken", "hung up");
  bool is_complete = true;
  {
    OpenLoop load(*port, people);
    for (const Scenario& scenario : scenarios) {
      const Latencies found = load.run(
          scenario.due_s, scenario.slow,
          [&](std::size_t index) { return class_of_people.answer_of(index); },
          [&](std::size_t index, const LoadReply& r) { return class_of_people.take(index, r); });
      print(scenario.name, found);
      is_complete = is_complete && found.ms.size() == scenario.due_s.size();
    }
  }
  const NullServer nothing(class_of_people.last_receipt());
  OpenLoop floor(nothing.port(), people);
  const std::string request =
      "PUT /api/floor HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n" + std::string(600, 'x');
  for (const Scenario& scenario : scenarios)
    print("floor: " + std::string(scenario.name),
          floor.run(
              scenario.due_s, scenario.slow, [&](std::size_t) { return request; },
              [](std::size_t, const LoadReply& reply) -> std::optional<std::string> {
                if (json::parse(reply.body).empty()) return "";  // what taking a receipt costs
                return std::nullopt;
              }));

  if (subject.stop() != 0) throw std::runtime_error("the server did not end cleanly");
  const Findings found = postgres ? compare_in_postgres(class_of_people.ledger(), *postgres, "d1")
                                  : compare(class_of_people.ledger(), directory + "/copunctal.db");
  std::printf("acknowledged %d, lost %d, altered %d, doubled %d, unknown %d, damage %zu\n",
              found.acknowledged, found.lost, found.altered, found.doubled, found.unknown,
              found.damage.size());
  if (!is_complete) std::puts("some answers were not answered within a minute");
  return found.is_clean() && is_complete ? 0 : 1;
}

}  // namespace

int main(int count, char** words) {
  try {
    return run_bench(arguments_in(count, words));
  } catch (const std::invalid_argument& trouble) {
    std::fprintf(stderr,
                 "usage: copunctal_load_bench --server PROGRAM [--set DIR] [--seconds N] "
                 "[--bursts N] [--database] (%s)\n",
                 trouble.what());
    return 2;
  } catch (const std::exception& trouble) {
    std::fprintf(stderr, "copunctal_load_bench: %s\n", trouble.what());
    return 1;
  }
}
