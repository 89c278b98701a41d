#include "copunctal/reader/elements.h"

#include <algorithm>
#include <map>
#include <string>

namespace copunctal {

Elements elements_of(const Plate& plate, const Mosaic& mosaic) {
  const std::size_t levels = plate.codes.front().size();
  const Assignment assignment = assign(mosaic, plate.figures, plate.seed, levels);
  Elements elements;
  elements.pixels = mosaic.pixels;
  for (const Pebble& pebble : mosaic.pebbles) elements.centres.push_back(pebble.centre);
  for (std::size_t i = 0; i < mosaic.pebbles.size(); ++i)
    elements.colour_class.push_back(
        static_cast<std::uint16_t>(assignment.part[i] * levels + assignment.level[i]));
  for (const auto& part : plate.codes)
    elements.class_codes.insert(elements.class_codes.end(), part.begin(), part.end());
  return elements;
}

Result<Elements> elements_from(const Picture& picture) {
  const int width = picture.width, height = picture.height;
  const auto index = [&](int x, int y) {
    return static_cast<std::size_t>(y) * static_cast<std::size_t>(width) +
           static_cast<std::size_t>(x);
  };
  const auto code_at = [&](std::size_t i) {
    return Code{picture.rgb[3 * i], picture.rgb[3 * i + 1], picture.rgb[3 * i + 2]};
  };
  const double field = width * (1 - 2 * field_margin), offset = width * field_margin;
  // A pebble's smallest interior; below it, connected edge pixels of one code.
  constexpr std::size_t least_pixels = 20;

  Elements elements;
  std::map<Code, std::uint16_t> classes;
  std::vector<bool> seen(picture.rgb.size() / 3);
  std::vector<std::pair<int, int>> stack;
  for (int y = 0; y < height; ++y)
    for (int x = 0; x < width; ++x) {
      if (seen[index(x, y)]) continue;
      const Code code = code_at(index(x, y));
      std::vector<Point> pixels;
      bool border = false;
      double sum_x = 0, sum_y = 0;
      seen[index(x, y)] = true;
      stack.assign(1, {x, y});
      while (!stack.empty()) {
        const auto [px, py] = stack.back();
        stack.pop_back();
        const Point p{(px + 0.5 - offset) / field, (py + 0.5 - offset) / field};
        pixels.push_back(p);
        sum_x += p.x;
        sum_y += p.y;
        border = border || px == 0 || py == 0 || px == width - 1 || py == height - 1;
        for (const auto& [nx, ny] :
             {std::pair{px - 1, py}, {px + 1, py}, {px, py - 1}, {px, py + 1}}) {
          if (nx < 0 || ny < 0 || nx >= width || ny >= height) continue;
          const std::size_t next = index(nx, ny);
          if (seen[next] || code_at(next) != code) continue;
          seen[next] = true;
          stack.emplace_back(nx, ny);
        }
      }
      if (border || pixels.size() < least_pixels) continue;
      const auto n = static_cast<double>(pixels.size());
      const auto within = [&](double sum) { return sum >= 0 && sum <= n; };
      if (!within(sum_x) || !within(sum_y)) continue;  // a mark in the margin
      elements.centres.push_back({sum_x / n, sum_y / n});
      elements.pixels.push_back(std::move(pixels));
      const auto known = classes.emplace(code, static_cast<std::uint16_t>(classes.size())).first;
      elements.colour_class.push_back(known->second);
      if (known->second == elements.class_codes.size()) elements.class_codes.push_back(code);
    }
  if (elements.pixels.size() < 50)
    return fail(Error::Kind::bad_input,
                "only " + std::to_string(elements.pixels.size()) + " elements found", "picture", "",
                "give a plate's pixels as drawn, without resampling");
  return elements;
}

}  // namespace copunctal
