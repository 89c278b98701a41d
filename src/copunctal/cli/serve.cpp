#include <algorithm>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <map>
#include <optional>
#include <stop_token>
#include <string>
#include <system_error>
#include <vector>

#include <unistd.h>

#include "copunctal/app/debrief.h"
#include "copunctal/app/rehearsal_desk.h"
#include "copunctal/app/run_sitting.h"
#include "copunctal/base/embedded.h"
#include "copunctal/cli/class_network.h"
#include "copunctal/cli/commands.h"
#include "copunctal/cli/interrupt.h"
#include "copunctal/cli/output.h"
#include "copunctal/cli/progress.h"
#include "copunctal/cli/served.h"
#include "copunctal/design/make_set.h"
#include "copunctal/display/display.h"
#include "copunctal/server/class_door.h"
#include "copunctal/server/rehearsal.h"
#include "copunctal/server/server.h"
#include "copunctal/store/data_keeper.h"
#include "copunctal/store/identifiers.h"
#include "copunctal/store/store.h"

namespace copunctal {

std::span<const EmbeddedBytes> embedded_pages();  // generated

namespace {

namespace fs = std::filesystem;

std::string_view content_type_of(std::string_view path) {
  static const std::map<std::string_view, std::string_view> types = {
      {".html", "text/html; charset=utf-8"}, {".js", "text/javascript; charset=utf-8"},
      {".css", "text/css; charset=utf-8"},   {".svg", "image/svg+xml"},
      {".json", "application/json"},         {".png", "image/png"},
      {".wasm", "application/wasm"}};
  const auto dot = path.rfind('.');
  const auto type = dot == std::string_view::npos ? types.end() : types.find(path.substr(dot));
  return type == types.end() ? "application/octet-stream" : type->second;
}

// What to serve: the set named, or what the default set is made of.
struct WantedSet {
  std::optional<PlateSet> named;
  Display display;
  std::uint64_t seed = 0;
};

// Everything the options can get wrong, before anything is made.
Result<WantedSet> wanted_set(const ServeOptions& options) {
  WantedSet wanted;
  COPUNCTAL_TRY(wanted.display, display_from(options.display));
  COPUNCTAL_TRY(wanted.seed, seed_from(options.seed));
  if (options.set.empty()) return wanted;
  COPUNCTAL_TRY(wanted.named, load_set(options.set));
  return wanted;
}

// The set to serve; the default one is kept in the data directory and made when it is missing.
Result<PlateSet> set_to_serve(WantedSet wanted, const fs::path& data) {
  if (wanted.named) return *std::move(wanted.named);
  const Display& display = wanted.display;
  std::string name = "practical-" + display.name + "-" + std::to_string(wanted.seed);
  for (char& c : name)
    if (c == '/') c = '-';
  const fs::path directory = data / "sets" / name;
  std::error_code error;
  if (fs::exists(directory / "set.json", error)) return load_set(directory);
  const StopOnInterrupt on_interrupt;
  COPUNCTAL_TRY(
      const PlateSet set,
      make_set("practical", display, wanted.seed,
               {.progress = progress_bar("Making a plate set for display " + display.name),
                .stop = on_interrupt.token()}));
  fs::create_directories(directory.parent_path(), error);
  COPUNCTAL_TRY_VOID(save_set(set, directory));
  return set;
}

// The same plates for other displays, as far as they were made before and are kept beside.
std::vector<PlateSet> sets_for_other_displays(const PlateSet& set, const fs::path& data) {
  std::vector<PlateSet> others;
  std::error_code error;
  std::vector<fs::path> places;
  for (const auto& entry : fs::directory_iterator(data / "sets", error))
    if (entry.is_directory(error)) places.push_back(entry.path());
  std::sort(places.begin(), places.end());
  for (const fs::path& place : places) {
    auto other = load_set(place);
    if (!other || !check_same_plates(set, *other) || other->display == set.display) continue;
    const bool is_new = std::none_of(others.begin(), others.end(), [&](const PlateSet& one) {
      return one.display == other->display;
    });
    if (is_new) others.push_back(*std::move(other));
  }
  return others;
}

// Into the log of what was done to the data.
Result<void> note(Store& store, LogEvent event, const std::string& now_utc) {
  COPUNCTAL_TRY(const bool noted, store
                                      .change<bool>([&](Changes& changes) -> Result<bool> {
                                        COPUNCTAL_TRY_VOID(changes.note(event, now_utc));
                                        return true;
                                      })
                                      .get());
  static_cast<void>(noted);
  return {};
}

// Practicals whose last day has passed, wherever they are kept.
Result<void> remove_what_expired(const std::string& database, const fs::path& data,
                                 const DeskClocks& clocks) {
  COPUNCTAL_TRY(auto names, remove_expired(data, clocks.utc));
  if (!database.empty()) {
    COPUNCTAL_TRY(const auto more, remove_expired_in_database(database, clocks.utc));
    names.insert(names.end(), more.begin(), more.end());
  }
  for (const std::string& name : names)
    std::fprintf(stderr, "Note: the practical '%s' was removed: its last day has passed.\n",
                 name.c_str());
  return {};
}

}  // namespace

std::vector<EmbeddedFile> pages() {
  std::vector<EmbeddedFile> files;
  for (const EmbeddedBytes& file : embedded_pages())
    files.push_back({file.path, content_type_of(file.path), file.bytes});
  return files;
}

Result<PlateSet> set_of(const ServeOptions& options, const fs::path& data) {
  COPUNCTAL_TRY(auto wanted, wanted_set(options));
  return set_to_serve(std::move(wanted), data);
}

Result<std::string> data_directory(const std::string& named) {
  if (!named.empty()) return named;
  const char* home = std::getenv("HOME");  // NOLINT(concurrency-mt-unsafe): before any thread
  if (home == nullptr || *home == '\0')
    return fail(Error::Kind::usage, "no home directory is known", "data", "",
                "name a directory with --data");
  return (fs::path(home) / ".local" / "share" / "copunctal").string();
}

int serve_command(const ServeOptions& options) {
  auto wanted = wanted_set(options);
  if (!wanted) return failed(wanted.error());
  const auto class_address = address_for_the_class(options);
  if (!class_address) return failed(class_address.error());
  const auto directory = data_directory(options.data);
  if (!directory) return failed(directory.error());
  const fs::path data = *directory;
  if (geteuid() == 0)
    std::fprintf(stderr, "Note: running as root; an ordinary account is safer.\n");
  const DeskClocks clocks = system_clocks();
  auto shared = options.database.empty() ? Result<std::unique_ptr<Store>>()
                                         : Store::connect(options.database, clocks.utc());
  if (!shared) return failed(shared.error());
  const auto removed = remove_what_expired(options.database, data, clocks);
  if (!removed) return failed(removed.error());
  // With a database the directory still holds what is of this computer alone: sets and the check of
  // its screen.
  auto own = Store::open(data, clocks.utc());
  if (!own) return failed(own.error());
  for (const std::string& words : (*own)->notes())
    std::fprintf(stderr, "Note: %s\n", words.c_str());
  Store& store = *shared ? **shared : **own;
  auto listener = listener_for_the_class(options, *class_address, data);
  if (!listener) return failed(listener.error());
  auto set = set_to_serve(*std::move(wanted), data);
  if (!set) return failed(set.error());
  PlateWorkshop workshop(data / "sets", *set);
  // One that another program is in the middle of stays.
  if (const auto cleared = remove_rehearsal(rehearsal_directory(data)); !cleared)
    std::fprintf(stderr, "Note: %s\n", cleared.error().message.c_str());
  Rehearsals rehearsals([data, rehearsed = *set, report = TroubleReport([](std::string_view words) {
                                                   say(std::string(words));
                                                 })] {
    return Rehearsal::Rests{rehearsal_directory(data), rehearsed, pages(), report,
                            build_reading_tables};
  });
  RehearsalControl rehearsal_control = rehearsals.control();
  std::vector<PlateSet> others = sets_for_other_displays(*set, data);
  for (const PlateSet& other : others)
    std::fprintf(stderr, "Note: devices checked as %s get plates made for it.\n",
                 other.display.c_str());
  auto desk = SittingDesk::open(store, *std::move(set), clocks, kernel_random(),
                                build_reading_tables, std::move(others), own->get());
  if (!desk) return failed(desk.error());

  if (const auto noted = note(store, LogEvent::start, clocks.utc()); !noted)
    return failed(noted.error());
  const std::vector<EmbeddedFile> files = pages();
  ServerOptions server;
  server.port = options.port;
  // Each answer that waits for the commit has one, so as many can share it.
  constexpr std::size_t handlers_for_a_far_database = 96;
  if (!options.database.empty()) server.handlers = handlers_for_a_far_database;
  server.report = [](std::string_view trouble) {
    std::fprintf(stderr, "copunctal: %.*s\n", static_cast<int>(trouble.size()), trouble.data());
  };
  std::stop_source unheard;
  server.stop = unheard.get_token();
  server.workshop = &workshop;
  server.rehearsals = &rehearsal_control;
  ClassDoor door(kernel_random(), clocks.steady_ns);
  server.door = &door;
  server.listener = *std::move(listener);
  allow_many_connections(server.most_connections);
  const auto served = serve(**desk, files, server, [&](std::uint16_t port) {
    std::fprintf(stderr, "%s\n", std::string(intended_use()).c_str());
    print("Copunctal is ready at http://127.0.0.1:" + std::to_string(port) + "/\n");
    if (server.listener) announce(door.state());
    // Whoever started it would wait for ever: better to end and say so.
    if (!written()) unheard.request_stop();
  });
  const auto noted = note(store, LogEvent::stop, clocks.utc());
  if (!served) return failed(served.error());
  return noted ? 0 : failed(noted.error());
}

}  // namespace copunctal
