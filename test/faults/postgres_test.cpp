// Takes PostgreSQL away under two servers that share a practical, and holds both to their word.
//
//   postgres_test --server PROGRAM [--restarts N[/IN_FULL]] [--seed N] [--asynchronous]
//                 [--expect-loss]
//
// A PostgreSQL server of its own, in a temporary directory and waiting for the disk. Two processes
// of PROGRAM keep their practicals in one database of it; eight people answer, each request to the
// other server than the one before, so that a sitting begins on one and goes on on the other. At
// the moment an acknowledgement arrives, or just after a request has left, PostgreSQL is stopped
// in order (fast), by dropping everything (immediate), or by SIGKILL of its first process, in turn.
// Both servers must say 503 then. It is started again; both must answer again within ten seconds,
// without a restart of their own; what was acknowledged is in the database once, unaltered. The
// people go on where they were. In the end PostgreSQL's own checker looks at every page.
//
// --asynchronous: PostgreSQL does not wait for the disk (synchronous_commit=off), and is slow to
// write. The product refuses to start then. --expect-loss turns the verdict round, for a server
// that does not refuse: the test passes when it catches the loss.
//
// Without PostgreSQL 15's server says so and is skipped.
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <chrono>
#include <cstdio>
#include <stdexcept>
#include <string>
#include <thread>
#include <vector>

#include "copunctal/base/random.h"
#include "copunctal/store/postgres_server.h"
#include "copunctal/store/scratch_directory.h"
#include "faults/ledger.h"
#include "faults/people.h"
#include "faults/subject.h"
#include "faults/trials.h"

