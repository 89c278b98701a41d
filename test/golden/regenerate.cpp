// Writes the golden text anew: regenerate_golden > test/golden/set_srgb_seed_7.txt. Review the
// difference.
#include <cstdio>

#include "copunctal/design/make_set.h"
#include "summary.h"

int main() {
  using namespace copunctal;
  const auto set = make_set("practical", *display_from("srgb"), 7);
  if (!set) return 1;
  std::fputs(summary_of(*set).c_str(), stdout);
  return 0;
}
