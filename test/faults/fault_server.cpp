// The product's store, desk and server around the sample set: what the fault tests kill.
//
//   fault_server serve --data DIR --port N [--database ADDRESS] [--set DIR]
//
// The set is ignored: it is built in. With a database several of them share, as `copunctal serve`.
//
// Speaks like `copunctal serve`, and starts in milliseconds because it weighs no answers.
#include <cstdio>
#include <string>

#include "copunctal/app/run_sitting.h"
#include "copunctal/app/run_sitting_sample_set.h"
#include "copunctal/server/server.h"
#include "copunctal/store/store.h"

namespace {

using namespace copunctal;

Result<std::shared_ptr<const ReadingTables>> without_tables(const PlateSet&) {
  return fail(Error::Kind::bad_input, "the fault tests weigh no answers");
}

void announce(std::uint16_t port) {
  std::printf("Copunctal is ready at http://127.0.0.1:%u/\n", unsigned{port});
  std::fflush(stdout);
}

Result<void> run(const std::string& directory, const std::string& database, std::uint16_t port) {
  const std::string now = system_clocks().utc();
  COPUNCTAL_TRY(const auto store,
                database.empty() ? Store::open(directory, now) : Store::connect(database, now));
  COPUNCTAL_TRY(const auto desk, SittingDesk::open(*store, sample_set(), system_clocks(),
                                                   kernel_random(), without_tables));
  ServerOptions options;
  options.port = port;
  return serve(*desk, {}, options, announce);
}

}  // namespace

int main(int count, char** arguments) {
  std::string directory, database;
  std::uint16_t port = 0;
  for (int i = 2; i + 1 < count; i += 2) {
    const std::string name = arguments[i];
    if (name == "--data") directory = arguments[i + 1];
    if (name == "--database") database = arguments[i + 1];
    if (name == "--port") port = static_cast<std::uint16_t>(std::stoi(arguments[i + 1]));
  }
  if (directory.empty()) {
    std::fputs("usage: fault_server serve --data DIR --port N [--database ADDRESS]\n", stderr);
    return 2;
  }
  const auto done = run(directory, database, port);
  if (done) return 0;
  std::fprintf(stderr, "fault_server: %s\n", done.error().message.c_str());
  return exit_code(done.error().kind);
}
