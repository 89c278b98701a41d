// Descriptions and figures of any eye on any screen: numbers everywhere, in every text.
#include <algorithm>
#include <array>
#include <cmath>
#include <regex>
#include <string>

#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

#include "copunctal/app/describe_display.h"
#include "copunctal/app/describe_observer.h"
#include "copunctal/app/figure_svg.h"
#include "copunctal/app/plot_observer.h"
#include "copunctal/base/random.h"
#include "copunctal/base/text.h"

namespace copunctal {
namespace {

using nlohmann::json;

// JSON writes null for a number that is none, so only the nulls that docs/commands.md names may
// stand there.
void expect_numbers(const json& value, const std::string& path, const std::string& what) {
  if (value.is_object() || value.is_array()) {
    for (const auto& [key, inner] : value.items()) expect_numbers(inner, path + "/" + key, what);
    return;
  }
  if (!value.is_null()) return;
  const bool may = path.starts_with("/neutral_nm/") || path == "/rayleigh/quotient" ||
                   path == "/copunctal_macleod_boynton/tritan" ||
                   path == "/parameters/separation_nm" || path == "/parameters/peak_nm/s" ||
                   path == "/panel" || path == "/contrast";
  EXPECT_TRUE(may) << what << ": " << path << " is null";
}

std::string random_observer(RandomStream& random) {
  constexpr std::array<const char*, 6> kinds = {
      "normal", "protan", "deutan", "tritan", "s-cone-monochromat", "rod-monochromat"};
  std::string text = kinds[random.below(6)];
  if (text == "protan" || text == "deutan")
    text += ":" + shortest(std::floor(random.uniform(0, 28.99)));
  const auto maybe = [&](const char* key, double least, double most) {
    // The ends of every range, and what lies between.
    const std::uint32_t pick = random.below(6);
    if (pick > 2) return;
    const double value = pick == 0 ? least : pick == 1 ? most : random.uniform(least, most);
    text += std::string(",") + key + "=" + shortest(value);
  };
  maybe("age", 0, 120);
  maybe("field", 0.1, 90);
  maybe("pupil", 1, 9);
  maybe("density-l", 0.01, 3);
  maybe("density-m", 0.01, 3);
  maybe("density-s", 0.01, 3);
  maybe("lens", 0, 3);
  maybe("macula", 0, 5);
  maybe("shift-l", -15, 15);
  maybe("shift-m", -15, 15);
  maybe("shift-s", -15, 15);
  if (random.below(4) == 0) text += ",templates=formulae";
  return text;
}

TEST(Describe, AnyEyeOnAnyScreenIsNumbersThroughout) {
  RandomStream random(9, 9);
  const auto names = display_names();
  for (int i = 0; i < 300; ++i) {
    const std::string who = random_observer(random);
    const std::string where = names[random.below(static_cast<std::uint32_t>(names.size()))] +
                              (random.below(2) == 0 ? ",lux=500,black=.5" : "");
    const auto observer = observer_from(who);
    ASSERT_TRUE(observer.has_value()) << who << ": " << observer.error().message;
    const ObserverDescription d = describe_observer(*observer, *display_from(where));
    const std::string text = description_json(d);
    expect_numbers(json::parse(text), "", who + " on " + where);
    const std::regex nonsense("\\b(nan|inf)\\b|[ \"(]-0[ \",)]");
    for (const std::string& said : {text, description_text(d), plot_svg(d)}) {
      std::smatch found;
      EXPECT_FALSE(std::regex_search(said, found, nonsense))
          << who << " on " << where << " says " << found.str();
    }
  }
  for (const std::string& name : names) {
    const DisplayDescription d = describe_display(*display_from(name));
    expect_numbers(json::parse(description_json(d)), "", name);
  }
}

TEST(Describe, RodsOnGuessedSpectraCarryTheWarning) {
  const Observer rods = *observer_from("rod-monochromat");
  const auto warns = [&](const char* display) {
    const auto notes = describe_observer(rods, *display_from(display)).notes;
    return std::any_of(notes.begin(), notes.end(), [](const std::string& note) {
      return note.find("spectra are guessed") != std::string::npos;
    });
  };
  EXPECT_TRUE(warns("srgb"));
  EXPECT_FALSE(warns("rec2020/lines"));
}

TEST(Figure, TextIsSafeInXml) {
  EXPECT_EQ(xml_text("a < b & \"c\" > d"), "a &lt; b &amp; &quot;c&quot; &gt; d");
}

}  // namespace
}  // namespace copunctal
