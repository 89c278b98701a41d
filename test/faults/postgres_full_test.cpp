// Lets PostgreSQL run out of connections, then of disk, under the server, and holds it to its word.
//
//   postgres_full_test --server PROGRAM
//
// A PostgreSQL server of its own whose files lie on a file system in memory. First others hold all
// its connections, after it has ended those of PROGRAM: PROGRAM must say 503 as docs/api.md has it,
// another one must not start, and once the others are gone it must answer again by itself. Then
// eight people answer while the disk is full: first its tables cannot grow (PostgreSQL refuses a
// statement), then its log cannot (it ends itself). Each time somebody must be told 503, and with
// room again, and PostgreSQL started again where it had ended, the same PROGRAM goes on. What was
// acknowledged is in the database once, unaltered.
//
// Needs root, to mount, and PostgreSQL 15's server; without them says so and is skipped.
#include <sys/stat.h>

#include <algorithm>
#include <chrono>
#include <cstdio>
#include <fstream>
#include <mutex>
#include <stdexcept>
#include <string>
#include <thread>
#include <vector>

#include "copunctal/store/postgres_server.h"
#include "copunctal/store/scratch_directory.h"
#include "faults/ledger.h"
#include "faults/mounts.h"
#include "faults/people.h"
#include "faults/subject.h"
#include "faults/trials.h"

namespace {

using namespace copunctal;
using Clock = std::chrono::steady_clock;

constexpr int clients = 8;
constexpr int most_sittings = 200;  // each
constexpr int connections = 14;
constexpr std::chrono::seconds most_until_back{10};

int failures = 0;

void check(bool is_so, const std::string& what) {
  if (is_so) return;
  ++failures;
  std::printf("FAILED: %s\n", what.c_str());
}

std::optional<Reply> asked(std::uint16_t port, const char* method, const char* target) {
  HttpClient client(port);
  return client.ask(method, target, *method == 'P' ? "{}" : "");
}

class Scene {
 public:
  Scene(const std::string& server, PostgresServer& postgres, const std::string& directory)
      : postgres_(postgres),
        command_({server, "serve", "--database", postgres.new_database()}),
        directory_(directory),
        subject_(command_, directory + "/here") {
    const auto port = subject_.start();
    if (!port) throw std::runtime_error("the server does not start");
    port_ = *port;
  }

  void use_up_connections() {
    std::vector<std::thread> others;
    const auto hold = [&](int count) {
      for (int i = 0; i < count; ++i)
        others.emplace_back([this] { (void)postgres_.sql("SELECT pg_sleep(4)"); });
      std::this_thread::sleep_for(std::chrono::milliseconds(700));
    };
    hold(connections - 6);
    check(postgres_.sql("SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname ="
                        " 'd1'"),
          "the server's own connections are ended");
    hold(8);
    for (const char* method : {"GET", "POST"}) {
      const auto reply = asked(port_, method, "/api/practicals");
      check(reply && reply->status == 503 && is_proper_refusal(*reply),
            std::string(method) + " without a connection: " + (reply ? reply->body : "nothing"));
      if (reply) std::printf("no connection: %s\n", reply->body.c_str());
    }
    Subject second(command_, directory_ + "/there");
    check(!second.start(), "another server does not start without connections");
    second.kill();
    second.wait();
    for (std::thread& other : others) other.join();
    wait_until_back("with connections again");
  }

  void wait_until_back(const std::string& when) const {
    const auto began = Clock::now();
    const auto is_back = [&] {
      const auto reads = asked(port_, "GET", "/api/practicals");
      const auto keeps = asked(port_, "POST", "/api/practicals");
      return reads && reads->status == 200 && keeps && keeps->status == 201;
    };
    while (!is_back() && Clock::now() - began < most_until_back)
      std::this_thread::sleep_for(std::chrono::milliseconds(50));
    check(Clock::now() - began < most_until_back, when + ": the same server answers");
  }

  /// Lets people begin, and leaves them in the middle of their sittings.
  void begin() {
    constexpr int answers = 5 * clients;
    Run run{ledger_, port_, Plan{Plan::Point::at_acknowledgement, answers, 0}, [] {}};
    run_people(people_, run, counts_);
  }

