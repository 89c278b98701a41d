#include "copunctal/server/qr.h"

#include <gtest/gtest.h>

#include <sstream>
#include <vector>

using namespace copunctal;

namespace {

constexpr std::string_view address = "https://192.0.2.2:8471/join#7K3M9QXT";

/// What a terminal shows: rows of dark (true) and light modules.
std::vector<std::vector<bool>> modules_of(const std::string& lines) {
  std::vector<std::vector<bool>> rows;
  std::istringstream stream(lines);
  for (std::string line; std::getline(stream, line);) {
    std::vector<bool> upper, lower;
    for (std::size_t at = 0; at < line.size();) {
      const bool is_block = line[at] != ' ';
      const std::string symbol = line.substr(at, is_block ? 3 : 1);
      upper.push_back(symbol == "█" || symbol == "▀");
      lower.push_back(symbol == "█" || symbol == "▄");
      at += symbol.size();
    }
    rows.push_back(upper);
    rows.push_back(lower);
  }
  return rows;
}

}  // namespace

// ISO/IEC 18004: in three corners a square of seven modules, a ring of light and a core of three;
// around everything four light modules.
TEST(Qr, has_the_squares_by_which_a_camera_finds_it) {
  const auto lines = qr_lines(address, /*is_plain=*/true);
  ASSERT_TRUE(lines);
  const auto light = modules_of(*lines);  // without colours the light modules are drawn
  const std::size_t side = light.front().size() - 8;
  EXPECT_EQ((side - 17) % 4, 0U) << "17 + 4 times its version";
  const auto is_dark = [&](std::size_t x, std::size_t y) { return !light.at(y + 4).at(x + 4); };
  for (const auto& [left, top] :
       std::vector<std::pair<std::size_t, std::size_t>>{{0, 0}, {side - 7, 0}, {0, side - 7}})
    for (std::size_t y = 0; y < 7; ++y)
      for (std::size_t x = 0; x < 7; ++x) {
        const std::size_t ring = std::min({x, y, 6 - x, 6 - y});
        EXPECT_EQ(is_dark(left + x, top + y), ring != 1) << x << " " << y;
      }
  for (std::size_t i = 0; i < side + 8; ++i)
    for (std::size_t m = 0; m < 4; ++m) {
      EXPECT_TRUE(light[m][i]);
      EXPECT_TRUE(light[i][m]);
    }
}

TEST(Qr, is_the_same_as_svg) {
  const auto svg = qr_svg(address, "a < b & c");
  ASSERT_TRUE(svg);
  const auto light = modules_of(*qr_lines(address, true));
  std::size_t dark = 0;
  for (std::size_t y = 0; y < light.front().size(); ++y)
    for (std::size_t x = 0; x < light.front().size(); ++x) {
      const std::string module = "M" + std::to_string(x) + " " + std::to_string(y) + "h1v1h-1z";
      EXPECT_EQ(svg->find(module) != std::string::npos, !light[y][x]) << module;
      if (!light[y][x]) ++dark;
    }
  EXPECT_GT(dark, 200U);
  EXPECT_NE(svg->find("<title>a &lt; b &amp; c</title>"), std::string::npos);
}

TEST(Qr, with_colours_is_black_on_white) {
  const auto coloured = qr_lines(address, false);
  ASSERT_TRUE(coloured);
  EXPECT_NE(coloured->find("\x1b["), std::string::npos);
  EXPECT_EQ(qr_lines(address, true)->find('\x1b'), std::string::npos);
}

TEST(Qr, refuses_what_no_code_holds) {
  const auto refused = qr_svg(std::string(5000, 'x'), "");
  ASSERT_FALSE(refused);
  EXPECT_EQ(refused.error().kind, Error::Kind::bad_input);
}
