// Cuts requests and drops replies, and holds the server to its word.
//
//   network_test --server PROGRAM [--cuts N[/IN_FULL]] [--seed N]
//
// Eight people reach the server through a network (proxy.h) that ends a connection after some bytes
// of a request, delivers a request and drops or cuts its reply, delivers a request twice, or
// carries it in small pieces. They come back over a new connection and send what was not
// acknowledged again. In the end everything acknowledged is there once, unaltered, and nothing
// twice.
#include <algorithm>
#include <cstdio>
#include <stdexcept>
#include <string>
#include <vector>

#include "copunctal/store/scratch_directory.h"
#include "faults/ledger.h"
#include "faults/people.h"
#include "faults/proxy.h"
#include "faults/subject.h"
#include "faults/trials.h"

namespace {

using namespace copunctal;

constexpr int clients = 8;

struct Arguments {
  std::string server;
  int cuts = 300;
  std::uint64_t seed = 1;
};

Arguments arguments_in(int count, char** words) {
  Arguments arguments;
  read_words(count, words,
             {{{"--server", &arguments.server}},
              {{"--cuts", &arguments.cuts}},
              {{"--seed", &arguments.seed}},
              {}},
             {"--server"});
  return arguments;
}

int run_test(const Arguments& arguments) {
  const ScratchDirectory scratch;
  const std::string directory = (scratch.path() / "data").string();
  Subject subject({arguments.server, "serve"}, directory);
  const auto port = subject.start();
  if (!port) throw std::runtime_error("the server does not start");
  Ledger ledger;
  Counts counts;
  std::vector<Person> people = new_people(arguments.seed, clients);
  int requests_cut = 0, replies_dropped = 0, replies_cut = 0, doubled = 0, trickled = 0;
  {
    Proxy network(*port, arguments.seed);
    while (network.deeds().cuts() < arguments.cuts) {
      Run run{ledger, *port};
      run.way = network.port();
      run_people(people, run, counts);
    }
    const Proxy::Deeds& deeds = network.deeds();
    requests_cut = deeds.requests_cut, replies_dropped = deeds.replies_dropped;
    replies_cut = deeds.replies_cut, doubled = deeds.doubled, trickled = deeds.trickled;
  }
  Run last{ledger, *port};
  run_people(people, last, counts);
  if (subject.stop() != 0) throw std::runtime_error("the server did not end cleanly");

  const Findings found = compare(ledger, directory + "/copunctal.db");
  const auto ended = std::count_if(people.begin(), people.end(),
                                   [](const Person& person) { return person.has_ended(); });
  std::printf(
      "requests cut %d, replies dropped %d, replies cut %d, requests doubled %d, trickled %d; "
      "acknowledged %d, lost %d, altered %d, doubled %d, unknown %d, never acknowledged %d; sent "
      "again: %d stored, %d duplicate; refused %d, sittings gone on to the end %d of %d\n",
      requests_cut, replies_dropped, replies_cut, doubled, trickled, found.acknowledged, found.lost,
      found.altered, found.doubled, found.unknown, found.kept_unacknowledged,
      counts.retries_stored.load(), counts.retries_duplicate.load(), counts.refused.load(),
      static_cast<int>(ended), clients);

  const bool has_tested_something =
      std::min({requests_cut, replies_dropped, replies_cut, doubled, trickled}) > 0 &&
      counts.retries_stored > 0 && counts.retries_duplicate > 0;
  if (!has_tested_something) std::puts("not every kind of trouble came about");
  const bool is_good =
      found.is_clean() && found.kept_unacknowledged == 0 && counts.refused == 0 && ended == clients;
  return is_good && has_tested_something ? 0 : 1;
}

}  // namespace

int main(int count, char** words) {
  return copunctal::main_of("network_test",
                            "usage: network_test --server PROGRAM [--cuts N[/IN_FULL]] [--seed N] ",
                            [&] { return run_test(arguments_in(count, words)); });
}