  /// Lets people answer until somebody is told 503.
  void answer_until_full(const std::string& when) {
    refusals_ = 0;
    for (int sitting = 0; sitting < most_sittings && refusals_ == 0; ++sitting) answer(true);
    check(refusals_ > 0, when + ": somebody is told 503");
  }

  void answer(bool may_refuse) {
    Run run{ledger_, port_};
    run.may_refuse = may_refuse;
    run.on_unavailable = [this](const Reply& reply) {
      const std::lock_guard lock(mutex_);
      if (++refusals_ == 1) std::printf("refused with %s\n", reply.body.c_str());
      check(is_proper_refusal(reply), "503 has the shape of docs/api.md: " + reply.body);
    };
    run_people(people_, run, counts_);
  }

  void go_on(const std::string& when) {
    wait_until_back(when);
    answer(false);
    check(std::all_of(people_.begin(), people_.end(),
                      [](const Person& person) { return person.has_ended(); }),
          when + ": the same server goes on to the sittings' ends");
    const Findings found = compare_in_postgres(ledger_, postgres_, "d1");
    std::printf("%s: acknowledged %d, lost %d, altered %d, doubled %d, unknown %d\n", when.c_str(),
                found.acknowledged, found.lost, found.altered, found.doubled, found.unknown);
    check(found.is_clean() && found.acknowledged > 0,
          when + ": what was acknowledged is there once, unaltered");
  }

  void end() {
    check(subject_.stop() == 0, "the server ends cleanly");
    check(counts_.retries_stored + counts_.retries_duplicate > 0, "something was sent again");
    check(counts_.refused == 0, "nothing else was refused");
    check(postgres_.is_sound("d1"), "PostgreSQL finds every page sound");
  }

 private:
  PostgresServer& postgres_;
  const std::vector<std::string> command_;
  const std::string directory_;
  Subject subject_;
  std::uint16_t port_ = 0;
  Ledger ledger_;
  Counts counts_;
  std::vector<Person> people_ = new_people(1, clients);
  std::mutex mutex_;
  int refusals_ = 0;
};

void fill(const std::filesystem::path& file) {
  std::ofstream rest(file, std::ios::binary);
  const std::string bytes(4096, 'x');
  while (rest.write(bytes.data(), static_cast<std::streamsize>(bytes.size())).flush()) {
  }
}

int run_test(const std::string& server) {
  auto why_not = PostgresServer::missing();
  if (!why_not) why_not = take_own_mounts();
  if (why_not) {
    std::printf("skipped: %s\n", why_not->c_str());
    return skipped;
  }
  const ScratchDirectory scratch;
  const auto at = scratch.path() / "disk";
  std::filesystem::create_directory(at);
  const MemoryDisk disk(at, "160m");
  for (const auto& path : {scratch.path(), at})  // the user postgres must get through
    if (chmod(path.c_str(), 0755) != 0) throw std::runtime_error("chmod");
  PostgresServer postgres("max_connections = " + std::to_string(connections) +
                              "\nmin_wal_size = 32MB\nmax_wal_size = 48MB",
                          at);
  Scene scene(server, postgres, scratch.path().string());

  scene.use_up_connections();

  scene.begin();
  fill(at / "rest");
  scene.answer_until_full("full tables");
  std::filesystem::remove(at / "rest");
  scene.go_on("with room again");

  scene.begin();
  fill(at / "rest");
  (void)postgres.sql("SELECT pg_switch_wal()");  // what is written next needs a new file
  scene.answer_until_full("full log");
  std::filesystem::remove(at / "rest");
  postgres.stop(PostgresServer::End::immediate);
  postgres.start();
  scene.go_on("after a full log");
  scene.end();
  return failures == 0 ? 0 : 1;
}

}  // namespace

int main(int count, char** words) {
  if (count != 3 || std::string(words[1]) != "--server") {
    std::fputs("usage: postgres_full_test --server PROGRAM\n", stderr);
    return 2;
  }
  try {
    return run_test(words[2]);
  } catch (const std::exception& trouble) {
    std::fprintf(stderr, "postgres_full_test: %s\n", trouble.what());
    return 1;
  }
}
