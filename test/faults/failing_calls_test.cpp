// Lets the k-th call that writes fail, for every k, and holds the server to its word.
//
//   failing_calls_test --server PROGRAM --calls LIBRARY [--every N[/IN_FULL]]
//
// One person runs a sitting while one call that writes to the server's files fails (with "no space"
// or "input/output error"), or that one and all that follow. The server may refuse to start, with a
// reason and an exit code, or answer 503; it may not crash, and what it acknowledged is there when
// it is started again without the fault. After a single failure the same server brings the sitting
// to its end. k runs until a sitting meets no failure, in steps of --every.
#include <cerrno>
#include <cstdio>
#include <filesystem>
#include <stdexcept>
#include <string>
#include <vector>

#include "copunctal/store/scratch_directory.h"
#include "faults/ledger.h"
#include "faults/people.h"
#include "faults/subject.h"
#include "faults/trials.h"

namespace {

using namespace copunctal;

constexpr int most_tries = 4;     // of a person, to come to the end of the sitting
constexpr int least_calls = 100;  // a sitting writes more often than this

struct Arguments {
  std::string server, calls;
  int every = 7;
};

struct Failure {
  int call, number;
  bool is_for_ever;
};

struct Sums {
  int trials = 0, refused_to_start = 0, unavailable = 0, acknowledged = 0, failures = 0;

  void check(bool is_so, const Failure& failure, const std::string& what) {
    if (is_so) return;
    ++failures;
    std::printf("FAILED: call %d, errno %d%s: %s\n", failure.call, failure.number,
                failure.is_for_ever ? ", for ever" : "", what.c_str());
  }
};

Arguments arguments_in(int count, char** words) {
  Arguments arguments;
  read_words(count, words,
             {{{"--server", &arguments.server}, {"--calls", &arguments.calls}},
              {{"--every", &arguments.every}},
              {},
              {}},
             {"--server", "--calls"});
  return arguments;
}

/// Lets the person answer with one fault and then without; whether the call was reached.
bool try_failure(const Arguments& arguments, const Failure& failure, Sums& sums) {
  const ScratchDirectory scratch;
  const std::string directory = (scratch.path() / "data").string();
  const std::string mark = (scratch.path() / "mark").string();
  Ledger ledger;
  Counts counts;
  std::vector<Person> people = new_people(1, 1);
  const auto answer = [&](std::uint16_t port) {
    Run run{ledger, port};
    run.may_refuse = true;
    run.on_unavailable = [&sums](const Reply&) { ++sums.unavailable; };
    for (int i = 0; i < most_tries && !people[0].has_ended(); ++i) run_people(people, run, counts);
  };
  {
    Subject subject({"/usr/bin/env", "LD_PRELOAD=" + arguments.calls,
                     "COPUNCTAL_FAIL_AT=" + std::to_string(failure.call),
                     "COPUNCTAL_FAIL_WITH=" + std::to_string(failure.number),
                     std::string("COPUNCTAL_FAIL_EVER=") + (failure.is_for_ever ? "1" : "0"),
                     "COPUNCTAL_FAIL_MARK=" + mark, arguments.server, "serve"},
                    directory);
    if (const auto port = subject.start()) {
      answer(*port);
      sums.check(people[0].has_ended() || failure.is_for_ever, failure,
                 "the same server goes on to the sitting's end");
      sums.check(subject.stop() == 0, failure, "the server ends cleanly");
    } else {
      ++sums.refused_to_start;
      sums.check(subject.stop() > 0, failure, "a server that does not start says so and exits");
    }
  }
  Subject sound({arguments.server, "serve"}, directory);
  const auto port = sound.start();
  sums.check(port.has_value(), failure, "it starts again without the fault");
  if (port) answer(*port);
  sums.check(people[0].has_ended(), failure, "without the fault the sitting comes to its end");
  sums.check(sound.stop() == 0, failure, "it ends cleanly without the fault");
  const Findings found = compare(ledger, directory + "/copunctal.db");
  sums.check(found.is_clean(), failure, "what was acknowledged is there once, unaltered");
  sums.check(counts.refused == 0, failure, "nothing but 503 is met");
  sums.acknowledged += found.acknowledged;
  ++sums.trials;
  return std::filesystem::exists(mark);
}

int run_test(const Arguments& arguments) {
  Sums sums;
  bool has_tested_something = true;
  for (const int number : {EIO, ENOSPC})
    for (const bool is_for_ever : {false, true}) {
      int call = 1;
      while (try_failure(arguments, {call, number, is_for_ever}, sums)) call += arguments.every;
      has_tested_something = has_tested_something && call > least_calls;
    }
  std::printf(
      "calls made to fail %d; refused to start %d, told 503 %d, acknowledged %d, failures %d\n",
      sums.trials, sums.refused_to_start, sums.unavailable, sums.acknowledged, sums.failures);
  if (!has_tested_something) std::puts("too few calls were reached");
  return sums.failures == 0 && has_tested_something ? 0 : 1;
}

}  // namespace

int main(int count, char** words) {
  return copunctal::main_of(
      "failing_calls_test",
      "usage: failing_calls_test --server PROGRAM --calls LIBRARY [--every N[/IN_FULL]] "
      "",
      [&] { return run_test(arguments_in(count, words)); });
}