namespace {

using namespace copunctal;
using Clock = std::chrono::steady_clock;

constexpr int clients = 8;
constexpr std::chrono::milliseconds most_until_back{10'000};

struct Arguments {
  std::string server;
  int restarts = 6;
  std::uint64_t seed = 1;
  bool is_asynchronous = false, expects_loss = false;
};

Arguments arguments_in(int count, char** words) {
  Arguments arguments;
  read_words(count, words,
             {{{"--server", &arguments.server}},
              {{"--restarts", &arguments.restarts}},
              {{"--seed", &arguments.seed}},
              {{"--asynchronous", &arguments.is_asynchronous},
               {"--expect-loss", &arguments.expects_loss}}},
             {"--server"});
  return arguments;
}

/// What a server says when it is asked for its practicals: a status, 0 for nothing.
int status_of(std::uint16_t port) {
  HttpClient client(port);
  const auto reply = client.ask("GET", "/api/practicals");
  return reply ? reply->status : 0;
}

/// Whether a server takes something that is to be kept.
bool keeps(std::uint16_t port) {
  HttpClient client(port);
  const auto reply = client.ask("POST", "/api/practicals", "{}");
  return reply && reply->status == 201;
}

/// How long until both servers read and write; the test is lost when it takes too long.
std::chrono::milliseconds until_back(const std::array<std::uint16_t, 2>& ports) {
  const auto began = Clock::now();
  const auto waited = [&] {
    return std::chrono::duration_cast<std::chrono::milliseconds>(Clock::now() - began);
  };
  for (const std::uint16_t port : ports)
    while (status_of(port) != 200 || !keeps(port)) {
      if (waited() > most_until_back) return waited();
      std::this_thread::sleep_for(std::chrono::milliseconds(20));
    }
  return waited();
}

int run_test(const Arguments& arguments) {
  if (const auto why_not = PostgresServer::missing()) {
    std::printf("skipped: %s\n", why_not->c_str());
    return skipped;
  }
  PostgresServer postgres(
      arguments.is_asynchronous ? "synchronous_commit = off\nwal_writer_delay = 10s" : "");
  const std::string database = "d1";
  const std::string address = postgres.new_database();
  const ScratchDirectory scratch;
  const std::vector<std::string> command = {arguments.server, "serve", "--database", address};
  Subject here(command, (scratch.path() / "here").string()),
      there(command, (scratch.path() / "there").string());
  std::array<std::uint16_t, 2> ports{};
  for (std::size_t i = 0; i < ports.size(); ++i) {
    const auto port = (i == 0 ? here : there).start();
    if (!port) {
      std::puts("the server does not start");
      return 1;
    }
    ports[i] = *port;
  }

  Ledger ledger;
  Counts counts;
  RandomStream random(arguments.seed);
  std::vector<Person> people = new_people(arguments.seed, clients);
  const auto found_now = [&] { return compare_in_postgres(ledger, postgres, database); };
  constexpr std::array ends = {PostgresServer::End::fast, PostgresServer::End::immediate,
                               PostgresServer::End::kill};
  int restarts = 0, with_answers_under_way = 0, not_refused = 0, worst_lost = 0;
  std::chrono::milliseconds longest{0};
  bool is_clean = true;
  for (; restarts < arguments.restarts && is_clean; ++restarts) {
    const auto end = ends[static_cast<std::size_t>(restarts) % ends.size()];
    Run run{ledger, ports[0], new_plan(random), [&] { postgres.stop(end); }};
    run.other = ports[1];
    run.may_refuse = true;
    for (int tries = 0; !run.is_over; ++tries) {
      if (tries == 50) throw std::runtime_error("nobody came as far as the fault");
      if (tries > 0) std::this_thread::sleep_for(std::chrono::milliseconds(200));
      run_people(people, run, counts);
    }
    with_answers_under_way += run.sent > run.acknowledged ? 1 : 0;
    for (const std::uint16_t port : ports) not_refused += status_of(port) == 503 ? 0 : 1;
    postgres.start();
    longest = std::max(longest, until_back(ports));
    const Findings found = found_now();
    is_clean = found.is_clean();
    worst_lost = std::max(worst_lost, found.lost);
  }

  if (is_clean) {  // the sittings go on to their end, and the servers end by themselves
    Run last{ledger, ports[0]};
    last.other = ports[1];
    run_people(people, last, counts);
    if (here.stop() != 0 || there.stop() != 0)
      throw std::runtime_error("a server did not end cleanly");
  }
  const Findings found = found_now();
  const auto ended = std::count_if(people.begin(), people.end(),
                                   [](const Person& person) { return person.has_ended(); });
  const bool is_sound = postgres.is_sound(database);
  std::printf(
      "restarts %d (%d with answers between request and acknowledgement), acknowledged %d, lost "
      "%d, altered %d, doubled %d, unknown %d; sent again: %d stored, %d duplicate; refused %d, "
      "sittings gone on to the end %d of %d; back after %d ms at most, %d times no 503, pages %s\n",
      restarts, with_answers_under_way, found.acknowledged, std::max(found.lost, worst_lost),
      found.altered, found.doubled, found.unknown, counts.retries_stored.load(),
      counts.retries_duplicate.load(), counts.refused.load(), static_cast<int>(ended), clients,
      static_cast<int>(longest.count()), not_refused, is_sound ? "sound" : "DAMAGED");

  if (arguments.expects_loss) return worst_lost > 0 ? 0 : 1;
  const bool has_tested_something = found.acknowledged >= arguments.restarts &&
                                    2 * with_answers_under_way >= restarts &&
                                    counts.retries_stored + counts.retries_duplicate > 0;
  if (!has_tested_something) std::puts("too few restarts fell between request and acknowledgement");
  const bool is_good = is_clean && found.is_clean() && is_sound && counts.refused == 0 &&
                       ended == clients && not_refused == 0 && longest < most_until_back;
  return is_good && has_tested_something ? 0 : 1;
}

}  // namespace

int main(int count, char** words) {
  return copunctal::main_of(
      "postgres_test",
      "usage: postgres_test --server PROGRAM [--restarts N[/IN_FULL]] [--seed N] [--asynchronous] "
      "[--expect-loss]",
      [&] { return run_test(arguments_in(count, words)); });
}
