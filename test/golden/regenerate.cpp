// Writes the golden text anew: regenerate_golden > test/golden/set_srgb_seed_7.txt; with a
// directory as its argument, the gallery's pictures: regenerate_golden test/golden/gallery. Review
// the difference.
#include <cstdio>
#include <filesystem>

#include "copunctal/design/make_set.h"
#include "copunctal/image/png.h"
#include "copunctal/plate/draw.h"
#include "summary.h"

int main(int argc, char** argv) {
  using namespace copunctal;
  if (argc == 2) {
    const auto set = make_set("exhibits", *display_from("srgb"), 7);
    if (!set) return 1;
    std::filesystem::create_directories(argv[1]);
    for (const Plate& plate : set->plates)
      if (!write_png(draw(plate, 240), std::filesystem::path(argv[1]) / (plate.name + ".png")))
        return 1;
    return 0;
  }
  const auto set = make_set("practical", *display_from("srgb"), 7);
  if (!set) return 1;
  std::fputs(summary_of(*set).c_str(), stdout);
  return 0;
}
