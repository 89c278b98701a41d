#include "copunctal/plate/symbols.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

#include "copunctal/base/expects.h"
#include "copunctal/base/random.h"
#include "copunctal/base/text.h"
#include "copunctal/plate/field.h"
#include "copunctal/plate/gate_path.h"
#include "copunctal/plate/ring.h"

namespace copunctal {
namespace {

bool is_among(const std::vector<std::string>& symbols, std::string_view symbol) {
  return std::find(symbols.begin(), symbols.end(), symbol) != symbols.end();
}

// Mean 0 and length 1, over the points of the field.
std::vector<double> template_of(std::string_view symbol, std::size_t path_shape) {
  constexpr int side = 200;
  const SymbolArea area(symbol, Place::whole, path_shape);
  std::vector<double> mask;
  double sum = 0;
  for (int y = 0; y < side; ++y)
    for (int x = 0; x < side; ++x) {
      mask.push_back(area.covers({(x + 0.5) / side, (y + 0.5) / side}));
      sum += mask.back();
    }
  double squares = 0;
  for (double& v : mask) {
    v -= sum / (side * side);
    squares += v * v;
  }
  for (double& v : mask) v /= std::sqrt(squares);
  return mask;
}

double product(const std::vector<double>& a, const std::vector<double>& b) {
  double sum = 0;
  for (std::size_t i = 0; i < a.size(); ++i) sum += a[i] * b[i];
  return sum;
}

constexpr std::size_t digit_count = 10;
using Correlations = std::array<std::array<double, digit_count>, digit_count>;

const Correlations& digit_correlations() {
  static const Correlations matrix = [] {
    std::vector<std::vector<double>> templates;
    for (const std::string& digit : digits()) templates.push_back(template_of(digit, 0));
    Correlations result{};
    for (std::size_t a = 0; a < digit_count; ++a)
      for (std::size_t b = 0; b < digit_count; ++b)
        result[a][b] = product(templates[a], templates[b]);
    return result;
  }();
  return matrix;
}

// All largest rows of at most `count` digits of which no two are alike.
std::vector<std::vector<std::string>> rows_of_digits(std::size_t count) {
  std::vector<std::vector<std::string>> best;
  for (unsigned subset = 1; subset < 1U << digit_count; ++subset) {
    std::vector<std::size_t> chosen;
    for (std::size_t d = 0; d < digit_count; ++d)
      if (subset >> d & 1) chosen.push_back(d);
    if (chosen.size() > count) continue;
    bool apart = true;
    for (std::size_t i = 0; i < chosen.size() && apart; ++i)
      for (std::size_t j = 0; j < i && apart; ++j)
        apart = digit_correlations()[chosen[i]][chosen[j]] < alike;
    if (!apart) continue;
    if (!best.empty() && chosen.size() > best.front().size()) best.clear();
    if (best.empty() || chosen.size() == best.front().size()) {
      std::vector<std::string>& symbols = best.emplace_back();
      for (const std::size_t d : chosen) symbols.push_back(digits()[d]);
    }
  }
  return best;
}

// Where quarters have their middles, by family: rings are wider than digits.
Point middle_of(Place place, double low) {
  const double high = 1 - low;
  switch (place) {
    case Place::whole:
      return {0.5, 0.5};
    case Place::upper_left:
      return {low, low};
    case Place::lower_right:
      return {high, high};
    case Place::upper_right:
      return {high, low};
    case Place::lower_left:
      return {low, high};
  }
  return {0.5, 0.5};
}

// The side of a square with the mean area of a cell of the rounded field.
double cell_side(int cells) {
  const double corner = FieldOptions{}.corner;
  return std::sqrt((1 - (4 - std::numbers::pi) * corner * corner) / cells);
}

}  // namespace

std::string_view name_of(SymbolFamily family) {
  switch (family) {
    case SymbolFamily::digits:
      return "digits";
    case SymbolFamily::rings:
      return "rings";
    case SymbolFamily::paths:
      return "paths";
  }
  return "digits";
}

Result<SymbolFamily> family_from(std::string_view name) {
  for (const SymbolFamily family : {SymbolFamily::digits, SymbolFamily::rings, SymbolFamily::paths})
    if (name_of(family) == name) return family;
  return fail(Error::Kind::usage, "there are no symbols '" + std::string(name) + "'", "symbols",
              std::string(name), "use digits, rings or paths");
}

std::optional<SymbolFamily> family_of(std::string_view symbol) {
  if (is_among(digits(), symbol)) return SymbolFamily::digits;
  if (is_among(ring_symbols(false), symbol) || is_among(ring_symbols(true), symbol))
    return SymbolFamily::rings;
  if (is_among(gate_symbols(), symbol)) return SymbolFamily::paths;
  return {};
}

SymbolBox box_of(SymbolFamily family, Place place) {
  const bool whole = place == Place::whole;
  switch (family) {
    case SymbolFamily::digits:
      return {middle_of(place, 0.275), whole ? 0.74 : 0.46};
    case SymbolFamily::rings:
      return {middle_of(place, 0.265), whole ? 0.76 : 0.45};
    case SymbolFamily::paths:
      return {middle_of(place, 0.25), whole ? 1 : 0.5};
  }
  return {};
}

SymbolArea::SymbolArea(std::string_view symbol, Place place, std::size_t path_shape) {
  const auto family = family_of(symbol);
  expects(family.has_value());
  family_ = *family;
  box_ = box_of(family_, place);
  if (family_ == SymbolFamily::digits) glyph_ = &glyph_of(symbol);
  if (family_ == SymbolFamily::rings) gap_ = gap_of(symbol);
  if (family_ == SymbolFamily::paths) way_ = &way_to(symbol, path_shape);
}

bool SymbolArea::covers(Point p) const {
  const Point q{(p.x - box_.centre.x) / box_.height, (p.y - box_.centre.y) / box_.height};
  switch (family_) {
    case SymbolFamily::digits:
      return on_glyph(*glyph_, q);
    case SymbolFamily::rings:
      return on_ring(gap_, q);
    case SymbolFamily::paths:
      return std::abs(q.x) <= 0.5 && std::abs(q.y) <= 0.5 &&
             is_within(*way_, path_width / 2, {q.x + 0.5, q.y + 0.5});
  }
  return false;
}

double template_correlation(std::string_view a, std::string_view b, std::size_t path_shape) {
  return product(template_of(a, path_shape), template_of(b, path_shape));
}

double stroke_in_cells(SymbolFamily family, Place place, int cells) {
  const double height = box_of(family, place).height / cell_side(cells);
  switch (family) {
    case SymbolFamily::digits:
      return 2 * Glyph{}.half_width * height;
    case SymbolFamily::rings:
      return ring_stroke * height;
    case SymbolFamily::paths:
      return path_width * height;
  }
  return 0;
}

Result<void> check_size(std::string_view symbol, Place place, int cells) {
  const auto family = family_of(symbol);
  expects(family.has_value());
  const double needed =
      *family == SymbolFamily::digits ? least_digit_stroke_in_cells : least_stroke_in_cells;
  const double stroke = stroke_in_cells(*family, place, cells);
  if (stroke >= needed) return {};
  // A stroke goes with the root of the number of cells.
  const double ratio = needed / stroke;
  const auto enough = static_cast<int>(std::ceil(cells * ratio * ratio));
  return fail(Error::Kind::unsupported,
              "the symbol '" + std::string(symbol) + "' at " + std::string(name_of(place)) +
                  " would be " + decimals(stroke, 2) + " cells wide of " + std::to_string(cells) +
                  " cells; " + decimals(needed, 0) + " are needed",
              "symbol", std::string(symbol),
              enough <= most_cells
                  ? "make the field of " + std::to_string(enough) + " cells or more"
                  : "use symbols of another family");
}

Result<std::vector<std::string>> chosen_digits(std::vector<std::string> chosen) {
  const auto refused = [&](Error::Kind kind, const std::string& why, const std::string& remedy) {
    return fail(kind, why, "symbols", joined(chosen, ","), remedy);
  };
  for (const std::string& one : chosen)
    if (!is_among(digits(), one))
      return refused(Error::Kind::usage, "'" + one + "' is not a digit",
                     "name digits, such as digits:1,2,4,7");
  std::sort(chosen.begin(), chosen.end());
  if (const auto twice = std::adjacent_find(chosen.begin(), chosen.end()); twice != chosen.end())
    return refused(Error::Kind::usage, "the digit " + *twice + " comes twice", "name it once");
  if (chosen.size() < 2)
    return refused(Error::Kind::usage, "one symbol leaves nothing to be told apart",
                   "name two digits or more, such as digits:1,2,4,7");
  for (std::size_t a = 0; a < chosen.size(); ++a)
    for (std::size_t b = 0; b < a; ++b) {
      const double correlation = template_correlation(chosen[a], chosen[b]);
      if (correlation < alike) continue;
      // The row that works and shares most digits with this one.
      std::vector<std::string> nearest;
      std::size_t most = 0;
      for (const auto& row : rows_of_digits(chosen.size())) {
        const auto shared = static_cast<std::size_t>(std::count_if(
            row.begin(), row.end(), [&](const std::string& s) { return is_among(chosen, s); }));
        if (!nearest.empty() && shared <= most) continue;
        nearest = row;
        most = shared;
      }
      return refused(Error::Kind::unsupported,
                     "the digits " + chosen[b] + " and " + chosen[a] +
                         " are too alike: their shapes correlate by " + decimals(correlation, 2) +
                         ", less than " + decimals(alike, 2) + " is needed",
                     "use digits:" + joined(nearest, ","));
    }
  return chosen;
}

Result<SymbolChoice> symbols_from(std::string_view text) {
  const std::size_t colon = text.find(':');
  COPUNCTAL_TRY(const SymbolFamily family, family_from(text.substr(0, colon)));
  if (colon == std::string_view::npos) return SymbolChoice{family, {}};
  if (family != SymbolFamily::digits)
    return fail(Error::Kind::usage, "only digits can be chosen one by one", "symbols",
                std::string(text), "use --symbols " + std::string(name_of(family)));
  const auto named = split(text.substr(colon + 1), ',');
  COPUNCTAL_TRY(auto digits, chosen_digits({named.begin(), named.end()}));
  return SymbolChoice{family, std::move(digits)};
}

std::vector<std::string> choose_symbols(SymbolFamily family, std::uint64_t seed,
                                        std::size_t count) {
  switch (family) {
    case SymbolFamily::digits: {
      const auto rows = rows_of_digits(count);
      RandomStream random(seed, 10);
      return rows[random.below(static_cast<std::uint32_t>(rows.size()))];
    }
    case SymbolFamily::rings:
      return ring_symbols(RandomStream(seed, 15).below(2) == 1);
    case SymbolFamily::paths:
      return gate_symbols();
  }
  return {};
}

}  // namespace copunctal
