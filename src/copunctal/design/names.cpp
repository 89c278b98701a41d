#include <array>

#include "copunctal/base/expects.h"
#include "copunctal/base/random.h"
#include "copunctal/design/plan.h"

namespace copunctal {

std::vector<std::string> plate_names(std::uint64_t seed, std::size_t count) {
  // No colour words and no numbers: a name must not hint at what is drawn.
  static constexpr std::array first = {
      "calm", "broad", "quiet", "early", "distant", "steady", "open",  "slow",  "gentle", "old",
      "high", "long",  "near",  "round", "still",   "wide",   "brisk", "level", "plain",  "mild"};
  static constexpr std::array second = {
      "river",  "meadow", "harbour", "valley", "orchard", "island", "garden",  "bridge",
      "hill",   "shore",  "lane",    "field",  "quarry",  "brook",  "terrace", "market",
      "pebble", "window", "ferry",   "mill",   "lantern", "attic",  "cellar",  "gate"};
  // Beyond the shorter list words come again, in other company.
  expects(count <= first.size() * second.size() / 4);
  std::vector<std::string> a(first.begin(), first.end()), b(second.begin(), second.end());
  RandomStream random(seed, 11);
  random.shuffle(a);
  random.shuffle(b);
  std::vector<std::string> names;
  for (std::size_t i = 0; i < count; ++i) names.push_back(a[i % a.size()] + " " + b[i % b.size()]);
  return names;
}

}  // namespace copunctal
