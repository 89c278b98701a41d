// The built program as a person starts it: arguments in; exit code and both outputs out.
#pragma once

#include <filesystem>
#include <map>
#include <string>
#include <vector>

namespace copunctal {

struct Ran {
  int code = -1;
  std::string out, err;
};

/// Runs the program in `directory` and waits for it. Its standard output goes to `output` where one
/// is named, such as a full device; `out` stays empty then.
Ran run_program(const std::vector<std::string>& arguments,
                const std::filesystem::path& directory = std::filesystem::temp_directory_path(),
                const std::filesystem::path& output = {});

/// The set of seed 7 for srgb, made with `plates make --json` by another ctest entry; a copy of it
/// in a directory of these tests' own.
struct MadeSet {
  std::filesystem::path directory;  ///< Holds "seven", removed at the end.
  std::string said;                 ///< What the program printed.
};
const MadeSet& made_set();

/// A plate of that set, and its view for deutan:0 made with `view --json`, beside it.
struct MadeView {
  std::filesystem::path original, view;
  Ran viewed;
};
const MadeView& made_view();

/// Every file below a directory with its content.
std::map<std::string, std::string> files_below(const std::filesystem::path& directory);

/// A directory of this test's own, removed at the end.
class OwnDirectory {
 public:
  OwnDirectory();
  OwnDirectory(const OwnDirectory&) = delete;
  OwnDirectory& operator=(const OwnDirectory&) = delete;
  ~OwnDirectory();
  const std::filesystem::path& path() const { return path_; }

 private:
  std::filesystem::path path_;
};

}  // namespace copunctal
