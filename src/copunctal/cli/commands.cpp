#include "copunctal/cli/commands.h"

#include <algorithm>
#include <cctype>
#include <cstdio>
#include <filesystem>

#include <nlohmann/json.hpp>

#include "copunctal/app/debrief.h"
#include "copunctal/app/observer_table.h"
#include "copunctal/app/predict_set.h"
#include "copunctal/base/text.h"
#include "copunctal/cli/interrupt.h"
#include "copunctal/cli/output.h"
#include "copunctal/cli/progress.h"
#include "copunctal/data/catalogue.h"
#include "copunctal/design/make_set.h"
#include "copunctal/design/plate_set.h"
#include "copunctal/display/display.h"

namespace copunctal {
namespace {

namespace fs = std::filesystem;
using Json = nlohmann::ordered_json;

void print_json(const Json& json) {
  print(json.dump(1) + "\n");
}

// The text of `--kind` with the separation of `--separation`, which belongs to the kind.
Result<std::string> with_separation(const std::string& kind, std::optional<double> separation_nm) {
  COPUNCTAL_TRY(const Observer plain, observer_from(kind));
  if (!separation_nm) return kind;
  const auto refused = [&](const std::string& why) {
    return fail(Error::Kind::usage, "observer '" + kind + "': " + why, "observer", kind,
                "leave out --separation");
  };
  if (plain.kind != ObserverKind::protan && plain.kind != ObserverKind::deutan)
    return refused("only protan and deutan take a separation");
  const std::size_t end_of_kind = std::min(kind.find(','), kind.size());
  if (kind.find(':') < end_of_kind) return refused("has a separation already");
  return kind.substr(0, end_of_kind) + ":" + shortest(*separation_nm) + kind.substr(end_of_kind);
}

}  // namespace

int failed(const Error& error) {
  std::fprintf(stderr, "copunctal: %s\n", error.message.c_str());
  if (!error.remedy.empty()) std::fprintf(stderr, "  %s\n", error.remedy.c_str());
  return exit_code(error.kind);
}

Result<std::uint64_t> seed_from(const std::string& text) {
  const auto seed = whole_number_from(text);
  // Kept below 2^53, so that every JSON reader holds it exactly.
  if (!seed || *seed >= (1ULL << 53))
    return fail(Error::Kind::usage, "'" + text + "' is not a seed", "seed", text,
                "give a whole number from 0 to 9007199254740991");
  return *seed;
}

int plates_make(const PlatesMakeOptions& options) {
  const auto display = display_from(options.display);
  if (!display) return failed(display.error());
  const auto seed = seed_from(options.seed);
  if (!seed) return failed(seed.error());
  const auto symbols = symbols_from(options.symbols);
  if (!symbols) return failed(symbols.error());
  if (const auto free = check_target(options.out); !free) return failed(free.error());
  const StopOnInterrupt on_interrupt;
  const auto set =
      make_set(options.purpose, *display, *seed,
               {.progress = progress_bar("Making plates for " + display->name),
                .family = symbols->family,
                .digits = symbols->digits,
                .cells = options.cells,
                .plates = options.minutes ? plates_in(*options.minutes) : options.plates,
                .loan = options.loan,
                .stop = on_interrupt.token()});
  if (!set) return failed(set.error());
  if (const auto saved = save_set(*set, options.out); !saved) return failed(saved.error());
  if (options.json)
    print_json(
        {{"set", options.out},
         {"hash", set->hash},
         {"plates", set->plates.size()},
         {"family", name_of(set->family)},
         {"symbols", set->symbols},
         {"display", set->display},
         {"loan", set->loan.empty() ? nlohmann::ordered_json() : nlohmann::ordered_json(set->loan)},
         {"assumes", display->status},
         {"intended_use", intended_use()}});
  else
    say("Made " + std::to_string(set->plates.size()) + " plates in " + options.out +
        " for display " + display->name + "\n  " + display->status + "\n" +
        std::string(intended_use()));
  return 0;
}

int plates_predict(const PlatesPredictOptions& options) {
  const auto set = load_set(options.set);
  if (!set) return failed(set.error());
  std::optional<Display> elsewhere;
  if (options.display) {
    auto display = display_from(*options.display);
    if (!display) return failed(display.error());
    elsewhere = *std::move(display);
  }
  if (!options.fails.empty()) {
    const auto display = elsewhere ? Result<Display>(*elsewhere) : display_of_set(*set);
    if (!display) return failed(display.error());
    constexpr std::size_t most = 2000;
    const auto failure =
        how_it_fails(*set, options.fails, *display, std::min(options.population, most));
    if (!failure) return failed(failure.error());
    print(options.json ? failure_json(*failure) : failure_text(*failure));
    return 0;
  }
  const auto predictions = predict_set(*set, {.population = options.population,
                                              .elsewhere = elsewhere,
                                              .sittings = options.sittings,
                                              .ranges = options.ranges,
                                              .gain = options.gain});
  if (!predictions) return failed(predictions.error());
  print(options.json ? predictions_json(*predictions) : predictions_text(*predictions));
  return 0;
}

Result<Observer> observer_of(const ObserverOptions& options) {
  COPUNCTAL_TRY(std::string text, with_separation(options.kind, options.separation_nm));
  const auto add = [&](const char* key, const std::optional<double>& value) {
    if (value) text += std::string(",") + key + "=" + shortest(*value);
  };
  add("age", options.age);
  add("field", options.field);
  add("density-l", options.density_l);
  add("density-m", options.density_m);
  add("density-s", options.density_s);
  return observer_from(text);
}

int observer_table(const ObserverOptions& options) {
  const auto observer = observer_of(options);
  if (!observer) return failed(observer.error());
  if (const auto plotted = plot_observer(options, *observer); !plotted)
    return failed(plotted.error());
  if (!options.json) {
    print(observer_table_csv(*observer));
    return 0;
  }
  const Fundamentals f = fundamentals_of(*observer);
  Json nm = Json::array();
  for (int at = first_nm; at <= last_nm; ++at) nm.push_back(at);
  print_json({{"observer", name_of(*observer)},
              {"age", observer->age.years},
              {"field", observer->field.deg},
              {"notes", notes_on(*observer)},
              {"nm", nm},
              {"L", f.l.values},
              {"M", f.m.values},
              {"S", f.s.values},
              {"intended_use", intended_use()}});
  return 0;
}

int display_list(bool json) {
  Json all = Json::array();
  for (const std::string& name : display_names()) {
    const Display display = *display_from(name);
    if (json)
      all.push_back(
          {{"name", name}, {"status", name_of(display.known)}, {"assumes", display.status}});
    else
      print(name + "\n  " + display.status + "\n");
  }
  if (json) print_json({{"displays", all}});
  return 0;
}

int sources_command(const std::optional<std::string>& name, bool json) {
  std::vector<std::string> names = table_names();
  if (name) names = {*name};
  Json all = Json::array();
  for (const std::string& one : names) {
    const auto record = provenance(one);
    if (!record) {
      Error unknown = record.error();
      // A name from the command line is usage, as everywhere.
      if (name) unknown.kind = Error::Kind::usage;
      return failed(unknown);
    }
    if (json) {
      all.push_back({{"name", record->name},
                     {"title", record->title},
                     {"source", record->source},
                     {"doi", record->doi ? Json(*record->doi) : Json(nullptr)},
                     {"licence", record->licence},
                     {"sha256", record->sha256}});
      continue;
    }
    print(record->name + ": " + record->title + "\n  " + record->source +
          (record->doi ? ", doi " + *record->doi : "") + "\n  " + record->licence + "\n");
  }
  if (json) print_json({{"tables", all}});
  return 0;
}

}  // namespace copunctal
