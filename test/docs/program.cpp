#include "program.h"

#include <array>
#include <fstream>
#include <sstream>
#include <stdexcept>

#include <fcntl.h>
#include <sys/wait.h>
#include <unistd.h>

#include "copunctal/base/files.h"

namespace copunctal {
namespace {

namespace fs = std::filesystem;

std::string content_of(const fs::path& file) {
  std::ifstream stream(file, std::ios::binary);
  std::ostringstream text;
  text << stream.rdbuf();
  return text.str();
}

}  // namespace

OwnDirectory::OwnDirectory() {
  std::string name = (fs::temp_directory_path() / "copunctal-docs-XXXXXX").string();
  if (mkdtemp(name.data()) == nullptr) throw std::runtime_error("no directory for the test");
  path_ = name;
}

OwnDirectory::~OwnDirectory() {
  std::error_code ignored;
  fs::remove_all(path_, ignored);
}

Ran run_program(const std::vector<std::string>& arguments, const fs::path& directory,
                const fs::path& output) {
  const OwnDirectory outputs;
  const std::string out = output.empty() ? outputs.path() / "out" : output,
                    err = outputs.path() / "err";
  std::string program = COPUNCTAL_PROGRAM;
  std::vector<std::string> words = arguments;
  std::vector<char*> argv = {program.data()};
  for (std::string& word : words) argv.push_back(word.data());
  argv.push_back(nullptr);

  const pid_t child = fork();
  if (child < 0) throw std::runtime_error("no process for the program");
  if (child == 0) {
    constexpr int could_not_start = 127;
    const int to_out = open(out.c_str(), O_WRONLY | O_CREAT, 0600);
    const int to_err = open(err.c_str(), O_WRONLY | O_CREAT, 0600);
    if (to_out < 0 || to_err < 0 || dup2(to_out, STDOUT_FILENO) < 0 ||
        dup2(to_err, STDERR_FILENO) < 0 || chdir(directory.c_str()) != 0)
      _exit(could_not_start);
    execv(program.c_str(), argv.data());
    _exit(could_not_start);
  }
  int status = 0;
  if (waitpid(child, &status, 0) != child) throw std::runtime_error("the program was lost");
  Ran ran;
  if (WIFEXITED(status)) ran.code = WEXITSTATUS(status);
  if (output.empty()) ran.out = content_of(out);
  ran.err = content_of(err);
  return ran;
}

const MadeSet& made_set() {
  static const OwnDirectory directory;
  static const MadeSet set = [] {
    MadeSet made;
    made.directory = directory.path();
    fs::copy(COPUNCTAL_SEVEN, made.directory / "seven", fs::copy_options::recursive);
    made.said = content_of(COPUNCTAL_SEVEN_SAID);
    return made;
  }();
  return set;
}

const MadeView& made_view() {
  static const MadeView view = [] {
    MadeView made;
    const fs::path plates = made_set().directory / "seven" / "plates";
    made.original = fs::directory_iterator(plates)->path();
    made.view = made_set().directory / "view.png";
    made.viewed =
        run_program({"view", made.original, "-o", made.view, "--as", "deutan:0", "--json"},
                    made_set().directory);
    if (made.viewed.code != 0) throw std::runtime_error("no view was made: " + made.viewed.err);
    return made;
  }();
  return view;
}

std::map<std::string, std::string> files_below(const fs::path& directory) {
  std::map<std::string, std::string> files;
  for (const auto& entry : fs::recursive_directory_iterator(directory))
    files[entry.path()] = entry.is_regular_file() ? content_of(entry.path()) : "";
  return files;
}

}  // namespace copunctal
