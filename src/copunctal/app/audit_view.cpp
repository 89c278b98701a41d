#include "copunctal/app/audit_view.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <vector>

#include <nlohmann/json.hpp>

#include "copunctal/app/debrief.h"
#include "copunctal/base/expects.h"
#include "copunctal/base/text.h"
#include "copunctal/display/write_profile.h"
#include "copunctal/image/png.h"
#include "copunctal/image/sandboxed.h"
#include "copunctal/observer/neutral.h"
#include "copunctal/plate/glyph.h"

namespace copunctal {
namespace {

using Json = nlohmann::ordered_json;

struct Step {
  double from;
  const char* label;
  std::uint8_t grey;
};
// Even steps of lightness, white to near black: told apart without hue, and on paper.
constexpr std::array<Step, 6> steps = {
    {{0, "0", 255}, {0.5, ".5", 211}, {1, "1", 168}, {2, "2", 126}, {5, "5", 84}, {10, "10", 36}}};

void set_pixel(Picture& picture, int x, int y, std::uint8_t grey) {
  const auto at = 3 * (static_cast<std::size_t>(y) * static_cast<std::size_t>(picture.width) +
                       static_cast<std::size_t>(x));
  std::fill_n(picture.rgb.begin() + static_cast<std::ptrdiff_t>(at), 3, grey);
}

// A number's digits, `height` high, from the left; a full stop is a small square.
void write_number(Picture& picture, std::string_view number, int left, int top, int height) {
  const int wide = height * 6 / 10;
  for (const char c : number) {
    for (int y = 0; y < height; ++y)
      for (int x = 0; x < wide; ++x) {
        const Point p{(x + 0.5 - wide / 2.0) / height, (y + 0.5 - height / 2.0) / height};
        const bool inked = c == '.' ? std::abs(p.x) < 0.09 && p.y > 0.32
                                    : on_glyph(glyph_of(std::string_view(&c, 1)), p);
        if (inked && left + x < picture.width && top + y < picture.height)
          set_pixel(picture, left + x, top + y, 0);
      }
    left += wide;
  }
}

Json json_of(const ErrorSpread& spread) {
  // Four decimals are more than anything here is good for.
  const auto rounded = [](double v) { return std::round(v * 1e4) / 1e4; };
  return {{"mean", rounded(spread.mean)},
          {"p95", rounded(spread.p95)},
          {"max", rounded(spread.largest)}};
}

std::string words_of(const ErrorSpread& spread, int digits) {
  return "mean " + decimals(spread.mean, digits) + ", 95th percentile " +
         decimals(spread.p95, digits) + ", largest " + decimals(spread.largest, digits);
}

constexpr std::array cone_names = {"L", "M", "S"};

// A picture's next row as codes of Number, without alpha.
template <class Number>
class CodeRows {
 public:
  explicit CodeRows(PictureSource& source)
      : source_(source),
        row_(source.header().stride()),
        codes_(3 * static_cast<std::size_t>(source.header().width)) {}
  Result<std::span<const Number>> next() {
    COPUNCTAL_TRY_VOID(source_.read(row_));
    if constexpr (sizeof(Number) == 1)
      plain_row(row_, source_.header(), 3, codes_);
    else
      deep_row(row_, source_.header(), codes_);
    return std::span<const Number>(codes_);
  }

