// Sets the server's clock forward and back while it works, and holds it to its word.
//
//   clock_test --server PROGRAM --faketime LIBRARY [--sittings N[/IN_FULL]]
//
// The clock of the day jumps by an hour, a day and a year, forward and back, every few
// milliseconds; the steady clock goes on, as it does on a computer whose clock is set. Nobody is
// refused, nothing is lost or doubled, every sitting comes to its end, and the steady times that
// are stored with the answers of a sitting keep their order.
//
// The clock of the process alone is changed, by libfaketime; where that is missing the test says so
// and is skipped.
#include <algorithm>
#include <chrono>
#include <cstdio>
#include <filesystem>
#include <fstream>
#include <map>
#include <stdexcept>
#include <stop_token>
#include <string>
#include <thread>
#include <vector>

#include "copunctal/store/scratch_directory.h"
#include "faults/ledger.h"
#include "faults/people.h"
#include "faults/subject.h"
#include "faults/trials.h"

namespace {

using namespace copunctal;

constexpr int clients = 8;
constexpr std::chrono::milliseconds between_jumps{7};

struct Arguments {
  std::string server, faketime;
  int sittings = 20;
};

Arguments arguments_in(int count, char** words) {
  Arguments arguments;
  read_words(count, words,
             {{{"--server", &arguments.server}, {"--faketime", &arguments.faketime}},
              {{"--sittings", &arguments.sittings}},
              {},
              {}},
             {"--server"});
  return arguments;
}

/// Says what the clock shows from now on, in one step.
void set_clock(const std::filesystem::path& file, const std::string& offset) {
  const std::filesystem::path next = file.string() + ".next";
  std::ofstream(next) << offset << "\n";
  std::filesystem::rename(next, file);
}

int jump_until(const std::stop_token& stop, const std::filesystem::path& file) {
  int jumps = 0;
  while (!stop.stop_requested())
    for (const char* offset : {"-1h", "+1d", "-365d", "+0", "+365d", "-1d"}) {
      set_clock(file, offset);
      ++jumps;
      std::this_thread::sleep_for(between_jumps);
    }
  return jumps;
}

/// What the stored times say.
struct Times {
  int years = 0;         ///< Different years on the clock of the day.
  int steps_back = 0;    ///< Answers dated before the one before them in their sitting.
  int out_of_order = 0;  ///< The same by the steady clock: there must be none.
};

Times times_in(const std::string& database_file) {
  Times times;
  std::map<std::string, int> years;
  std::string sitting, utc;
  long long steady = 0;
  for (const auto& row : rows_in(database_file,
                                 "SELECT sitting_id, received_utc, received_steady_ns FROM answers"
                                 " ORDER BY sitting_id, rowid")) {
    const long long now = std::stoll(row[2]);
    if (row[0] == sitting) {
      times.steps_back += row[1] < utc ? 1 : 0;
      times.out_of_order += now < steady ? 1 : 0;
    }
    sitting = row[0], utc = row[1], steady = now;
    ++years[row[1].substr(0, 4)];
  }
  times.years = static_cast<int>(years.size());
  return times;
}

int run_test(const Arguments& arguments) {
  if (arguments.faketime.empty()) {
    std::puts("skipped: libfaketime is not installed, without which no clock can be set here");
    return skipped;
  }
  const ScratchDirectory scratch;
  const auto clock = scratch.path() / "clock";
  set_clock(clock, "+0");
  const std::string directory = (scratch.path() / "data").string();
  Subject subject({"/usr/bin/env", "LD_PRELOAD=" + arguments.faketime,
                   "FAKETIME_TIMESTAMP_FILE=" + clock.string(), "FAKETIME_NO_CACHE=1",
                   "FAKETIME_DONT_FAKE_MONOTONIC=1", arguments.server, "serve"},
                  directory);
  const auto port = subject.start();
  if (!port) throw std::runtime_error("the server does not start");

  int jumps = 0, ended = 0;
  Ledger ledger;
  Counts counts;
  std::vector<Person> people = new_people(1, clients);
  std::jthread jumper([&](const std::stop_token& stop) { jumps = jump_until(stop, clock); });
  for (int sitting = 0; sitting < arguments.sittings; ++sitting) {
    Run run{ledger, *port};
    run_people(people, run, counts);
    ended += static_cast<int>(std::count_if(
        people.begin(), people.end(), [](const Person& person) { return person.has_ended(); }));
  }
  jumper.request_stop();
  jumper.join();
  if (subject.stop() != 0) throw std::runtime_error("the server did not end cleanly");

  const std::string file = directory + "/copunctal.db";
  const Findings found = compare(ledger, file);
  const Times times = times_in(file);
  std::printf(
      "clock jumps %d (years seen %d, steps back within a sitting %d); acknowledged %d, lost %d, "
      "altered %d, doubled %d, unknown %d; steady times out of order %d; refused %d, sittings gone "
      "on to the end %d of %d\n",
      jumps, times.years, times.steps_back, found.acknowledged, found.lost, found.altered,
      found.doubled, found.unknown, times.out_of_order, counts.refused.load(), ended,
      arguments.sittings * clients);
  const bool has_tested_something = times.years >= 3 && times.steps_back > 0;
  if (!has_tested_something) std::puts("the server did not see the clock jump");
  const bool is_good = found.is_clean() && times.out_of_order == 0 && counts.refused == 0 &&
                       ended == arguments.sittings * clients;
  return is_good && has_tested_something ? 0 : 1;
}

}  // namespace

int main(int count, char** words) {
  return copunctal::main_of(
      "clock_test",
      "usage: clock_test --server PROGRAM --faketime LIBRARY [--sittings N[/IN_FULL]] "
      "",
      [&] { return run_test(arguments_in(count, words)); });
}
