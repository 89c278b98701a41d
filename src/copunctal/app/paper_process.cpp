#include "copunctal/app/paper_process.h"

#include <array>
#include <cerrno>
#include <csignal>
#include <system_error>

#include <spawn.h>
#include <sys/wait.h>
#include <unistd.h>

#include "copunctal/app/moment_directory.h"
#include "copunctal/base/files.h"

extern char** environ;  // NOLINT(readability-redundant-declaration): POSIX leaves it to the program

namespace copunctal {
namespace {

namespace fs = std::filesystem;

tl::unexpected<Error> failed_to(const fs::path& out, const std::string& why) {
  return fail(Error::Kind::io, out.string() + ": cannot be written: " + why, "file", out.string(),
              "choose a directory that is writable and has space");
}

// A pipe whose ends close themselves.
struct Pipe {
  std::array<int, 2> ends = {-1, -1};
  bool open() { return pipe(ends.data()) == 0; }
  void close_end(std::size_t i) {
    if (ends[i] >= 0) close(ends[i]);
    ends[i] = -1;
  }
  Pipe() = default;
  Pipe(const Pipe&) = delete;
  Pipe& operator=(const Pipe&) = delete;
  ~Pipe() {
    close_end(0);
    close_end(1);
  }
};

bool write_all(int to, std::string_view bytes) {
  while (!bytes.empty()) {
    const ssize_t wrote = write(to, bytes.data(), bytes.size());
    if (wrote < 0 && errno == EINTR) continue;
    if (wrote <= 0) return false;
    bytes.remove_prefix(static_cast<std::size_t>(wrote));
  }
  return true;
}

std::string read_all(int from) {
  std::string text;
  std::array<char, 512> block{};
  for (;;) {
    const ssize_t got = read(from, block.data(), block.size());
    if (got < 0 && errno == EINTR) continue;
    if (got <= 0) return text;
    text.append(block.data(), static_cast<std::size_t>(got));
  }
}

}  // namespace

Result<void> print_pages(PaperKind kind, const std::vector<std::string>& pages,
                         const fs::path& out) {
  std::error_code error;
  const fs::path program =
      fs::read_symlink("/proc/self/exe", error).parent_path() / "copunctal-paper";
  if (error || !fs::exists(program, error))
    return fail(Error::Kind::io, "the program that draws pages is missing: " + program.string(),
                "copunctal-paper", program.string(), "build again: it belongs beside copunctal");
  const std::string draft = out.string() + ".part", of_program = program.string(),
                    word = kind == PaperKind::pdf ? "pdf" : "png";
  Pipe in, said;
  if (!in.open() || !said.open()) return failed_to(out, std::generic_category().message(errno));
  posix_spawn_file_actions_t actions;
  posix_spawn_file_actions_init(&actions);
  posix_spawn_file_actions_adddup2(&actions, in.ends[0], STDIN_FILENO);
  posix_spawn_file_actions_adddup2(&actions, said.ends[1], STDERR_FILENO);
  for (const Pipe* pipe : {&in, &said})
    for (const int end : pipe->ends) posix_spawn_file_actions_addclose(&actions, end);
  const std::array<char*, 4> words = {const_cast<char*>(of_program.c_str()),
                                      const_cast<char*>(word.c_str()),
                                      const_cast<char*>(draft.c_str()), nullptr};
  pid_t child = 0;
  const int spawned =
      posix_spawn(&child, of_program.c_str(), &actions, nullptr, words.data(), environ);
  posix_spawn_file_actions_destroy(&actions);
  if (spawned != 0) return failed_to(out, std::generic_category().message(spawned));
  in.close_end(0);
  said.close_end(1);
  // A child that ends early must not end us.
  const auto before = std::signal(SIGPIPE, SIG_IGN);
  for (const std::string& page : pages)
    if (!write_all(in.ends[1], std::to_string(page.size()) + "\n" + page)) break;
  in.close_end(1);
  const std::string words_said = read_all(said.ends[0]);
  int status = 0;
  while (waitpid(child, &status, 0) < 0 && errno == EINTR) continue;
  std::signal(SIGPIPE, before);
  if (!WIFEXITED(status) || WEXITSTATUS(status) != 0) {
    fs::remove(draft, error);
    return failed_to(out, words_said.empty() ? "the program that draws pages ended early"
                                             : words_said.substr(0, words_said.find('\n')));
  }
  fs::rename(draft, out, error);
  if (error) {
    const std::string why = error.message();
    fs::remove(draft, error);
    return failed_to(out, why);
  }
  return {};
}

Result<std::string> printed(PaperKind kind, const std::vector<std::string>& pages) {
  COPUNCTAL_TRY(const MomentDirectory directory, MomentDirectory::make());
  const fs::path file = directory.path() / "pages";
  COPUNCTAL_TRY_VOID(print_pages(kind, pages, file));
  return read_file(file);
}

}  // namespace copunctal
