#include "copunctal/cli/output.h"

#include <cerrno>
#include <cstdio>
#include <system_error>

#include "copunctal/base/files.h"

namespace copunctal {
namespace {

int first_trouble = 0;  // errno of the first write that failed

void note_trouble() {
  if (first_trouble == 0) first_trouble = errno;
}

}  // namespace

void print(const std::string& text) {
  if (std::fwrite(text.data(), 1, text.size(), stdout) != text.size()) note_trouble();
}

void say(const std::string& text) {
  std::fprintf(stderr, "%s\n", text.c_str());
}

Result<void> written() {
  errno = 0;
  if (std::fflush(stdout) != 0) note_trouble();
  if (std::ferror(stdout) == 0) return {};
  const int why = first_trouble == 0 ? EIO : first_trouble;
  return fail(Error::Kind::io,
              "standard output: cannot be written: " + std::generic_category().message(why),
              "output", "standard output",
              "send it where there is space and something that reads it to its end");
}

Result<void> is_free(const std::filesystem::path& out, bool force) {
  std::error_code error;
  if (!force && std::filesystem::exists(out, error))
    return fail(Error::Kind::bad_input, out.string() + ": exists already", "file", out.string(),
                "choose another name, or add --force");
  return {};
}

Result<void> write_whole(const std::string& text, const std::filesystem::path& out) {
  const std::filesystem::path draft = out.string() + ".part";
  std::error_code error, ignored;
  if (auto written = write_file(text, draft); !written) {
    std::filesystem::remove(draft, ignored);
    return written;
  }
  std::filesystem::rename(draft, out, error);
  if (!error) return {};
  std::filesystem::remove(draft, ignored);
  return fail(Error::Kind::io, out.string() + ": cannot be written: " + error.message(), "file",
              out.string(), "check the directory and its permissions");
}

}  // namespace copunctal