 private:
  PictureSource& source_;
  std::vector<std::uint8_t> row_;
  std::vector<Number> codes_;
};

template <class Number>
Result<void> compare_rows(PictureSource& before, PictureSource& after, PictureAudit& audit,
                          std::span<float> errors) {
  CodeRows<Number> originals(before), views(after);
  const auto width = static_cast<std::size_t>(before.header().width);
  for (int y = 0; y < before.header().height; ++y) {
    COPUNCTAL_TRY(const auto original, originals.next());
    COPUNCTAL_TRY(const auto view, views.next());
    audit.add(original, view,
              errors.empty() ? errors : errors.subspan(static_cast<std::size_t>(y) * width, width));
  }
  return {};
}

}  // namespace

Result<AuditResult> audit_view(const std::filesystem::path& original,
                               const std::filesystem::path& view, const Observer& observer,
                               const Display& display, const std::filesystem::path& map,
                               bool trusted) {
  const OpenOptions options{.target = profile_of(display), .trusted = trusted};
  COPUNCTAL_TRY(auto before, open_picture(original, options));
  COPUNCTAL_TRY(auto after, open_picture(view, options));
  // Pictures turned the same way are compared as they lie, unless a map is to be looked at.
  if (before->header().orientation != after->header().orientation || !map.empty()) {
    COPUNCTAL_TRY(before, turned_upright(std::move(before)));
    COPUNCTAL_TRY(after, turned_upright(std::move(after)));
  }
  const int width = before->header().width, height = before->header().height;
  COPUNCTAL_TRY_VOID(check_same_size(width, height, after->header().width, after->header().height));
  const auto pixels = static_cast<std::size_t>(width) * static_cast<std::size_t>(height);
  std::vector<float> errors(map.empty() ? 0 : pixels);
  PictureAudit audit(observer, display);
  const bool is_deep = before->header().bits == 16 || after->header().bits == 16;
  COPUNCTAL_TRY_VOID((is_deep ? compare_rows<std::uint16_t>
                              : compare_rows<std::uint8_t>)(*before, *after, audit, errors));
  if (!map.empty()) COPUNCTAL_TRY_VOID(write_png(heat_map(errors, width, height), map));
  return audit.result();
}

Picture heat_map(std::span<const float> errors, int width, int height) {
  expects(errors.size() == static_cast<std::size_t>(width) * static_cast<std::size_t>(height));
  constexpr int least_width = 240;
  const int all = std::max(width, least_width), digit = std::clamp(all / 40, 10, 48),
            band = 4 * digit;
  Picture picture(all, height + band);
  std::fill(picture.rgb.begin(), picture.rgb.end(), 255);
  for (int y = 0; y < height; ++y)
    for (int x = 0; x < width; ++x) {
      const float error = errors[static_cast<std::size_t>(y) * static_cast<std::size_t>(width) +
                                 static_cast<std::size_t>(x)];
      std::uint8_t grey = 255;
      for (const Step& step : steps)
        if (static_cast<double>(error) >= step.from) grey = step.grey;
      set_pixel(picture, x, y, grey);
    }
  const int swatch = (all - 2 * digit) / static_cast<int>(steps.size());
  for (std::size_t s = 0; s < steps.size(); ++s) {
    const int left = digit + static_cast<int>(s) * swatch;
    for (int y = height + digit / 2; y < height + 2 * digit; ++y)
      for (int x = left; x < left + swatch; ++x) {
        const bool edge = x == left || x == left + swatch - 1 || y == height + digit / 2 ||
                          y == height + 2 * digit - 1;
        set_pixel(picture, x, y, edge ? 0 : steps[s].grey);
      }
    write_number(picture, steps[s].label, left, height + 2 * digit + digit / 2, digit);
  }
  return picture;
}

std::string_view audit_claim(const Observer& observer) {
  if (missing_cone(observer))
    return "whether this observer's remaining cones get from the view what they get from the "
           "original; a match is no claim about what anything looks like, and other pictures would "
           "match as well";
  if (is_monochromat(observer))
    return "whether this observer's one signal is the same from view and original; a match is no "
           "claim about what anything looks like";
  return "whether a normal observer's cones get from the view what this observer's cones get from "
         "the original; what is made of it after the cones is no part of the claim";
}

std::string audit_json(const AuditResult& audit, const Observer& observer, const Display& display,
                       std::string_view method, std::optional<bool> above_limit) {
  Json cones = Json::object();
  for (std::size_t c = 0; c < cone_names.size(); ++c)
    cones[cone_names[c]] = audit.cones[c] ? json_of(*audit.cones[c]) : Json(nullptr);
  Json json = {{"reduced_de00", json_of(audit.reduced)},
               {"floor_de00", json_of(audit.floor)},
               {"jnd", json_of(audit.jnd)},
               {"cone_error", std::move(cones)},
               {"share_out_of_range", audit.out_of_range},
               {"pixels", audit.pixels},
               {"observer", name_of(observer)},
               {"display", display.name}};
  json["method"] = method.empty() ? Json(nullptr) : Json(method);
  if (above_limit) json["above_limit"] = *above_limit;
  json["claim"] = audit_claim(observer);
  json["assumes"] = display.status;
  json["intended_use"] = intended_use();
  return json.dump(1) + "\n";
}

std::string audit_words(const AuditResult& audit) {
  return "error of the view, reduced CIEDE2000: " + words_of(audit.reduced, 2);
}

std::string audit_text(const AuditResult& audit, const Observer& observer, const Display& display) {
  std::string text = audit_words(audit) + "\n";
  text += "rounding to the display's codes alone: " + words_of(audit.floor, 2) + "\n";
  text += "in this observer's thresholds (design constants): " + words_of(audit.jnd, 1) + "\n";
  for (std::size_t c = 0; c < cone_names.size(); ++c)
    if (audit.cones[c])
      text += "relative error of " + std::string(cone_names[c]) + ": " +
              words_of(*audit.cones[c], 3) + "\n";
  text += "pixels whose unclipped " +
          std::string(missing_cone(observer) ? "half-planes view" : "view") +
          " leaves the display's range: " + decimals(100 * audit.out_of_range, 1) + " % of " +
          std::to_string(audit.pixels) + "\n";
  text += "The number says " + std::string(audit_claim(observer)) + ".\n";
  return text + "For " + name_of(observer) + " on display " + display.name + ": " + display.status +
         "\n" + std::string(intended_use()) + "\n";
}

}  // namespace copunctal
