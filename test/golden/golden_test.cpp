// The default set of seed 7 as reviewed text, and what must hold of every default set.
#include <algorithm>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <iostream>
#include <map>
#include <numeric>
#include <set>

#include <gtest/gtest.h>

#include "copunctal/app/debrief.h"
#include "copunctal/app/predict_set.h"
#include "copunctal/base/files.h"
#include "copunctal/design/make_set.h"
#include "copunctal/display/tolerance.h"
#include "summary.h"

namespace copunctal {
namespace {

// Made by the program, kept and read again: other ctest entries make them, and what they left out
// of a file or changed in it would show in the reviewed text.
const PlateSet& seven() {
  static const PlateSet set = *load_set(COPUNCTAL_SEVEN);
  return set;
}

const PlateSet& one() {
  static const PlateSet set = *load_set(COPUNCTAL_ONE);
  return set;
}

// As it was made.
const PlateSet& rings() {
  static const PlateSet set =
      *make_set("practical", *display_from("srgb"), 7, {.family = SymbolFamily::rings});
  return set;
}

std::vector<std::string_view> lines(std::string_view text) {
  return split(text, '\n');
}

/// Of 200 observers of a kind, computed once.
const SetPredictions& of_seven() {
  static const SetPredictions predictions = *predict_set(seven(), 200);
  return predictions;
}

const SetPredictions& of_one() {
  static const SetPredictions predictions = *predict_set(one(), 200);
  return predictions;
}

// Bit-identity is promised per machine type, so a code may differ by one here where the C library's
// power function does; on the machine that wrote the text they agree exactly.
TEST(Golden, TheDefaultSetOfSeedSevenIsAsReviewed) {
  const auto golden = read_file(COPUNCTAL_SOURCE_DIR "/test/golden/set_srgb_seed_7.txt");
  ASSERT_TRUE(golden.has_value());
  const std::string now = summary_of(seven());
  const auto expected = lines(*golden), actual = lines(now);
  ASSERT_EQ(expected.size(), actual.size()) << now;
  for (std::size_t i = 0; i < expected.size(); ++i)
    EXPECT_EQ(actual[i], expected[i]) << "line " << i + 1;
}

TEST(Golden, ThreadsDoNotChangeASet) {
#ifdef COPUNCTAL_IS_SLOW
  GTEST_SKIP() << "takes minutes under the sanitizers";
#endif
  const Display display = *display_from("srgb");
  EXPECT_EQ(make_set("exhibits", display, 7, {.threads = 1})->hash,
            make_set("exhibits", display, 7, {.threads = 3})->hash);
}

Result<SetPredictions> of_another(std::uint64_t seed) {
  COPUNCTAL_TRY(const PlateSet set, make_set("practical", *display_from("srgb"), seed));
  return predict_set(set, 200);
}

// Sets of different seeds are forms of one another: how often the plates of a kind are read differs
// by no more than docs/science/design.md says. Two seeds; all of 1 to 20 with COPUNCTAL_FULL set.
TEST(Golden, SetsOfOtherSeedsAreEquallyHard) {
#ifdef COPUNCTAL_IS_SLOW
  GTEST_SKIP() << "takes minutes under the sanitizers";
#endif
  const bool full = std::getenv("COPUNCTAL_FULL") != nullptr;  // NOLINT(concurrency-mt-unsafe)
  std::vector<std::uint64_t> seeds = {7, 1};
  for (std::uint64_t seed = 2; full && seed <= 20; ++seed)
    if (seed != 7) seeds.push_back(seed);
  // By kind and aim, figure, and observer: the means over a set's plates.
  std::map<std::string, std::vector<double>> reads;
  std::vector<double> false_alarms;
  for (const std::uint64_t seed : seeds) {
    const auto predictions = seed == 7   ? Result<SetPredictions>(of_seven())
                             : seed == 1 ? Result<SetPredictions>(of_one())
                                         : of_another(seed);
    ASSERT_TRUE(predictions.has_value()) << seed << ": " << predictions.error().message;
    std::map<std::string, std::vector<double>> here;
    for (const PlatePredictions& plate : predictions->plates)
      for (std::size_t o = 0; o < standard_observers().size(); ++o) {
        const std::string key = plate.kind + " " + plate.aim + " " + standard_observers()[o];
        here[key + " first"].push_back(plate.by_observer[o].intended);
        if (plate.fork) here[key + " second"].push_back(plate.by_observer[o].second);
      }
    for (const auto& [key, values] : here)
      reads[key].push_back(std::accumulate(values.begin(), values.end(), 0.0) /
                           static_cast<double>(values.size()));
    false_alarms.push_back(predictions->figures.red_green.points[2].false_alarms.share);
  }
  constexpr double tolerance = 0.06;
  double widest = 0;
  for (const auto& [key, values] : reads) {
    const auto [least, most] = std::minmax_element(values.begin(), values.end());
    EXPECT_LE(*most - *least, tolerance) << key << ": " << *least << " to " << *most;
    widest = std::max(widest, *most - *least);
  }
  const auto [least, most] = std::minmax_element(false_alarms.begin(), false_alarms.end());
  std::printf("%zu seeds: readings differ by %.3f at most, false alarms at 3 misses %.3f to %.3f\n",
              seeds.size(), widest, *least, *most);
  EXPECT_LE(*most, 0.05);
}

// The composition that is promised, and what the design is for, on 200 fresh observers of each
// kind: the bounds are those of docs/science/design.md.
TEST(Golden, DefaultSetsDoWhatTheyAreMadeFor) {
#ifdef COPUNCTAL_IS_SLOW
  const std::vector<std::uint64_t> seeds = {7};
#else
  const std::vector<std::uint64_t> seeds = {7, 1};
#endif
  for (const std::uint64_t seed : seeds) {
    const PlateSet& set = seed == 7 ? seven() : one();
    ASSERT_EQ(set.plates.size(), 18U);
    std::map<PlateKind, int> kinds;
    std::set<std::string> names;
    for (const Plate& plate : set.plates) {
      ++kinds[plate.kind];
      names.insert(plate.name);
    }
    EXPECT_EQ(names.size(), 18U);
    EXPECT_EQ(kinds[PlateKind::opener], 2);
    EXPECT_EQ(kinds[PlateKind::vanishing], 10);
    EXPECT_EQ(kinds[PlateKind::fork], 4);
    EXPECT_EQ(kinds[PlateKind::tritan], 2);

    const SetPredictions& predictions = seed == 7 ? of_seven() : of_one();
    const auto at = [&](const PlatePredictions& plate, std::string_view observer) {
      const auto& names_of = standard_observers();
      return plate.by_observer[static_cast<std::size_t>(
          std::find(names_of.begin(), names_of.end(), observer) - names_of.begin())];
    };
    for (const PlatePredictions& plate : predictions.plates) {
      if (plate.kind == "opener") {
        for (const PredictedReading& p : plate.by_observer)
          EXPECT_GE(p.intended, 0.98) << plate.name;
      }
      if (plate.kind == "vanishing") {
        // Those aimed at anomalous observers are graded between them and normals; dichromats still
        // miss.
        EXPECT_LE(at(plate, "protan:0").intended, 0.04) << plate.name;
        EXPECT_LE(at(plate, "deutan:0").intended, 0.04) << plate.name;
        // Reading grows with the separation.
        EXPECT_LT(at(plate, "protan:5").intended, at(plate, "protan:10").intended) << plate.name;
        EXPECT_LT(at(plate, "deutan:10").intended, at(plate, "deutan:20").intended) << plate.name;
        if (plate.aim == "dichromat") {
          EXPECT_GE(at(plate, "normal").intended, 0.97) << plate.name;
          EXPECT_LE(at(plate, "protan:0").intended, 0.03) << plate.name;
          EXPECT_LE(at(plate, "deutan:0").intended, 0.03) << plate.name;
        }
      }
      if (plate.kind == "fork") {
        EXPECT_GE(at(plate, "normal").intended, 0.97);
        EXPECT_GE(at(plate, "normal").second, 0.97);
        // The kind comes out right when the own figure is read and the other is not.
        EXPECT_GE(at(plate, "protan:0").intended * (1 - at(plate, "protan:0").second), 0.95);
        EXPECT_GE(at(plate, "deutan:0").second * (1 - at(plate, "deutan:0").intended), 0.95);
      }
      if (plate.kind == "tritan") {
        EXPECT_LE(at(plate, "tritan").intended, 0.05);
        for (const char* other : {"normal", "protan:0", "deutan:0", "protan:10", "deutan:10"})
          EXPECT_GE(at(plate, other).intended, 0.95) << other;
      }
    }
  }
}

// The same design with other symbols: what it is for holds for rings and for paths.
TEST(Golden, SetsOfRingsAndOfPathsDoWhatTheyAreMadeFor) {
  for (const SymbolFamily family : {SymbolFamily::rings, SymbolFamily::paths}) {
    const PlateSet set = family == SymbolFamily::rings ? rings() : *load_set(COPUNCTAL_PATHS);
    EXPECT_EQ(set.family, family);
    EXPECT_EQ(set.symbols, choose_symbols(family, 7));
    std::map<std::string, int> dealt;
    for (const Plate& plate : set.plates)
      for (const Figure& figure : plate.figures) ++dealt[figure.symbol];
    // Fourteen plates of one figure; the fork plates' eight are of the same row but for paths.
    EXPECT_EQ(dealt.size(), family == SymbolFamily::paths ? 8U : 4U);
    for (const auto& [symbol, times] : dealt) EXPECT_GE(times, 2) << symbol;

    const auto predictions = predict_set(set, 200);
    ASSERT_TRUE(predictions.has_value());
    const auto at = [&](const PlatePredictions& plate, std::string_view observer) {
      const auto& names = standard_observers();
      return plate.by_observer[static_cast<std::size_t>(
          std::find(names.begin(), names.end(), observer) - names.begin())];
    };
    double least_normal = 1, most_protan = 0, most_deutan = 0;
    for (const PlatePredictions& plate : predictions->plates) {
      if (plate.kind == "opener") {
        for (const PredictedReading& p : plate.by_observer)
          EXPECT_GE(p.intended, 0.98) << plate.name;
      }
      if (plate.kind == "vanishing" && plate.aim == "dichromat") {
        least_normal = std::min(least_normal, at(plate, "normal").intended);
        most_protan = std::max(most_protan, at(plate, "protan:0").intended);
        most_deutan = std::max(most_deutan, at(plate, "deutan:0").intended);
      }
      if (plate.kind == "fork") {
        EXPECT_GE(at(plate, "normal").intended, 0.95) << plate.name;
        EXPECT_GE(at(plate, "normal").second, 0.95) << plate.name;
        EXPECT_GE(at(plate, "protan:0").intended * (1 - at(plate, "protan:0").second), 0.92);
        EXPECT_GE(at(plate, "deutan:0").second * (1 - at(plate, "deutan:0").intended), 0.92);
      }
      if (plate.kind == "tritan") {
        EXPECT_LE(at(plate, "tritan").intended, 0.10) << plate.name;
        EXPECT_GE(at(plate, "normal").intended, 0.95) << plate.name;
      }
    }
    std::printf(
        "%s, vanishing at dichromats: normal %.3f or more, protan:0 %.3f and deutan:0 %.3f "
        "or less\n",
        std::string(name_of(family)).c_str(), least_normal, most_protan, most_deutan);
    EXPECT_GE(least_normal, 0.95);
    EXPECT_LE(most_protan, 0.05);
    EXPECT_LE(most_deutan, 0.05);
  }
}

// The bounds of docs/science/design.md on displays that no design saw.
TEST(Golden, DesignsHoldOnDisplaysTheyDidNotSee) {
#ifdef COPUNCTAL_IS_SLOW
  GTEST_SKIP() << "takes minutes under the sanitizers";
#endif
  for (const Display& display : unseen_displays(*display_from("srgb"))) {
    const auto predictions = predict_set(seven(), 100, display);
    ASSERT_TRUE(predictions.has_value());
    double dichromats = 0, fork = 0, tritan = 0, normals = 1;
    const auto& names = standard_observers();
    for (const PlatePredictions& plate : predictions->plates) {
      const auto at = [&](std::string_view observer) {
        return plate.by_observer[static_cast<std::size_t>(
            std::find(names.begin(), names.end(), observer) - names.begin())];
      };
      if (plate.aim == "dichromat" && !plate.fork)
        dichromats = std::max({dichromats, at("protan:0").intended, at("deutan:0").intended});
      if (plate.fork) fork = std::max({fork, at("deutan:0").intended, at("protan:0").second});
      if (plate.kind == "tritan") tritan = std::max(tritan, at("tritan").intended);
      if (plate.aim != "5nm" && plate.aim != "10nm")
        normals = std::min(normals, at("normal").intended);
    }
    std::cout << display.name << ": dichromats " << dichromats << ", fork " << fork << ", tritan "
              << tritan << ", normals " << normals << "\n";
    EXPECT_LE(dichromats, 0.06) << display.name;
    EXPECT_LE(fork, 0.15) << display.name;
    EXPECT_LE(tritan, 0.10) << display.name;
    EXPECT_GE(normals, 0.94) << display.name;
  }
}

// What the prediction rests on moves it in the stated direction.
TEST(Golden, TheMosaicFactorTheDisplayAndTheAgeMoveThePredictedTable) {
  const auto hardest = std::find_if(seven().plates.begin(), seven().plates.end(),
                                    [](const Plate& p) { return p.aim == Aim::ten_nm; });
  ASSERT_NE(hardest, seven().plates.end());
  const auto predicted = [&](const char* display, double k, const char* observer) {
    DiscriminationModel model;
    model.mosaic_factor = k;
    const PlateReader reader = PlateReader::of(*hardest, seven().symbols, model);
    const IndividualEyes individuals(*observer_from(observer), *display_from(display), model);
    std::vector<Eye> eyes;
    for (std::uint32_t i = 0; i < 150; ++i) eyes.push_back(individuals(77, i));
    return predicted_reading(reader, {reader.index_of(hardest->figures.front().symbol)}, eyes)
        .intended;
  };
  // More noise in each element: fewer read it.
  EXPECT_LT(predicted("srgb", 9, "normal"), predicted("srgb", 6, "normal") - 0.05);
  EXPECT_GT(predicted("srgb", 4, "normal"), predicted("srgb", 6, "normal") + 0.05);
  // Left unmanaged on wider primaries the same codes are more colourful: more normals read it.
  EXPECT_GT(predicted("display-p3", 6, "normal"), predicted("srgb", 6, "normal") + 0.03);

  // A denser lens takes short wavelengths from the S cones' view of the blue primary, so what is
  // left leans on the green one: colours that differ in S alone come closer, and what the tritan
  // plates' figures have of yellow-violet weakens with age.
  for (const Plate& plate : seven().plates) {
    if (plate.kind != PlateKind::tritan) continue;
    const PlateReader reader = PlateReader::of(plate, seven().symbols);
    const std::size_t drawn = reader.index_of(plate.figures.front().symbol);
    double last = 1e9;
    for (const char* observer :
         {"normal,age=20", "normal,age=40", "normal,age=60", "normal,age=80"}) {
      // The match in yellow-violet alone: the other mechanisms carry a little of these figures too.
      const double strength =
          std::abs(reader.evidence(nominal_eye(*observer_from(observer), *display_from("srgb")))
                       .front()
                       .match[drawn][1]);
      EXPECT_LT(strength, last) << plate.name << " " << observer;
      last = strength;
    }
  }
}

TEST(Golden, AnEditedSetIsRefused) {
  std::string text = set_json(seven());
  const auto at = text.find("\"codes\"");
  const auto digit = text.find_first_of("123456789", at);
  text[digit] = text[digit] == '9' ? '8' : static_cast<char>(text[digit] + 1);
  const std::filesystem::path directory =
      std::filesystem::temp_directory_path() / "copunctal-golden";
  std::filesystem::remove_all(directory);
  std::filesystem::create_directories(directory);
  ASSERT_TRUE(write_file(text, directory / "set.json").has_value());
  const auto loaded = load_set(directory);
  ASSERT_FALSE(loaded.has_value());
  EXPECT_EQ(loaded.error().kind, Error::Kind::bad_input);
  EXPECT_NE(loaded.error().message.find("edited"), std::string::npos);
  EXPECT_NE(loaded.error().place.find("set.json"), std::string::npos);
  std::filesystem::remove_all(directory);
}

TEST(Golden, ASavedSetLoadsAsItWas) {
  const std::filesystem::path directory =
      std::filesystem::temp_directory_path() / "copunctal-saved";
  std::filesystem::remove_all(directory);
  ASSERT_TRUE(save_set(rings(), directory).has_value());
  const auto loaded = load_set(directory);
  ASSERT_TRUE(loaded.has_value()) << loaded.error().message;
  EXPECT_EQ(set_json(*loaded), set_json(rings()));
  EXPECT_EQ(save_set(rings(), directory).error().kind, Error::Kind::bad_input);
  std::filesystem::remove_all(directory);
}

// A whole sitting's readings, weighed: what a debrief says of clear answers and of an unread
// opener.
TEST(Golden, ADebriefSaysWhatTheReadingsSay) {
  const auto tables = build_reading_tables(seven());
  ASSERT_TRUE(tables.has_value());
  const auto answers = [&](std::string_view kind) {
    std::vector<PlateReading> readings;
    for (std::size_t p = 0; p < seven().plates.size(); ++p) {
      const Plate& plate = seven().plates[p];
      PlateReading reading;
      reading.plate = p;
      for (std::size_t f = 0; f < plate.figures.size(); ++f) {
        const bool misses = (plate.kind == PlateKind::vanishing && kind != "normal") ||
                            (plate.kind == PlateKind::fork && kind == "protan" && f == 1) ||
                            (plate.kind == PlateKind::fork && kind == "deutan" && f == 0);
        if (!misses) reading.symbols.push_back(plate.figures[f].symbol);
      }
      std::sort(reading.symbols.begin(), reading.symbols.end());
      readings.push_back(reading);
    }
    return readings;
  };
  for (const char* kind : {"normal", "protan", "deutan"}) {
    const Debrief said = debrief(seven(), **tables, answers(kind), SexAtBirth::male);
    EXPECT_TRUE(said.interpretable);
    EXPECT_EQ(said.verdict, kind);
    EXPECT_TRUE(said.evidence.front().observer.starts_with(kind)) << said.evidence.front().observer;
    EXPECT_EQ(said.plates.size(), 18U);
    EXPECT_NE(said.caution.find("not for diagnosis"), std::string::npos);
    EXPECT_NE(said.caution.find("licensed practitioner"), std::string::npos);
    for (const DebriefPlate& plate : said.plates)
      EXPECT_EQ(plate.predictions.size(), standard_observers().size());
  }
  auto unread = answers("normal");
  unread.front().symbols.clear();
  const Debrief said = debrief(seven(), **tables, unread, {});
  EXPECT_FALSE(said.interpretable);
  EXPECT_EQ(said.verdict, "cannot tell");
}

// No output calls anybody anything, whatever the outcome.
TEST(Golden, NoSentenceDiagnoses) {
  const auto tables = build_reading_tables(seven());
  for (const bool reads : {true, false}) {
    std::vector<PlateReading> readings;
    for (std::size_t p = 0; p < seven().plates.size(); ++p) {
      PlateReading reading{p, {}, false, false};
      if (reads || seven().plates[p].kind == PlateKind::opener)
        for (const Figure& f : seven().plates[p].figures) reading.symbols.push_back(f.symbol);
      std::sort(reading.symbols.begin(), reading.symbols.end());
      readings.push_back(reading);
    }
    const Debrief said = debrief(seven(), **tables, readings, {});
    std::string all = said.summary + said.prior_text + said.verdict;
    for (const auto& assumption : said.assumptions) all += assumption;
    for (const char* phrase : {"you are", "you have", "diagnosed", "passed", "failed",
                               "colour blind", "colour-blind", "abnormal"})
      EXPECT_EQ(all.find(phrase), std::string::npos) << phrase;
  }
}

}  // namespace
}  // namespace copunctal
