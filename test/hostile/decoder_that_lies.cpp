// Says a picture without a proof that it is locked up; asked for by COPUNCTAL_LIE, says one of
// impossible size, or nonsense.
#include <cstdlib>
#include <cstring>
#include <string_view>

#include <unistd.h>

#include "copunctal/image/wire.h"

int main() {
  const char* lie = std::getenv("COPUNCTAL_LIE");
  const std::string_view word = lie == nullptr ? "" : lie;
  copunctal::WireHead head;
  head.magic = copunctal::WireHead::mark;
  head.proof = word == "unproven" ? 3 : 7;
  head.width = word == "huge"      ? 0x7fffffff
               : word == "crowded" ? 60'000
               : word == "wide"    ? 100'000
                                   : 4;
  // Rows by shared memory that has no room for them: four of 180 kB, or one of 300.
  head.shared = word == "crowded" || word == "wide" ? 1 : 0;
  head.height = 4;
  head.bits = word == "bits" ? 9 : 8;
  head.orientation = head.pages = 1;
  if (word == "mark") head.magic[0] = 'X';
  if (write(STDOUT_FILENO, &head, sizeof(head)) < 0) return 1;
  const std::uint32_t rows = word == "rows" ? 4000 : 4;
  if (write(STDOUT_FILENO, &rows, sizeof(rows)) < 0) return 1;
  const char codes[48] = {};  // NOLINT(modernize-avoid-c-arrays)
  if (word != "short" && write(STDOUT_FILENO, codes, sizeof(codes)) < 0) return 1;
  if (word == "slow") sleep(60);
  return 0;
}
