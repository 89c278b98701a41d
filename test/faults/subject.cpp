#include "faults/subject.h"

#include <fcntl.h>
#include <poll.h>
#include <sys/prctl.h>
#include <sys/wait.h>
#include <unistd.h>

#include <array>
#include <chrono>
#include <csignal>
#include <regex>

namespace copunctal {

std::optional<std::uint16_t> Subject::start() {
  std::array<int, 2> ends{};
  if (pipe2(ends.data(), O_CLOEXEC) != 0) return std::nullopt;
  std::vector<std::string> words = command_;
  for (const char* word : {"--data", directory_.c_str(), "--port", "0"}) words.emplace_back(word);
  std::vector<char*> arguments;
  for (std::string& word : words) arguments.push_back(word.data());
  arguments.push_back(nullptr);

  const pid_t child = fork();
  if (child == 0) {
    prctl(PR_SET_PDEATHSIG, SIGKILL);  // no server outlives the test
    dup2(ends[1], STDOUT_FILENO);
    execv(arguments[0], arguments.data());
    _exit(127);
  }
  close(ends[1]);
  output_ = ends[0];
  to_wait_for_ = child;
  process_ = child;

  const auto deadline = std::chrono::steady_clock::now() + std::chrono::seconds(120);
  std::string said;
  const std::regex ready("Copunctal is ready at http://127\\.0\\.0\\.1:([0-9]+)/\n");
  for (std::smatch match; !std::regex_search(said, match, ready);) {
    pollfd waiting{output_, POLLIN, 0};
    std::array<char, 512> text{};
    if (std::chrono::steady_clock::now() > deadline || poll(&waiting, 1, 1000) < 0)
      return std::nullopt;
    if (waiting.revents == 0) continue;
    const ssize_t size = read(output_, text.data(), text.size());
    if (size <= 0) return std::nullopt;
    said.append(text.data(), static_cast<std::size_t>(size));
  }
  std::smatch match;
  std::regex_search(said, match, ready);
  return static_cast<std::uint16_t>(std::stoi(match[1]));
}

bool Subject::kill() {
  const pid_t process = process_.exchange(-1);
  return process > 0 && ::kill(process, SIGKILL) == 0;
}

void Subject::wait() {
  if (to_wait_for_ > 0) waitpid(to_wait_for_, nullptr, 0);
  if (output_ >= 0) close(output_);
  to_wait_for_ = output_ = -1;
}

int Subject::stop() {
  const pid_t process = process_.exchange(-1);
  if (process <= 0) return -1;
  ::kill(process, SIGTERM);
  int status = 0;
  waitpid(to_wait_for_, &status, 0);
  to_wait_for_ = -1;
  wait();
  return WIFEXITED(status) ? WEXITSTATUS(status) : -1;
}

}  // namespace copunctal
