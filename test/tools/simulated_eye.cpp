// Reads a plate from its pixels alone, as a stated observer would, and prints the answer as JSON.
//
//   simulated_eye --observer protan:0 --symbols 1,2,4,7 --figures 1 --width 640 --height 640
//   FILE.rgb
//
// It knows the symbols, where symbols may stand and what shapes paths may have; neither the set,
// the recipe nor what is drawn.
#include <algorithm>
#include <cstdio>
#include <map>
#include <string>
#include <vector>

#include "copunctal/base/files.h"
#include "copunctal/base/hash.h"
#include "copunctal/base/random.h"
#include "copunctal/base/text.h"
#include "copunctal/plate/gate_path.h"
#include "copunctal/plate/symbols.h"
#include "copunctal/reader/reader.h"

namespace {

using namespace copunctal;

int wrong(const std::string& what) {
  std::fprintf(stderr, "simulated_eye: %s\n", what.c_str());
  return 2;
}

// Strength of the best evidence, summed over slots.
double total_strength(const PlateReader& reader, const Eye& eye) {
  double sum = 0;
  for (const SlotEvidence& slot : reader.evidence(eye)) sum += slot.strength(slot.best());
  return sum;
}

}  // namespace

int main(int argc, char** argv) {
  std::map<std::string, std::string> options;
  std::string file;
  for (int i = 1; i < argc; ++i) {
    const std::string word = argv[i];
    if (word.starts_with("--") && i + 1 < argc)
      options[word.substr(2)] = argv[++i];
    else
      file = word;
  }
  const auto observer = observer_from(options["observer"]);
  const auto width = whole_number_from(options["width"]),
             height = whole_number_from(options["height"]);
  if (!observer || !width || !height || options["symbols"].empty() || file.empty())
    return wrong("needs --observer, --symbols, --figures, --width, --height and a file");
  const auto bytes = read_file(file);
  if (!bytes || bytes->size() != 3 * *width * *height)
    return wrong(file + ": not that many pixels");

  Picture picture(static_cast<int>(*width), static_cast<int>(*height));
  for (std::size_t i = 0; i < bytes->size(); ++i)
    picture.rgb[i] = static_cast<std::uint8_t>((*bytes)[i]);
  const auto elements = elements_from(picture);
  if (!elements) return wrong(elements.error().message);
  std::vector<std::string> symbols;
  for (const auto symbol : split(options["symbols"], ',')) symbols.emplace_back(symbol);

  const Eye eye = nominal_eye(*observer, *display_from("srgb"));
  for (const std::string& symbol : symbols)
    if (!family_of(symbol)) return wrong("'" + symbol + "' is no symbol");
  // Which diagonal, or which shape of paths: the one that shows most.
  std::vector<PlateReader> looks;
  if (options["figures"] == "2") {
    looks.emplace_back(*elements, symbols, std::vector{Place::upper_left, Place::lower_right});
    looks.emplace_back(*elements, symbols, std::vector{Place::upper_right, Place::lower_left});
  } else {
    const bool is_path = family_of(symbols.front()) == SymbolFamily::paths;
    for (std::size_t shape = 0; shape < (is_path ? path_shapes : 1); ++shape)
      looks.emplace_back(*elements, symbols, std::vector{Place::whole}, DiscriminationModel{},
                         shape);
  }
  const PlateReader& reader = *std::max_element(
      looks.begin(), looks.end(), [&](const PlateReader& a, const PlateReader& b) {
        return total_strength(a, eye) < total_strength(b, eye);
      });
  // The noise of this look is drawn with the picture itself as seed: the same look, the same
  // answer.
  RandomStream random(std::stoull(sha256_hex(*bytes).substr(0, 15), nullptr, 16));
  std::vector<bool> read(symbols.size());
  for (const int answer : reader.sample(eye, random))
    if (answer >= 0) read[static_cast<std::size_t>(answer)] = true;
  std::string list;
  for (std::size_t k = 0; k < symbols.size(); ++k)
    if (read[k]) list += (list.empty() ? "\"" : ",\"") + symbols[k] + "\"";
  std::printf("{\"symbols\":[%s]}\n", list.c_str());
  return 0;
}
