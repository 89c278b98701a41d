#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <fstream>
#include <tuple>

#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

#include "copunctal/base/random.h"
#include "copunctal/colour/encoding.h"
#include "copunctal/view/view_map.h"

namespace copunctal {
namespace {

const Display& srgb() {
  static const Display display = *display_from("srgb");
  return display;
}

Fundamentals tabulated() {
  const Table& published = table("lms_cie2006_2deg");
  return {spectrum_from<EnergySensitivityKind>(published, "L"),
          spectrum_from<EnergySensitivityKind>(published, "M"),
          spectrum_from<EnergySensitivityKind>(published, "S")};
}

const nlohmann::json& reference() {
  static const nlohmann::json json = [] {
    std::ifstream file(COPUNCTAL_SOURCE_DIR "/data/checks/display_to_cone.json");
    return nlohmann::json::parse(file)["oled_template_to_sRGB"];
  }();
  return json;
}

ViewMap from_tables(const char* observer, ViewMethod method) {
  return *ViewMap::from(tabulated(), tabulated(), *observer_from(observer), srgb(), method);
}

// Projections computed with another program from the published tables and the construction of
// Brettel, Vienot & Mollon 1997; stored to six decimals, tolerance 2e-5.
TEST(View, HalfPlanesAgreeWithTheReference) {
  for (const char* kind : {"protan", "deutan", "tritan"}) {
    const ViewMap map = from_tables(kind, ViewMethod::half_planes);
    for (const auto& [key, expected] : reference()["brettel_" + std::string(kind)].items()) {
      double r = 0, g = 0, b = 0;
      ASSERT_EQ(std::sscanf(key.c_str(), "(%lf, %lf, %lf)", &r, &g, &b), 3);
      const LinearRgb seen = map({r, g, b});
      EXPECT_NEAR(seen.r, expected[0].get<double>(), 2e-5) << kind << key;
      EXPECT_NEAR(seen.g, expected[1].get<double>(), 2e-5) << kind << key;
      EXPECT_NEAR(seen.b, expected[2].get<double>(), 2e-5) << kind << key;
    }
  }
}

// The single plane through display blue (after Vienot, Brettel & Mollon 1999) in this display's
// cones.
TEST(View, PlanesAgreeWithTheReference) {
  for (const char* kind : {"protan", "deutan"}) {
    const ViewMap map = from_tables(kind, ViewMethod::plane);
    const auto& expected = reference()["single_plane_" + std::string(kind)];
    const LinearRgb columns[3] = {map({1, 0, 0}), map({0, 1, 0}), map({0, 0, 1})};
    for (std::size_t j = 0; j < 3; ++j) {
      EXPECT_NEAR(columns[j].r, expected[0][j].get<double>(), 2e-5);
      EXPECT_NEAR(columns[j].g, expected[1][j].get<double>(), 2e-5);
      EXPECT_NEAR(columns[j].b, expected[2][j].get<double>(), 2e-5);
    }
  }
}

// Brettel, Vienot & Mollon 1997: 475 and 575 nm look the same to protans, deutans and normals, 485
// and 660 nm to tritans and normals. So a view leaves these lights as they are, and no others near.
TEST(View, LeavesTheLightsOf1997AsTheyAre) {
  const Fundamentals cones = tabulated();
  const auto back = inverse(lms_from_linear_rgb(cones, srgb()));
  const auto light_of = [&](int nm) {
    std::array<double, 3> c{};
    const std::array rows = {&cones.l, &cones.m, &cones.s};
    for (std::size_t row = 0; row < 3; ++row) {
      double white = 0;
      for (const Power& primary : srgb().primaries) white += integral(primary, *rows[row]);
      c[row] = rows[row]->at(nm) / white;
    }
    return back({c[0], c[1], c[2]});
  };
  const auto moved = [&](const ViewMap& map, int nm) {
    const LinearRgb light = light_of(nm), seen = map(light);
    const double size = std::abs(light.r) + std::abs(light.g) + std::abs(light.b);
    return (std::abs(seen.r - light.r) + std::abs(seen.g - light.g) + std::abs(seen.b - light.b)) /
           size;
  };
  for (const auto& [kind, same] : {std::pair{"protan", std::array{475, 575}},
                                   {"deutan", std::array{475, 575}},
                                   {"tritan", std::array{485, 660}}}) {
    const ViewMap map = from_tables(kind, ViewMethod::half_planes);
    for (const int nm : same) EXPECT_LT(moved(map, nm), 1e-9) << kind << " " << nm;
    for (const int nm : {450, 520, 600}) EXPECT_GT(moved(map, nm), 0.02) << kind << " " << nm;
  }
}

// Laws of a dichromat's view: what the remaining cones get is unchanged, a second view changes
// nothing, greys stay.
TEST(View, RemainingConesCannotTellTheViewFromTheOriginal) {
  RandomStream random(31);
  for (const auto& [kind, method] : {std::pair{"protan", ViewMethod::plane},
                                     {"deutan", ViewMethod::plane},
                                     {"protan", ViewMethod::half_planes},
                                     {"deutan", ViewMethod::half_planes},
                                     {"tritan", ViewMethod::half_planes},
                                     {"protan,age=70,field=10", ViewMethod::plane},
                                     {"deutan,age=20,density-l=0.25,shift-l=3", ViewMethod::plane},
                                     {"deutan,lens=1.3,macula=0.4", ViewMethod::half_planes},
                                     {"tritan,age=75,pupil=7", ViewMethod::half_planes}}) {
    const Observer observer = *observer_from(kind);
    const ViewMap map = *ViewMap::make(observer, srgb(), method);
    const auto lms = lms_from_linear_rgb(fundamentals_of(observer), srgb());
    for (int trial = 0; trial < 500; ++trial) {
      const double r = random.uniform(), g = random.uniform(), b = random.uniform();
      const LinearRgb colour{r, g, b}, once = map(colour), twice = map(once);
      const ConeExcitation before = lms(colour), after = lms(once);
      if (kind[0] != 'p') {
        EXPECT_NEAR(after.l, before.l, 1e-12);
      }
      if (kind[0] != 'd') {
        EXPECT_NEAR(after.m, before.m, 1e-12);
      }
      if (kind[0] != 't') {
        EXPECT_NEAR(after.s, before.s, 1e-12);
      }
      EXPECT_NEAR(twice.r, once.r, 1e-11);
      EXPECT_NEAR(twice.g, once.g, 1e-11);
      const LinearRgb grey = map({r, r, r});
      EXPECT_NEAR(grey.r, r, 1e-12);
      EXPECT_NEAR(grey.b, r, 1e-12);
    }
  }
}

TEST(View, SubstitutionIsTheIdentityForANormalObserver) {
  const ViewMap map = *ViewMap::make(*observer_from("protan:28"), srgb());
  EXPECT_EQ(map.method(), ViewMethod::substitution);
  const LinearRgb seen = map({0.3, 0.6, 0.1});
  EXPECT_NEAR(seen.r, 0.3, 1e-12);
  EXPECT_NEAR(seen.g, 0.6, 1e-12);
}

TEST(View, MethodsThatCannotServeAreRefused) {
  for (const auto& [name, method] : {std::pair{"protan:5", ViewMethod::plane},
                                     {"tritan", ViewMethod::plane},
                                     {"normal", ViewMethod::half_planes},
                                     {"rod-monochromat", ViewMethod::substitution},
                                     {"deutan:0", ViewMethod::grey}})
    EXPECT_EQ(ViewMap::make(*observer_from(name), srgb(), method).error().kind, Error::Kind::usage);
  EXPECT_FALSE(view_method_from("best").has_value());
}

// White stays white and greys stay grey, whatever the method.
TEST(View, GreysStayGrey) {
  for (const auto& [name, method] : {std::pair{"protan:0", ViewMethod::plane},
                                     {"deutan:0", ViewMethod::line},
                                     {"tritan", ViewMethod::line},
                                     {"tritan", ViewMethod::half_planes},
                                     {"protan:5", ViewMethod::substitution},
                                     {"rod-monochromat", ViewMethod::grey},
                                     {"deutan:10", ViewMethod::published_2009}}) {
    ViewMap map = *ViewMap::make(*observer_from(name), srgb(), method);
    for (int v = 0; v < 256; v += 15) {
      const auto grey = static_cast<std::uint8_t>(v);
      const Code seen = map.code({grey, grey, grey});
      for (const std::uint8_t c : seen) EXPECT_NEAR(c, grey, 1) << name << " " << v;
      if (v == 255) {
        EXPECT_EQ(seen, (Code{255, 255, 255})) << name;
      }
    }
  }
}

// The strict line leaves what the remaining cones get exactly as it is, at every colour in range.
TEST(View, TheLineMethodMatchesExactlyAndStaysInRange) {
  const auto lms = lms_from_linear_rgb(fundamentals_of(Observer{}), srgb());
  RandomStream random(77);
  for (const char* kind : {"protan", "deutan", "tritan"}) {
    const Observer observer = *observer_from(kind);
    const ViewMap map = *ViewMap::make(observer, srgb(), ViewMethod::line);
    int at_the_edge = 0;
    for (int trial = 0; trial < 2000; ++trial) {
      const double r = random.uniform(), g = random.uniform(), b = random.uniform();
      const LinearRgb colour{r, g, b}, seen = map.fitted(colour);
      EXPECT_TRUE(in_gamut(seen));
      at_the_edge += in_gamut(map(colour)) ? 0 : 1;
      const ConeExcitation before = lms(colour), after = lms(seen);
      if (kind[0] != 'p') {
        EXPECT_NEAR(after.l, before.l, 1e-12);
      }
      if (kind[0] != 'd') {
        EXPECT_NEAR(after.m, before.m, 1e-12);
      }
      if (kind[0] != 't') {
        EXPECT_NEAR(after.s, before.s, 1e-12);
      }
      const LinearRgb again = map.fitted(seen);
      EXPECT_NEAR(again.r, seen.r, 1e-9);
      EXPECT_NEAR(again.g, seen.g, 1e-9);
      EXPECT_NEAR(again.b, seen.b, 1e-9);
    }
    EXPECT_GT(at_the_edge, 100) << kind << ": the rule was never asked for";
  }
}

// After the step the view is in range and the match exact; the step's size for these cones was
// computed with another program (.9902 / .0049 protan, .9644 / .0178 deutan).
TEST(View, TheStepIntoRangeMakesTheMatchExact) {
  const auto lms = lms_from_linear_rgb(fundamentals_of(Observer{}), srgb());
  for (const auto& [kind, scale, offset] :
       {std::tuple{"protan", 0.9902, 0.0049}, {"deutan", 0.9644, 0.0178}}) {
    const ViewMap map = *ViewMap::make(*observer_from(kind), srgb());
    const auto step = map.step_into_range();
    ASSERT_TRUE(step.has_value());
    EXPECT_NEAR(step->scale, scale, 2e-4) << kind;
    EXPECT_NEAR(step->offset, offset, 2e-4) << kind;
    RandomStream random(5);
    for (int trial = 0; trial < 500; ++trial) {
      const double r = random.uniform(), g = random.uniform(), b = random.uniform();
      const LinearRgb moved = (*step)({r, g, b}), seen = map(moved);
      EXPECT_TRUE(in_gamut(seen, 1e-9));
      const ConeExcitation before = lms(moved), after = lms(seen);
      EXPECT_NEAR(kind[0] == 'p' ? after.m : after.l, kind[0] == 'p' ? before.m : before.l, 1e-12);
      EXPECT_NEAR(after.s, before.s, 1e-12);
    }
  }
  const ViewMap half = *ViewMap::make(*observer_from("tritan"), srgb());
  EXPECT_EQ(half.step_into_range().error().kind, Error::Kind::usage);
}

// What a normal's cones get of the view is what the other observer's get of the original, for any
// separation, age and individual.
TEST(View, SubstitutionGivesANormalTheOthersExcitations) {
  const auto normal = lms_from_linear_rgb(fundamentals_of(Observer{}), srgb());
  RandomStream random(9);
  for (const char* name : {"protan:4", "deutan:10", "normal,age=75", "deutan:6,lens=1.3,shift-l=2",
                           "tritan,s-density=.3", "protan,codons=180+230"}) {
    const Observer observer = *observer_from(name);
    const ViewMap map = *ViewMap::make(observer, srgb());
    const auto theirs = lms_from_linear_rgb(fundamentals_of(observer), srgb());
    for (int trial = 0; trial < 200; ++trial) {
      const double r = random.uniform(), g = random.uniform(), b = random.uniform();
      const ConeExcitation wanted = theirs({r, g, b}), got = normal(map({r, g, b}));
      EXPECT_NEAR(got.l, wanted.l, 1e-12) << name;
      EXPECT_NEAR(got.m, wanted.m, 1e-12) << name;
      EXPECT_NEAR(got.s, wanted.s, 1e-12) << name;
    }
  }
}

}  // namespace
}  // namespace copunctal
