// Timings as ratios within one run, for notes and decisions; never a test.
//
// The yardstick is a plain loop of additions of doubles on one core, 10^8 of them, in this same
// run.
#include <algorithm>
#include <chrono>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <functional>
#include <string>
#include <vector>

#include "copunctal/base/parallel.h"
#include "copunctal/base/random.h"
#include "copunctal/colour/encoding.h"
#include "copunctal/design/make_set.h"
#include "copunctal/display/population_map.h"
#include "copunctal/inference/reading_tables.h"
#include "copunctal/observer/population.h"
#include "copunctal/reader/predict.h"
#include "copunctal/view/view_map.h"
#include "crowd_bench.h"
#include "timing.h"
#include "view_bench.h"

namespace {

using namespace copunctal;

volatile double sink = 0;

void yardstick() {
  double sum = 0;
  for (int i = 0; i < 100'000'000; ++i) sum += 1e-9 * i;
  sink = sum;
}

// The reader's evidence the long way: every element its own signal, for comparison with colour
// classes.
double evidence_by_elements(const Elements& elements,
                            const std::vector<std::vector<double>>& templates, const Eye& eye) {
  std::vector<OpponentSignal> signals;
  for (const std::uint16_t c : elements.colour_class)
    signals.push_back(signal_of(eye, Adaptation{}, linear_from_codes(elements.class_codes[c])));
  double total = 0;
  for (const auto& t : templates) {
    double rg = 0, yv = 0, lum = 0;
    for (std::size_t i = 0; i < t.size(); ++i) {
      rg += t[i] * signals[i].red_green;
      yv += t[i] * signals[i].yellow_violet;
      lum += t[i] * signals[i].luminance;
    }
    total += rg * rg + yv * yv + lum * lum;
  }
  return total;
}

}  // namespace

int main(int argc, char** argv) {
  // One part by its name, or all.
  if (argc > 1 && std::string(argv[1]) == "views") {
    bench_views();
    return 0;
  }
  if (argc > 1 && std::string(argv[1]) == "pictures") {
    bench_pictures();
    return 0;
  }
  const double unit = best_of(3, yardstick);
  std::printf("yardstick: 10^8 additions = 1.00 (%.3f s here)\n", unit);
  const auto report = [&](const char* what, double seconds) {
    std::printf("%-62s %8.3f\n", what, seconds / unit);
  };
  const Display display = *display_from("srgb");
  PlateSet set;
  report("default set of 18, one thread",
         seconds_of([&] { set = *make_set("practical", display, 7, {.threads = 1}); }));
  report("default set of 18, two threads",
         seconds_of([&] { set = *make_set("practical", display, 7, {.threads = 2}); }));
  report("reading tables of the set, two threads", seconds_of([&] {
           sink = static_cast<double>(
               ReadingTables::build(set.plates, set.symbols, display, 2)->individuals());
         }));

  bench_crowd(set, display);
  bench_views();

  const Plate& plate = set.plates[1];
  const Elements elements = elements_of(plate, mosaic_of(plate.seed));
  const PlateReader reader(elements, set.symbols, {Place::whole});
  const std::vector<Eye> eyes = fresh_eyes(Observer{}, display, 500);
  const double by_class = best_of(3, [&] {
    for (const Eye& eye : eyes) sink = reader.evidence(eye).front().strength(0);
  });
  std::vector<std::vector<double>> templates(
      set.symbols.size(), std::vector<double>(elements.colour_class.size(), 0.03));
  const double by_element = best_of(3, [&] {
    for (const Eye& eye : eyes) sink = evidence_by_elements(elements, templates, eye);
  });
  std::printf("evidence element by element over evidence by colour class      %8.1f times\n",
              by_element / by_class);
  const double with_draws = best_of(3, [&] {
    for (const Eye& eye : eyes) sink = reader.readings(eye, 256).front().nothing;
  });
  std::printf("a reading with 256 noise draws over its evidence alone         %8.1f times\n",
              with_draws / by_class);
  std::printf("observer-plates a second, evidence, one core                   %8.0f (here)\n",
              500 / by_class);

  // A population of 10^6 on one display: its 3 x 3 each, against the plain integral in double.
  const Observer centre = *observer_from("protan:6");
  const PopulationMap population(centre, display);
  constexpr std::uint32_t bodies = 20'000;
  std::vector<Observer> people;
  const double drawing = seconds_of([&] {
    for (std::uint32_t i = 0; i < bodies; ++i) people.push_back(individual(centre, 3, i));
  });
  constexpr std::uint32_t members = 1'000'000;
  const double one_thread = best_of(3, [&] {
    for (std::uint32_t i = 0; i < members; ++i) sink = population(people[i % bodies]).rows[0][0];
  });
  const double two_threads = best_of(3, [&] {
    std::array<double, 2> sums{};
    parallel_for(
        2,
        [&](std::size_t half) {
          double sum = 0;
          for (std::uint32_t i = 0; i < members / 2; ++i)
            sum += population(people[(i + half * 7) % bodies]).rows[0][0];
          sums[half] = sum;
        },
        2);
    sink = sums[0] + sums[1];
  });
  constexpr std::uint32_t by_twin = 2'000;
  const double plain = best_of(3, [&] {
    for (std::uint32_t i = 0; i < by_twin; ++i)
      sink = lms_from_linear_rgb(fundamentals_of(people[i]), display).rows[0][0];
  });
  const double each = one_thread / members, plain_each = plain / by_twin;
  std::printf("observer to 3 x 3, one thread, 10^6 of a population            %8.3f us (here)\n",
              1e6 * each);
  std::printf("observer to 3 x 3, two threads                                 %8.3f us (here)\n",
              1e6 * two_threads / members);
  std::printf("the plain integral over it                                     %8.1f times\n",
              plain_each / each);
  std::printf("drawing an individual over mapping it                          %8.1f times\n",
              drawing / bodies / each);
  std::printf("two threads over one                                           %8.2f times\n",
              one_thread / two_threads);

  ViewMap map = *ViewMap::make(*observer_from("deutan:0"), display);
  RandomStream random(1);
  std::vector<Code> codes(200'000);
  for (Code& code : codes)
    for (auto& c : code) c = static_cast<std::uint8_t>(random.below(256));
  report("200,000 different colours through a view", seconds_of([&] {
           for (const Code& code : codes) sink = map.code(code)[0];
         }));
  report("the same colours again, remembered", seconds_of([&] {
           for (const Code& code : codes) sink = map.code(code)[0];
         }));

  const auto program =
      std::filesystem::read_symlink("/proc/self/exe").parent_path().parent_path() / "copunctal";
  const auto run = [&](const char* words) {
    const std::string command = program.string() + " " + words + " > /dev/null";
    return best_of(20, [&] { sink = std::system(command.c_str()); });
  };
  const double idle = run("--version");
  const auto start = [&](const char* what, const char* words) {
    const double time = run(words);
    std::printf("%-62s %8.1f ms above an idle start, %.1f times it (here)\n", what,
                1e3 * (time - idle), time / idle);
  };
  start("observer table", "observer table --kind protan:6");
  start("observer describe", "observer describe --kind protan:6");
  start("display describe", "display describe srgb");
  return 0;
}
