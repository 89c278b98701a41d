// Lets the disk run full under the server, and holds it to its word.
//
//   disk_full_test --server PROGRAM
//
// The data directory lies on a file system of 2 MB in memory. Eight people answer until one is
// told 503, in the shape that docs/api.md gives an error. What was acknowledged is there. With more
// room the same server goes on, without a restart. Then the disk is filled by somebody else, the
// server killed in the middle of its trouble and started again, on the full disk and once there is
// room.
//
// Needs root, to mount; without it says so and is skipped.
#include <algorithm>
#include <cstdio>
#include <fstream>
#include <mutex>
#include <stdexcept>
#include <string>
#include <vector>

#include "copunctal/store/scratch_directory.h"
#include "faults/ledger.h"
#include "faults/mounts.h"
#include "faults/people.h"
#include "faults/subject.h"
#include "faults/trials.h"

namespace {

using namespace copunctal;

constexpr int clients = 8;
constexpr int most_sittings = 200;  // each; long before that 2 MB are full

int failures = 0;

void check(bool is_so, const std::string& what) {
  if (is_so) return;
  ++failures;
  std::printf("FAILED: %s\n", what.c_str());
}

class Scene {
 public:
  Scene(const std::string& server, const std::filesystem::path& disk)
      : directory_((disk / "data").string()), subject_({server, "serve"}, directory_) {}

  void start() {
    const auto port = subject_.start();
    if (!port) throw std::runtime_error("the server does not start");
    port_ = *port;
  }

  /// Lets people answer until somebody is told 503; how often that was said.
  int answer_until_full() {
    refusals_ = 0;
    for (int sitting = 0; sitting < most_sittings && refusals_ == 0; ++sitting) answer(true);
    return refusals_;
  }

  void answer(bool may_refuse) {
    Run run{ledger_, port_};
    run.may_refuse = may_refuse;
    run.on_unavailable = [this](const Reply& reply) { note(reply); };
    run_people(people_, run, counts_);
  }

  Findings findings() const { return compare(ledger_, directory_ + "/copunctal.db"); }

  Subject& subject() { return subject_; }
  const Counts& counts() const { return counts_; }
  const std::string& directory() const { return directory_; }
  bool somebody_owes_an_answer() const {
    return std::any_of(people_.begin(), people_.end(),
                       [](const Person& person) { return person.owes_an_answer(); });
  }
  bool all_have_ended() const {
    return std::all_of(people_.begin(), people_.end(),
                       [](const Person& person) { return person.has_ended(); });
  }

 private:
  void note(const Reply& reply) {
    const std::lock_guard lock(mutex_);
    if (++refusals_ == 1) std::printf("refused with %s\n", reply.body.c_str());
    check(is_proper_refusal(reply), "503 has the shape of docs/api.md: " + reply.body);
  }

  std::string directory_;
  Subject subject_;
  std::uint16_t port_ = 0;
  Ledger ledger_;
  Counts counts_;
  std::vector<Person> people_ = new_people(1, clients);
  std::mutex mutex_;
  int refusals_ = 0;
};

void report(const std::string& when, const Findings& found) {
  std::printf("%s: acknowledged %d, lost %d, altered %d, doubled %d, unknown %d, damage %zu\n",
              when.c_str(), found.acknowledged, found.lost, found.altered, found.doubled,
              found.unknown, found.damage.size());
  for (const std::string& damage : found.damage) std::printf("damage: %s\n", damage.c_str());
  check(found.is_clean(), when + ": what was acknowledged is there once, unaltered");
}

void fill(const std::filesystem::path& file) {
  std::ofstream rest(file, std::ios::binary);
  const std::string bytes(4096, 'x');
  while (rest.write(bytes.data(), static_cast<std::streamsize>(bytes.size())).flush()) {
  }
}

int run_test(const std::string& server) {
  if (const auto why_not = take_own_mounts()) {
    std::printf("skipped: %s\n", why_not->c_str());
    return skipped;
  }
  const ScratchDirectory scratch;
  const auto at = scratch.path() / "disk";
  std::filesystem::create_directory(at);
  MemoryDisk disk(at, "2m");
  Scene scene(server, at);

  scene.start();
  check(scene.answer_until_full() > 0, "2 MB run full");
  // Where only beginnings of sittings were refused, a little more room lets somebody begin.
  for (int kib = 2048; !scene.somebody_owes_an_answer() && kib < 4096;) {
    kib += 32;
    disk.resize(std::to_string(kib) + "k");
    check(scene.answer_until_full() > 0, "a little more runs full as well");
  }
  report("full", scene.findings());

  disk.resize("16m");
  scene.answer(false);
  check(scene.all_have_ended(), "with room the same server goes on to the sittings' ends");
  check(scene.counts().retries_stored > 0, "what was refused is stored when it is sent again");
  report("with room again", scene.findings());

  fill(at / "rest");
  check(scene.answer_until_full() > 0, "the filled disk is full");
  scene.subject().kill();
  scene.subject().wait();
  if (const auto port = scene.subject().start()) {
    std::puts("started on the full disk");
    scene.subject().kill();
  }
  scene.subject().wait();
  std::filesystem::remove(at / "rest");
  report("killed while full", scene.findings());
  scene.start();
  scene.answer(false);
  check(scene.all_have_ended(), "started again with room, it goes on to the sittings' ends");
  check(scene.subject().stop() == 0, "the server ends cleanly");
  report("in the end", scene.findings());
  check(scene.counts().refused == 0, "nothing else was refused");
  return failures == 0 ? 0 : 1;
}

}  // namespace

int main(int count, char** words) {
  if (count != 3 || std::string(words[1]) != "--server") {
    std::fputs("usage: disk_full_test --server PROGRAM\n", stderr);
    return 2;
  }
  try {
    return run_test(words[2]);
  } catch (const std::exception& trouble) {
    std::fprintf(stderr, "disk_full_test: %s\n", trouble.what());
    return 1;
  }
}
