#include "copunctal/cli/output.h"

#include <cerrno>
#include <cstdio>
#include <system_error>

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

}  // namespace copunctal
