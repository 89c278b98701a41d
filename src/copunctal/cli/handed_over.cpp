// Commands of the server and of what it keeps, carried out by a program of their own: encryption
// and a database take longer to load than most other commands to run.
#include <cerrno>
#include <filesystem>
#include <system_error>
#include <vector>

#include <unistd.h>

#include "copunctal/base/files.h"
#include "copunctal/cli/commands.h"
#include "copunctal/cli/output.h"

namespace copunctal {
namespace {

namespace fs = std::filesystem;

// The words this program was called with, to the one beside it. Comes back only if that fails.
int hand_over() {
  std::error_code error;
  const fs::path program =
      fs::read_symlink("/proc/self/exe", error).parent_path() / "copunctal-serve";
  auto words = read_file("/proc/self/cmdline");
  if (!words) return failed(words.error());
  std::vector<char*> arguments;
  for (std::size_t at = 0; at < words->size(); at = words->find('\0', at) + 1)
    arguments.push_back(&(*words)[at]);
  arguments.push_back(nullptr);
  execv(program.c_str(), arguments.data());
  return failed({Error::Kind::io,
                 "the program that serves cannot be run: " + program.string() + ": " +
                     std::generic_category().message(errno),
                 program.filename(), program.string(), "build again: it belongs beside copunctal"});
}

}  // namespace

int serve_command(const ServeOptions& /*options*/) {
  return hand_over();
}
int preflight_command(const PreflightOptions& /*options*/) {
  return hand_over();
}
int rehearse_command(const RehearseOptions& /*options*/) {
  return hand_over();
}
int practical_list(const PracticalOptions& /*options*/) {
  return hand_over();
}
int practical_export(const PracticalOptions& /*options*/) {
  return hand_over();
}
int practical_import(const PracticalOptions& /*options*/) {
  return hand_over();
}
int practical_delete(const PracticalOptions& /*options*/) {
  return hand_over();
}
int practical_backup(const PracticalOptions& /*options*/) {
  return hand_over();
}
int practical_restore(const PracticalOptions& /*options*/) {
  return hand_over();
}
int practical_log(const PracticalOptions& /*options*/) {
  return hand_over();
}

}  // namespace copunctal
