#include "copunctal/reader/reader.h"

#include <algorithm>
#include <cmath>

#include <Eigen/Dense>

#include "copunctal/base/expects.h"
#include "copunctal/base/text.h"
#include "copunctal/colour/encoding.h"
#include "copunctal/plate/gate_path.h"
#include "copunctal/plate/symbols.h"

namespace copunctal {
namespace {

constexpr std::size_t all_draws = 4096;
constexpr std::size_t mechanisms = 3;

// Independent standard normal draws, the same for every plate and eye: draws x 3 x K.
const std::vector<float>& base_draws(std::size_t symbols) {
  constexpr std::size_t most_symbols = 16;
  expects(symbols <= most_symbols);
  static const std::vector<float> draws = [] {
    std::vector<float> values;
    values.reserve(all_draws * mechanisms * most_symbols);
    RandomStream random(0x636f70756e637461, 40);
    for (std::size_t i = 0; i < all_draws * mechanisms * most_symbols; ++i)
      values.push_back(static_cast<float>(random.normal()));
    return values;
  }();
  return draws;
}

bool in_quarter(Place place, Point p) {
  switch (place) {
    case Place::whole:
      return true;
    case Place::upper_left:
      return p.x < 0.5 && p.y < 0.5;
    case Place::lower_right:
      return p.x >= 0.5 && p.y >= 0.5;
    case Place::upper_right:
      return p.x >= 0.5 && p.y < 0.5;
    case Place::lower_left:
      return p.x < 0.5 && p.y >= 0.5;
  }
  return false;
}

}  // namespace

double SlotEvidence::strength(std::size_t symbol) const {
  const auto& m = match[symbol];
  return std::sqrt(m[0] * m[0] + m[1] * m[1] + m[2] * m[2]);
}

std::size_t SlotEvidence::best() const {
  std::size_t best = 0;
  for (std::size_t k = 1; k < match.size(); ++k)
    if (strength(k) > strength(best)) best = k;
  return best;
}

double PlateReader::own_strength(const SlotEvidence& evidence, std::size_t slot, std::size_t symbol,
                                 std::size_t beside) const {
  expects(slot < slots_.size() && symbol != beside);
  const double c = slots_[slot].correlation[symbol * symbols_.size() + beside];
  double sum = 0;
  for (std::size_t m = 0; m < mechanisms; ++m) {
    const double own =
        (evidence.match[symbol][m] - c * evidence.match[beside][m]) / std::sqrt(1 - c * c);
    sum += own * own;
  }
  return std::sqrt(sum);
}

PlateReader::PlateReader(const Elements& elements, std::vector<std::string> symbols,
                         const std::vector<Place>& places, const DiscriminationModel& model,
                         std::size_t path_shape)
    : symbols_(std::move(symbols)), model_(model) {
  codes_ = elements.class_codes;
  for (const Code& code : codes_) colours_.push_back(linear_from_codes(code));
  shares_.assign(colours_.size(), 0);
  for (const std::uint16_t c : elements.colour_class)
    shares_[c] += 1 / static_cast<double>(elements.colour_class.size());
  for (const Place place : places) slots_.push_back(prepared_slot(elements, place, path_shape));
}

PlateReader PlateReader::of(const Plate& plate, const std::vector<std::string>& symbols,
                            const DiscriminationModel& model) {
  return {elements_of(plate, mosaic_of(plate)), symbols, places_of(plate.figures), model,
          path_shape_of(plate.seed)};
}

PlateReader::Slot PlateReader::prepared_slot(const Elements& elements, Place place,
                                             std::size_t path_shape) const {
  const std::size_t symbols = symbols_.size(), classes = colours_.size();
  std::vector<std::size_t> inside;
  for (std::size_t i = 0; i < elements.centres.size(); ++i)
    if (in_quarter(place, elements.centres[i])) inside.push_back(i);
  const auto n = static_cast<Eigen::Index>(inside.size());
  expects(n > 1);

  // Templates: majority membership, zero mean, unit norm.
  Eigen::MatrixXd templates(static_cast<Eigen::Index>(symbols), n);
  for (std::size_t k = 0; k < symbols; ++k) {
    const SymbolArea area(symbols_[k], place, path_shape);
    for (Eigen::Index i = 0; i < n; ++i) {
      const auto& pixels = elements.pixels[inside[static_cast<std::size_t>(i)]];
      const auto on =
          std::count_if(pixels.begin(), pixels.end(), [&](Point p) { return area.covers(p); });
      templates(static_cast<Eigen::Index>(k), i) =
          2 * static_cast<std::size_t>(on) > pixels.size() ? 1 : 0;
    }
    auto row = templates.row(static_cast<Eigen::Index>(k));
    row.array() -= row.mean();
    if (const double norm = row.norm(); norm > 0) row /= norm;
  }

  Slot slot;
  slot.elements = static_cast<double>(n);
  slot.counts.assign(classes, 0);
  slot.weights.assign(symbols, std::vector<double>(classes, 0));
  for (Eigen::Index i = 0; i < n; ++i) {
    const std::size_t c = elements.colour_class[inside[static_cast<std::size_t>(i)]];
    ++slot.counts[c];
    for (std::size_t k = 0; k < symbols; ++k)
      slot.weights[k][c] += templates(static_cast<Eigen::Index>(k), i);
  }

  const Eigen::MatrixXd correlation =
      templates * templates.transpose() +
      1e-9 * Eigen::MatrixXd::Identity(templates.rows(), templates.rows());
  const Eigen::MatrixXd factor = correlation.llt().matrixL();
  for (Eigen::Index r = 0; r < factor.rows(); ++r)
    for (Eigen::Index c = 0; c < factor.cols(); ++c) {
      slot.correlation.push_back(correlation(r, c));
      slot.noise_factor.push_back(factor(r, c));
    }

  const std::vector<float>& base = base_draws(symbols);
  slot.noise.resize(all_draws * mechanisms * symbols);
  std::vector<double> blanks;
  for (std::size_t d = 0; d < all_draws; ++d) {
    std::vector<double> energy(symbols, 0);
    for (std::size_t m = 0; m < mechanisms; ++m)
      for (std::size_t k = 0; k < symbols; ++k) {
        double value = 0;
        for (std::size_t j = 0; j <= k; ++j)
          value += slot.noise_factor[k * symbols + j] *
                   static_cast<double>(base[(d * mechanisms + m) * 16 + j]);
        slot.noise[(d * mechanisms + m) * symbols + k] = static_cast<float>(value);
        energy[k] += value * value;
      }
    blanks.push_back(*std::max_element(energy.begin(), energy.end()));
  }
  // What a blank plate exceeds only blank_reading_rate of the time.
  const auto at = static_cast<std::ptrdiff_t>((1 - model_.blank_reading_rate) * all_draws);
  std::nth_element(blanks.begin(), blanks.begin() + at, blanks.end());
  slot.needed = std::sqrt(blanks[static_cast<std::size_t>(at)]);
  return slot;
}

std::size_t PlateReader::index_of(std::string_view symbol) const {
  const auto at = std::find(symbols_.begin(), symbols_.end(), symbol);
  expects(at != symbols_.end());
  return static_cast<std::size_t>(at - symbols_.begin());
}

std::vector<std::size_t> PlateReader::drawn_on(const Plate& plate) const {
  std::vector<std::size_t> drawn;
  for (const Figure& figure : plate.figures) drawn.push_back(index_of(figure.symbol));
  return drawn;
}

void PlateReader::set_model(const DiscriminationModel& model) {
  expects(model.blank_reading_rate == model_.blank_reading_rate);
  model_ = model;
}

void PlateReader::set_colours(std::vector<LinearRgb> colours) {
  expects(colours.size() == colours_.size());
  colours_ = std::move(colours);
}

void PlateReader::show_on(const CodeLight& light) {
  for (std::size_t c = 0; c < codes_.size(); ++c) colours_[c] = light.linear(codes_[c]);
}

std::vector<SlotEvidence> PlateReader::evidence(const Eye& eye) const {
  const std::size_t classes = colours_.size();
  ConeExcitation mean{};
  for (std::size_t c = 0; c < classes; ++c)
    mean = mean + shares_[c] * excitation_of(eye, colours_[c]);
  const Adaptation adaptation = adapted_to(eye, mean);
  std::array<std::vector<double>, mechanisms> signals;
  for (auto& of_mechanism : signals) of_mechanism.resize(classes);
  for (std::size_t c = 0; c < classes; ++c) {
    const OpponentSignal s = signal_of(eye, adaptation, colours_[c], model_);
    signals[0][c] = s.red_green;
    signals[1][c] = s.yellow_violet;
    signals[2][c] = s.luminance;
  }

  std::vector<SlotEvidence> result;
  for (const Slot& slot : slots_) {
    SlotEvidence evidence;
    evidence.needed = slot.needed;
    evidence.match.resize(symbols_.size());
    std::array<double, mechanisms> unexplained{};
    for (std::size_t m = 0; m < mechanisms; ++m) {
      double sum = 0, squares = 0;
      for (std::size_t c = 0; c < classes; ++c) {
        sum += slot.counts[c] * signals[m][c];
        squares += slot.counts[c] * signals[m][c] * signals[m][c];
      }
      const double variance = squares / slot.elements - std::pow(sum / slot.elements, 2);
      double explained = 0;
      for (std::size_t k = 0; k < symbols_.size(); ++k) {
        double projection = 0;
        for (std::size_t c = 0; c < classes; ++c) projection += slot.weights[k][c] * signals[m][c];
        evidence.match[k][m] = projection;
        explained = std::max(explained, projection * projection / slot.elements);
      }
      // What no symbol explains is external noise; the reader does not know which symbol is there.
      unexplained[m] = std::max(0.0, variance - explained);
    }
    for (std::size_t m = 0; m < mechanisms; ++m) {
      double noise = 1 + unexplained[m];
      for (std::size_t other = 0; other < mechanisms; ++other)
        if (other != m)
          noise += (other == 2 ? model_.masking_by_luminance : model_.masking_by_chromatic) *
                   unexplained[other];
      const double scale = std::sqrt(model_.efficiency / noise);
      for (auto& match : evidence.match) match[m] *= scale;
    }
    result.push_back(std::move(evidence));
  }
  return result;
}

std::vector<SlotReading> PlateReader::readings(const Eye& eye, std::size_t draws,
                                               std::size_t first_draw) const {
  expects(draws > 0);
  const std::vector<SlotEvidence> all = evidence(eye);
  const std::size_t symbols = symbols_.size();
  std::vector<SlotReading> result;
  for (std::size_t s = 0; s < slots_.size(); ++s) {
    const Slot& slot = slots_[s];
    std::vector<float> match(mechanisms * symbols);
    for (std::size_t k = 0; k < symbols; ++k)
      for (std::size_t m = 0; m < mechanisms; ++m)
        match[m * symbols + k] = static_cast<float>(all[s].match[k][m]);
    const auto limit = static_cast<float>(slot.needed * slot.needed);
    std::vector<std::size_t> counts(symbols + 1, 0);
    for (std::size_t d = 0; d < draws; ++d) {
      const float* noise = &slot.noise[((first_draw + d) % all_draws) * mechanisms * symbols];
      float best = limit;
      std::size_t answer = symbols;
      for (std::size_t k = 0; k < symbols; ++k) {
        const float a = match[k] + noise[k], b = match[symbols + k] + noise[symbols + k],
                    c = match[2 * symbols + k] + noise[2 * symbols + k];
        const float energy = a * a + b * b + c * c;
        if (energy >= best) {
          best = energy;
          answer = k;
        }
      }
      ++counts[answer];
    }
    // A lapse is any of the answers, evenly.
    const auto share = [&](std::size_t count) {
      return (1 - model_.lapse) * static_cast<double>(count) / static_cast<double>(draws) +
             model_.lapse / static_cast<double>(symbols + 1);
    };
    SlotReading reading;
    for (std::size_t k = 0; k < symbols; ++k) reading.reads.push_back(share(counts[k]));
    reading.nothing = share(counts[symbols]);
    result.push_back(std::move(reading));
  }
  return result;
}

double PlateReader::first_is_clearer(const Eye& eye, std::size_t draws,
                                     std::size_t first_draw) const {
  expects(draws > 0 && slots_.size() == 2);
  const std::vector<SlotEvidence> all = evidence(eye);
  const std::size_t symbols = symbols_.size();
  const auto strongest = [&](std::size_t s, std::size_t draw) {
    const float* noise = &slots_[s].noise[(draw % all_draws) * mechanisms * symbols];
    double best = 0;
    for (std::size_t k = 0; k < symbols; ++k) {
      double energy = 0;
      for (std::size_t m = 0; m < mechanisms; ++m) {
        const double value = all[s].match[k][m] + static_cast<double>(noise[m * symbols + k]);
        energy += value * value;
      }
      best = std::max(best, energy);
    }
    return best;
  };
  // The places' noise is independent: the second takes its draws from half way on.
  std::size_t first = 0;
  for (std::size_t d = 0; d < draws; ++d)
    first += strongest(0, first_draw + d) > strongest(1, first_draw + d + all_draws / 2);
  const double share = static_cast<double>(first) / static_cast<double>(draws);
  return (1 - model_.lapse) * share + model_.lapse / 2;
}

std::vector<int> PlateReader::sample(const Eye& eye, RandomStream& random) const {
  const std::vector<SlotEvidence> all = evidence(eye);
  const std::size_t symbols = symbols_.size();
  std::vector<int> answers;
  for (std::size_t s = 0; s < slots_.size(); ++s) {
    std::vector<double> energy(symbols, 0);
    for (std::size_t m = 0; m < mechanisms; ++m) {
      std::vector<double> base;
      for (std::size_t k = 0; k < symbols; ++k) base.push_back(random.normal());
      for (std::size_t k = 0; k < symbols; ++k) {
        double value = all[s].match[k][m];
        for (std::size_t j = 0; j <= k; ++j)
          value += slots_[s].noise_factor[k * symbols + j] * base[j];
        energy[k] += value * value;
      }
    }
    const auto best = std::max_element(energy.begin(), energy.end());
    answers.push_back(*best >= slots_[s].needed * slots_[s].needed
                          ? static_cast<int>(best - energy.begin())
                          : -1);
  }
  return answers;
}

double probability_of(const std::vector<SlotReading>& slots,
                      const std::vector<std::size_t>& answer) {
  expects(!slots.empty() && slots.size() <= 2 && answer.size() <= slots.size());
  const SlotReading& a = slots.front();
  if (slots.size() == 1) return answer.empty() ? a.nothing : a.reads[answer[0]];
  const SlotReading& b = slots.back();
  if (answer.empty()) return a.nothing * b.nothing;
  const std::size_t p = answer[0];
  if (answer.size() == 1)
    return a.reads[p] * b.nothing + a.nothing * b.reads[p] + a.reads[p] * b.reads[p];
  const std::size_t q = answer[1];
  return a.reads[p] * b.reads[q] + a.reads[q] * b.reads[p];
}

std::string margins_in_words(const SlotEvidence& evidence, std::size_t symbol) {
  const auto& match = evidence.match[symbol];
  const auto number = [](double v) {
    const std::string text = decimals(std::abs(v), 1);
    return text == "0.0" ? std::string("0") : text;
  };
  const bool visible = evidence.strength(symbol) >= evidence.needed;
  return "red–green " + number(match[0]) + ", yellow–violet " + number(match[1]) + ", luminance " +
         number(match[2]) + "; together " + number(evidence.strength(symbol)) + " of " +
         number(evidence.needed) + " needed: " + (visible ? "figure" : "no figure");
}

std::string margins_in_words(const PlateReader& reader, const Plate& plate, const Eye& eye) {
  const std::vector<SlotEvidence> evidence = reader.evidence(eye);
  expects(evidence.size() == places_of(plate.figures).size());
  std::vector<std::string> words;
  for (std::size_t f = 0; f < plate.figures.size(); ++f) {
    const std::string& symbol = plate.figures[f].symbol;
    words.push_back(
        symbol + ": " +
        margins_in_words(evidence[place_index(plate.figures, f)], reader.index_of(symbol)));
  }
  return joined(words, "; ");
}

}  // namespace copunctal
