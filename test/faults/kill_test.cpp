// Kills the server in the middle of its work, again and again, and holds it to its word.
//
//   kill_test --server PROGRAM [--set DIR] [--kills N[/IN_FULL]] [--seed N] [--expect-loss]
//
// Eight people run sittings against PROGRAM, which is started as `PROGRAM serve --data DIR --port
// 0 [--set DIR]`. It is killed (SIGKILL) at the moment an acknowledgement arrives, or within two
// milliseconds after a request's bytes have left and before its reply is read. Then it is started
// again and the store's file is compared with what the people were promised: each acknowledged
// answer is there once, unaltered. They go on where they were, sending answers whose
// acknowledgement they never saw again under the same id.
//
// --expect-loss turns the verdict round: for a server that acknowledges before it commits, the test
// passes when it catches it. Without that control the test could be one that cannot fail.
#include <algorithm>
#include <cstdio>
#include <optional>
#include <stdexcept>
#include <string>
#include <vector>

#include "copunctal/base/random.h"
#include "copunctal/store/scratch_directory.h"
#include "faults/ledger.h"
#include "faults/people.h"
#include "faults/subject.h"
#include "faults/trials.h"

namespace {

using namespace copunctal;

constexpr int clients = 8;

struct Arguments {
  std::vector<std::string> command;
  int kills = 12;
  std::uint64_t seed = 1;
  bool expects_loss = false;
};

Arguments arguments_in(int count, char** words) {
  Arguments arguments;
  std::string server, set;
  read_words(count, words,
             {{{"--server", &server}, {"--set", &set}},
              {{"--kills", &arguments.kills}},
              {{"--seed", &arguments.seed}},
              {{"--expect-loss", &arguments.expects_loss}}},
             {"--server"});
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
  std::vector<Person> people = new_people(arguments.seed, clients);

  int kills = 0, kills_with_answers_under_way = 0, worst_lost = 0;
  bool is_clean = true;
  for (; kills < arguments.kills && is_clean; ++kills) {
    const auto port = subject.start();
    if (!port) throw std::runtime_error("the server does not start");
    Run run{ledger, *port, new_plan(random), [&subject] { subject.kill(); }};
    run_people(people, run, counts);
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
    Run last{ledger, *port};
    run_people(people, last, counts);
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
  return copunctal::main_of(
      "kill_test",
      "usage: kill_test --server PROGRAM [--set DIR] [--kills N[/IN_FULL]] [--seed N] "
      "[--expect-loss] ",
      [&] { return run_test(arguments_in(count, words)); });
}
