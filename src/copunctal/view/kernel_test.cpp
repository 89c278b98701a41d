#include "copunctal/view/kernel.h"

#include <algorithm>
#include <atomic>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <fstream>
#include <vector>

#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

#include "copunctal/base/parallel.h"
#include "copunctal/base/random.h"
#include "copunctal/colour/encoding.h"
#include "copunctal/view/view_map.h"

namespace copunctal {
namespace {

const Display& srgb() {
  static const Display display = *display_from("srgb");
  return display;
}

std::vector<KernelSet> sets_here() {
  std::vector<KernelSet> sets = {KernelSet::plain};
  if (best_kernel_set() >= KernelSet::avx2) sets.push_back(KernelSet::avx2);
  if (best_kernel_set() >= KernelSet::avx512) sets.push_back(KernelSet::avx512);
  return sets;
}

// The exact double result, clipped channel by channel.
Code exact(const ViewMap& map, const CodeLight& light, const Code& code) {
  return light.code(clipped(map(light.linear(code))));
}

// The form with a matrix and one more direction is the two half-planes, to rounding.
TEST(Kernel, PlansAreTheMapsTheyStandFor) {
  RandomStream random(3);
  for (const char* name : {"protan:0", "deutan:0", "tritan", "deutan:6", "rod-monochromat"})
    for (const ViewMethod method :
         {ViewMethod::plane, ViewMethod::half_planes, ViewMethod::substitution, ViewMethod::grey}) {
      const auto map = ViewMap::make(*observer_from(name), srgb(), method);
      if (!map) continue;
      const auto plan = map->kernel_plan();
      ASSERT_TRUE(plan.has_value());
      for (int trial = 0; trial < 500; ++trial) {
        const double r = random.uniform(), g = random.uniform(), b = random.uniform();
        const auto row = [&](std::size_t i) {
          const double side = static_cast<double>(plan->n[0]) * r +
                              static_cast<double>(plan->n[1]) * g +
                              static_cast<double>(plan->n[2]) * b;
          return static_cast<double>(plan->a[3 * i]) * r +
                 static_cast<double>(plan->a[3 * i + 1]) * g +
                 static_cast<double>(plan->a[3 * i + 2]) * b +
                 static_cast<double>(plan->k[i]) * std::min(0.0, side);
        };
        const LinearRgb wanted = (*map)({r, g, b});
        EXPECT_NEAR(row(0), wanted.r, 1e-6) << name << " " << name_of(method);
        EXPECT_NEAR(row(1), wanted.g, 1e-6);
        EXPECT_NEAR(row(2), wanted.b, 1e-6);
      }
    }
}

// Over all 2^24 colours no value is more than 1 code off the exact double, and at most one in a
// hundred is off. The widest set meets every colour; the others, and all where the build is slow,
// every seventh value of red.
TEST(Kernel, IsWithinACodeOfItsDoubleTwin) {
  const CodeLight light(srgb().curves);
  for (const auto& [name, method] : {std::pair{"deutan:0", ViewMethod::plane},
                                     {"protan:0", ViewMethod::half_planes},
                                     {"deutan:5", ViewMethod::substitution}}) {
    const ViewMap map = *ViewMap::make(*observer_from(name), srgb(), method);
    const KernelPlan plan = *map.kernel_plan();
    for (const KernelSet set : sets_here()) {
#ifdef NDEBUG
      const int step = set == best_kernel_set() ? 1 : 7;
#else
      const int step = 7;
#endif
      std::atomic<std::uint64_t> off = 0, far = 0, values = 0;
      parallel_for(
          static_cast<std::size_t>((256 + step - 1) / step), [&, map = map](std::size_t s) {
            const auto r = static_cast<std::uint8_t>(static_cast<int>(s) * step);
            std::vector<std::uint8_t> rgb(std::size_t{3} << 16);
            for (std::size_t i = 0; i < rgb.size() / 3; ++i) {
              rgb[3 * i] = r;
              rgb[3 * i + 1] = static_cast<std::uint8_t>(i >> 8);
              rgb[3 * i + 2] = static_cast<std::uint8_t>(i);
            }
            run_kernel(plan, rgb.data(), rgb.size() / 3, nullptr, set);
            for (std::size_t i = 0; i < rgb.size() / 3; ++i) {
              const Code wanted = exact(
                  map, light, {r, static_cast<std::uint8_t>(i >> 8), static_cast<std::uint8_t>(i)});
              for (std::size_t c = 0; c < 3; ++c) {
                const int by = std::abs(static_cast<int>(rgb[3 * i + c]) - wanted[c]);
                off += by == 1 ? 1U : 0U;
                far += by > 1 ? 1U : 0U;
              }
            }
            values += rgb.size();
          });
      const double share = static_cast<double>(off) / static_cast<double>(values);
      std::printf("%s set %d: %.3f %% of %llu values off by one\n", name, static_cast<int>(set),
                  100 * share, static_cast<unsigned long long>(values));
      EXPECT_EQ(far, 0U) << name;
      EXPECT_LE(share, 0.01) << name;
    }
  }
}

TEST(Kernel, OfSixteenBitsIsWithinACode) {
  for (const auto& [name, method] :
       {std::pair{"deutan:0", ViewMethod::plane}, {"tritan", ViewMethod::half_planes}}) {
    const ViewMap map = *ViewMap::make(*observer_from(name), srgb(), method);
    const KernelPlan plan = *map.kernel_plan();
    RandomStream random(8);
    std::vector<std::uint16_t> rgb;
    for (int i = 0; i < 300'000; ++i) {
      // Evenly over the codes, and often near black and white.
      const auto code = [&] {
        const std::uint32_t any = random.below(65536), edge = random.below(8);
        return static_cast<std::uint16_t>(edge == 0   ? any >> 8
                                          : edge == 1 ? 65535 - (any >> 8)
                                                      : any);
      };
      for (int c = 0; c < 3; ++c) rgb.push_back(code());
    }
    for (const KernelSet set : sets_here()) {
      std::vector<std::uint16_t> seen = rgb;
      run_kernel(plan, seen.data(), seen.size() / 3, nullptr, set);
      int worst = 0;
      for (std::size_t i = 0; i < rgb.size(); i += 3) {
        const auto linear = [&](std::size_t c) {
          return srgb().curves[c].decoded(rgb[i + c] / 65535.0);
        };
        const LinearRgb wanted = clipped(map({linear(0), linear(1), linear(2)}));
        const std::array<double, 3> drives = {wanted.r, wanted.g, wanted.b};
        for (std::size_t c = 0; c < 3; ++c)
          worst = std::max(
              worst,
              std::abs(static_cast<int>(seen[i + c]) -
                       static_cast<int>(std::lround(65535 * srgb().curves[c].encoded(drives[c])))));
      }
      EXPECT_LE(worst, 1) << name << " set " << static_cast<int>(set);
    }
  }
}

// Where a plan sends colours is no matter of the machine.
template <class Number>
void expect_same_bytes(std::uint32_t most) {
  RandomStream random(31);
  for (const auto& [name, method] : {std::pair{"deutan:0", ViewMethod::plane},
                                     {"tritan", ViewMethod::half_planes},
                                     {"protan:5", ViewMethod::substitution}}) {
    const KernelPlan plan = *ViewMap::make(*observer_from(name), srgb(), method)->kernel_plan();
    std::vector<Number> codes(3 * 200'003);
    for (Number& code : codes) code = static_cast<Number>(random.below(most + 1));
    std::vector<Number> first;
    std::vector<std::uint8_t> first_flags;
    for (const KernelSet set : sets_here()) {
      std::vector<Number> seen = codes;
      std::vector<std::uint8_t> flags(codes.size() / 3);
      run_kernel(plan, seen.data(), flags.size(), flags.data(), set);
      if (first.empty()) {
        EXPECT_NE(seen, codes);
        first = seen;
        first_flags = flags;
      }
      EXPECT_EQ(seen, first) << name << " set " << static_cast<int>(set);
      EXPECT_EQ(flags, first_flags) << name << " set " << static_cast<int>(set);
    }
  }
}
TEST(Kernel, GivesTheSameBytesWithEveryInstructionSet) {
  expect_same_bytes<std::uint8_t>(255);
  expect_same_bytes<std::uint16_t>(65535);
}

// Channels that are the same number are worked out once: a plan of two sides whose second changes
// nothing goes the way of all, and gives the same.
template <class Number>
void expect_worked_out_once(std::uint32_t most) {
  RandomStream random(32);
  for (const auto& [name, equal_rows] :
       {std::pair{"deutan:0", 2}, {"protan:0", 2}, {"rod-monochromat", 3}, {"deutan:6", 1}}) {
    const KernelPlan plan = *ViewMap::make(*observer_from(name), srgb())->kernel_plan();
    int rows = 0;
    for (std::size_t row = 0; row < 3; ++row)
      rows += std::equal(plan.a.begin(), plan.a.begin() + 3, plan.a.begin() + 3 * row) ? 1 : 0;
    EXPECT_EQ(rows, equal_rows) << name;
    KernelPlan general = plan;
    general.two_sided = true;
    std::vector<Number> codes(3 * 20'003);
    for (Number& code : codes) code = static_cast<Number>(random.below(most + 1));
    for (const KernelSet set : sets_here()) {
      std::vector<Number> seen = codes, wanted = codes;
      const std::size_t count = run_kernel(plan, seen.data(), seen.size() / 3, nullptr, set);
      EXPECT_EQ(count, run_kernel(general, wanted.data(), wanted.size() / 3, nullptr, set));
      EXPECT_EQ(seen, wanted) << name << " set " << static_cast<int>(set);
    }
  }
}
TEST(Kernel, WorksEqualChannelsOutOnce) {
  expect_worked_out_once<std::uint8_t>(255);
  expect_worked_out_once<std::uint16_t>(65535);
}

TEST(Kernel, KeepsBlackAndWhite) {
  const KernelPlan plan = {.a = {1, 0, 0, 0, 1, 0, 0, 0, 1}};
  for (const KernelSet set : sets_here()) {
    std::vector<std::uint8_t> codes = {0, 0, 0, 255, 255, 255};
    std::vector<std::uint16_t> deep = {0, 0, 0, 65535, 65535, 65535};
    run_kernel(plan, codes.data(), 2, nullptr, set);
    run_kernel(plan, deep.data(), 2, nullptr, set);
    EXPECT_EQ(codes, (std::vector<std::uint8_t>{0, 0, 0, 255, 255, 255}));
    EXPECT_EQ(deep, (std::vector<std::uint16_t>{0, 0, 0, 65535, 65535, 65535}));
  }
}

TEST(Kernel, ServesAnyNumberOfPixelsAndCountsThoseOutside) {
  const ViewMap map = *ViewMap::make(*observer_from("protan:0"), srgb(), ViewMethod::half_planes);
  const KernelPlan plan = *map.kernel_plan();
  const CodeLight light(srgb().curves);
  RandomStream random(12);
  for (const std::size_t pixels : {0U, 1U, 15U, 16U, 17U, 255U, 256U, 257U, 1000U}) {
    std::vector<std::uint8_t> rgb(3 * pixels + 3, 77), flags(pixels + 1, 9);
    for (std::size_t i = 0; i < 3 * pixels; ++i)
      rgb[i] = static_cast<std::uint8_t>(random.below(256));
    const std::vector<std::uint8_t> before = rgb;
    for (const KernelSet set : sets_here()) {
      std::vector<std::uint8_t> seen = before;
      const std::size_t count = run_kernel(plan, seen.data(), pixels, flags.data(), set);
      std::size_t expected = 0;
      for (std::size_t i = 0; i < pixels; ++i) {
        const bool outside = !in_gamut(
            map(light.linear({before[3 * i], before[3 * i + 1], before[3 * i + 2]})), 0.002);
        expected += outside ? 1U : 0U;
        EXPECT_EQ(flags[i], outside ? 1 : 0);
      }
      EXPECT_EQ(count, expected);
      EXPECT_EQ(flags[pixels], 9) << "nothing is written behind the last pixel";
      EXPECT_EQ(seen[3 * pixels], 77);
    }
  }
}

// The whole map, fitted colours included, against one colour at a time.
TEST(Kernel, IsWhatAppliedMapsGive) {
  RandomStream random(21);
  for (const auto& [name, method] : {std::pair{"tritan", ViewMethod::half_planes},
                                     {"deutan:0", ViewMethod::line},
                                     {"protan:0", ViewMethod::plane}}) {
    ViewMap fast = *ViewMap::make(*observer_from(name), srgb(), method), slow = fast;
    std::vector<std::uint8_t> rgb(3 * 5000);
    for (std::uint8_t& code : rgb) code = static_cast<std::uint8_t>(random.below(256));
    const std::vector<std::uint8_t> before = rgb;
    fast.apply(rgb);
    std::vector<std::uint16_t> deep(before.size());
    for (std::size_t i = 0; i < before.size(); ++i)
      deep[i] = static_cast<std::uint16_t>(257 * before[i]);
    ViewMap of_deep = slow;
    of_deep.apply(deep);
    for (std::size_t i = 0; i < rgb.size(); i += 3) {
      const Code wanted = slow.code({before[i], before[i + 1], before[i + 2]});
      for (std::size_t c = 0; c < 3; ++c) {
        EXPECT_NEAR(rgb[i + c], wanted[c], 1) << name;
        EXPECT_NEAR(deep[i + c] / 257.0, wanted[c], 0.51) << name;
      }
    }
    EXPECT_NEAR(fast.share_out_of_range(), slow.share_out_of_range(), 0.001) << name;
    EXPECT_NEAR(of_deep.share_out_of_range(), slow.share_out_of_range(), 0.001) << name;
  }
}

// What the page's kernel must give, byte for byte: plans as pages are told them, and what they make
// of 16 x 16 x 16 colours, in steps of 17, blue fastest, as hexadecimal digits.
// COPUNCTAL_WRITE_FIXTURE writes it anew.
TEST(Kernel, TheFixtureOfThePageIsWhatTheProgramGives) {
  const std::string path = COPUNCTAL_SOURCE_DIR "/web/src/model/view-kernel.fixture.json";
  nlohmann::json plans = nlohmann::json::array();
  std::vector<std::uint8_t> colours;
  for (int i = 0; i < 4096; ++i)
    for (const int code : {i >> 8, i >> 4 & 15, i & 15})
      colours.push_back(static_cast<std::uint8_t>(17 * code));
  for (const auto& [name, method] : {std::pair{"deutan:0", ViewMethod::plane},
                                     {"protan:0", ViewMethod::half_planes},
                                     {"deutan:6", ViewMethod::substitution}}) {
    const KernelPlan plan = *ViewMap::make(*observer_from(name), srgb(), method)->kernel_plan();
    plans.push_back({{"a", plan.a}, {"k", plan.k}, {"n", plan.n}, {"two_sided", plan.two_sided}});
  }
  const auto after = [&](const nlohmann::json& from) {
    KernelPlan plan;
    from.at("a").get_to(plan.a);
    from.at("k").get_to(plan.k);
    from.at("n").get_to(plan.n);
    from.at("two_sided").get_to(plan.two_sided);
    std::vector<std::uint8_t> seen = colours;
    run_kernel(plan, seen.data(), seen.size() / 3, nullptr);
    std::string digits;
    for (const std::uint8_t code : seen) {
      digits += "0123456789abcdef"[code >> 4];
      digits += "0123456789abcdef"[code & 15];
    }
    return digits;
  };
  if (std::getenv("COPUNCTAL_WRITE_FIXTURE") != nullptr) {
    nlohmann::json made = nlohmann::json::array();
    for (const auto& plan : plans) made.push_back({{"plan", plan}, {"after", after(plan)}});
    std::ofstream(path) << made.dump(1) << "\n";
  }
  std::ifstream file(path);
  const auto kept = nlohmann::json::parse(file);
  ASSERT_EQ(kept.size(), plans.size());
  for (std::size_t p = 0; p < kept.size(); ++p) {
    EXPECT_TRUE(kept[p].at("after") == after(kept[p].at("plan"))) << "plan " << p;
    for (const char* part : {"a", "k", "n"})
      for (std::size_t i = 0; i < plans[p][part].size(); ++i)
        EXPECT_NEAR(kept[p]["plan"][part][i].get<double>(), plans[p][part][i].get<double>(), 1e-6);
  }
}

}  // namespace
}  // namespace copunctal
