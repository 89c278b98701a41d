#include "copunctal/reader/crowd.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <mutex>
#include <numbers>

#include "copunctal/base/expects.h"
#include "copunctal/base/parallel.h"
#include "copunctal/display/population_map.h"
#include "copunctal/observer/media.h"
#include "copunctal/observer/pigment.h"
#include "copunctal/reader/crowd_kernel.h"

namespace copunctal {
namespace {

constexpr std::uint32_t blocks_at_once = 64;  ///< Given to a thread at a time.

std::size_t slots_in(const std::vector<CrowdPlate>& plates) {
  std::size_t slots = 0;
  for (const CrowdPlate& plate : plates) slots += plate.slots.size();
  return slots;
}

CrowdModel model_of(const DiscriminationModel& model, const Eye& nominal) {
  const auto f = [](double value) { return static_cast<float>(value); };
  CrowdModel m;
  m.rg_pedestal = f(model.rg_pedestal);
  m.rg_scale = f(1 / (model.mosaic_factor * model.rg_noise * nominal.red_green_noise));
  m.rg_gain = f(nominal.red_green_gain);
  m.yv_pedestal = f(model.yv_pedestal);
  m.yv_scale = f(1 / (model.mosaic_factor * model.yv_noise));
  m.s_offset = f(model.s_offset);
  m.luminance_scale = f(1 / model.luminance_noise);
  m.efficiency = f(model.efficiency);
  m.masking_by_luminance = f(model.masking_by_luminance);
  m.masking_by_chromatic = f(model.masking_by_chromatic);
  m.lapse_below = static_cast<std::int32_t>(std::lround(model.lapse * 0x1p30));
  // A touch below the exact quotient, so that rounding cannot reach the answer beyond the last.
  for (std::size_t k = 0; k < m.answers_per_lapse.size(); ++k)
    m.answers_per_lapse[k] =
        m.lapse_below > 0 ? f((static_cast<double>(k) + 0.99999) / m.lapse_below) : 0.0F;
  m.has_red_green = nominal.has_red_green;
  m.has_yellow_violet = nominal.has_yellow_violet;
  return m;
}

}  // namespace

/// What the kernel needs of prepared readers.
struct CrowdTasks {
  static void set_model(PlateReader& reader, const DiscriminationModel& model) {
    reader.model_ = model;
  }

  static CrowdPlate plate_of(const PlateReader& reader, std::uint32_t& next_slot) {
    const auto f = [](double value) { return static_cast<float>(value); };
    CrowdPlate plate;
    expects(reader.colours_.size() <= crowd_most_classes &&
            reader.symbols_.size() <= crowd_most_symbols);
    LinearRgb mean{};
    for (std::size_t c = 0; c < reader.colours_.size(); ++c) {
      const LinearRgb& colour = reader.colours_[c];
      plate.colours.push_back({f(colour.r), f(colour.g), f(colour.b)});
      mean = mean + reader.shares_[c] * colour;
    }
    plate.mean_colour = {f(mean.r), f(mean.g), f(mean.b)};
    for (const PlateReader::Slot& from : reader.slots_) {
      CrowdSlot slot;
      slot.symbols = reader.symbols_.size();
      slot.padded = (slot.symbols + 3) / 4 * 4;
      for (std::size_t c = 0; c < from.counts.size(); ++c) {
        if (from.counts[c] == 0) continue;
        slot.class_of.push_back(c);
        slot.counts.push_back(f(from.counts[c] / from.elements));
        for (std::size_t k = 0; k < slot.padded; ++k)
          slot.weights.push_back(k < slot.symbols ? f(from.weights[k][c]) : 0.0F);
      }
      slot.classes = slot.class_of.size();
      slot.inverse_elements = f(1 / from.elements);
      slot.limit = f(from.needed * from.needed);
      for (const double factor : from.noise_factor) slot.noise_factor.push_back(f(factor));
      slot.number = next_slot++;
      plate.slots.push_back(std::move(slot));
    }
    return plate;
  }

  static bool is_exact_needed(const PopulationMap& map, const Observer& o) {
    return map.is_exact_needed(o);
  }

  // The map's tables in float; none for kinds that have no map.
  static CrowdMap map_of(const PopulationMap& map, const Observer& centre) {
    CrowdMap tables;
    if (map.is_exact_needed(centre)) return tables;
    const auto f = [](double value) { return static_cast<float>(value); };
    // What the nominal observer's cones get from each node's wavelength, at most of any primary.
    std::array<std::array<double, PopulationMap::nodes>, 3> light{};
    std::array<double, 3> total{};
    const double lens = centre.lens_factor, macula = centre.macula_factor;
    for (std::size_t j = 0; j < PopulationMap::nodes; ++j)
      for (std::size_t k = 0; k < 3; ++k) {
        const double media =
            std::pow(10, -lens * (map.ageing_[j] + map.fixed_[j]) - macula * map.macula_[j]);
        const double absorbed =
            1 - std::pow(10, -0.5 * std::pow(10, map.cones_[k].log_absorbance[0][j]));
        for (std::size_t p = 0; p < 3; ++p)
          light[k][j] = std::max(light[k][j], media * absorbed * std::abs(map.weights_[p][j]));
        total[k] += light[k][j];
      }
    for (std::size_t j = 0; j < PopulationMap::nodes; ++j) {
      CrowdMap::Node node{f(map.ageing_[j]), f(map.fixed_[j]), f(map.macula_[j]), {}};
      for (std::size_t k = 0; k < 3; ++k) {
        CrowdMap::Cone& cone = node.cones[k];
        for (std::size_t c = 0; c < 5; ++c)
          cone.ln_absorbance[c] = f(std::numbers::ln10 * map.cones_[k].log_absorbance[c][j]);
        for (std::size_t p = 0; p < 3; ++p) cone.weights[p] = f(map.weights_[p][j]);
        cone.matters = light[k][j] > 1e-7 * total[k];
      }
      tables.nodes.push_back(node);
    }
    return tables;
  }

  // As PopulationMap::operator() sets out.
  static void map_inputs(const Observer& o, CrowdBodies& bodies, std::size_t i) {
    const auto f = [](double value) { return static_cast<float>(value); };
    bodies.lens[i] = f(o.lens_factor * pupil_factor(o.pupil));
    bodies.ageing[i] = f(lens_ageing_factor(valid_age(o.age)));
    bodies.macula[i] = f(o.macula_factor * macular_peak(o.field).log10);
    bodies.density[0][i] = f(o.density_l->log10);
    bodies.density[1][i] = f(o.density_m->log10);
    bodies.density[2][i] = f(o.s_density_factor * o.density_s->log10);
    constexpr double unit_nm = PopulationMap::shift_unit_nm;
    bodies.shift[0][i] = f(o.shift_l.nm / unit_nm);
    bodies.shift[1][i] = f(o.shift_m.nm / unit_nm);
    bodies.shift[2][i] = f(o.shift_s.nm / unit_nm);
  }

  // The twin: sample() of reader.cpp with the kernel's random words, and lapses.
  static std::uint8_t answer_of(const PlateReader& reader, std::size_t s,
                                const SlotEvidence& evidence, double lapse, RandomStream words) {
    const PlateReader::Slot& slot = reader.slots_[s];
    const std::size_t symbols = reader.symbols_.size();
    std::vector<double> deviates;
    std::uint32_t bits = 0;
    for (std::size_t i = 0; 2 * i < 3 * symbols; ++i) {
      const std::uint32_t radius_word = words.bits32(), angle_word = words.bits32();
      const double radius = std::sqrt(-2 * std::log(((radius_word >> 1) + 0.5) * 0x1p-31)),
                   angle = 2 * std::numbers::pi * (angle_word >> 10) * 0x1p-22;
      deviates.push_back(radius * std::cos(angle));
      deviates.push_back(radius * std::sin(angle));
      if (i < 3) bits = bits << 10 | (angle_word & 1023);
    }
    std::vector<double> energy(symbols, 0);
    for (std::size_t m = 0; m < 3; ++m)
      for (std::size_t k = 0; k < symbols; ++k) {
        double value = evidence.match[k][m];
        for (std::size_t j = 0; j <= k; ++j)
          value += slot.noise_factor[k * symbols + j] * deviates[m * symbols + j];
        energy[k] += value * value;
      }
    if (bits < lapse * 0x1p30)
      return static_cast<std::uint8_t>(bits / (lapse * 0x1p30) * static_cast<double>(symbols + 1));
    const auto best = std::max_element(energy.begin(), energy.end());
    return static_cast<std::uint8_t>(*best >= slot.needed * slot.needed
                                         ? static_cast<std::size_t>(best - energy.begin())
                                         : symbols);
  }
};

struct Crowd::Parts {
  std::vector<CrowdPlate> plates;
  Observer centre;
  DiscriminationModel model;
  PopulationSpread spread;
  PopulationMap map;
  Eye nominal;
  CrowdModel constants;
  CrowdMap tables;

  /// A block's eyes: bodies as individual() draws them, matrices by PopulationMap.
  void fill(const CrowdJob& job, CrowdEyes& eyes, Width width) const {
    CrowdBodies bodies;  // NOLINT(cppcoreguidelines-pro-type-member-init): filled at once
    crowd_draw(job, bodies, eyes, width);
    const double long_wave = long_wave_pigment_density(centre.field).log10,
                 short_wave = short_wave_pigment_density(centre.field).log10;
    std::array<Observer, crowd_block> all;
    all.fill(centre);
    for (std::size_t i = 0; i < crowd_block; ++i) {
      Observer& o = all[i];
      const auto part = [&](std::size_t j) { return static_cast<double>(bodies.part[j][i]); };
      const auto factor = [&](std::size_t j, double sd) {
        return std::max(0.05, 1 + sd * part(j));
      };
      o.age = {spread.youngest + (spread.oldest - spread.youngest) * part(0)};
      o.lens_factor *= factor(1, spread.lens);
      o.macula_factor *= factor(2, spread.macula);
      o.density_l = {long_wave * factor(3, spread.density_l)};
      o.density_m = {long_wave * factor(4, spread.density_m)};
      o.density_s = {short_wave * factor(5, spread.density_s)};
      o.shift_l = {spread.peak_l_nm * part(6)};
      o.shift_m = {spread.peak_m_nm * part(7)};
      o.shift_s = {spread.peak_s_nm * part(8)};
      if (o.separation.nm == 0 && o.kind == ObserverKind::protan) {
        o.shift_l = o.shift_m;
        o.density_l = o.density_m;
      }
      if (o.separation.nm == 0 && o.kind == ObserverKind::deutan) {
        o.shift_m = o.shift_l;
        o.density_m = o.density_l;
      }
      CrowdTasks::map_inputs(o, bodies, i);
    }
    if (!tables.nodes.empty()) crowd_map(tables, bodies, eyes, width);
    for (std::size_t i = 0; i < crowd_block; ++i) {
      // One in a million has a shift beyond the tables; some kinds have no tables.
      if (!tables.nodes.empty() && !CrowdTasks::is_exact_needed(map, all[i])) continue;
      const auto lms = map(all[i]);
      for (std::size_t row = 0; row < 3; ++row)
        for (std::size_t p = 0; p < 3; ++p)
          eyes.lms[3 * row + p][i] = static_cast<float>(lms.rows[row][p]);
    }
    eyes.veil = {static_cast<float>(nominal.veil.l), static_cast<float>(nominal.veil.m),
                 static_cast<float>(nominal.veil.s)};
  }

  /// Calls `take(tally, first observer, how many of the block count, answers, clearer)` for every
  /// block, in any order, from several threads, with a tally that `finish` starts and ends for a
  /// run of blocks.
  template <class Take, class Finish>
  void run(std::uint32_t count, std::uint64_t seed, unsigned threads, Width width, const Take& take,
           const Finish& finish) const {
    const auto blocks = static_cast<std::uint32_t>((count + crowd_block - 1) / crowd_block);
    const double logit = std::log(model.l_weight / (1 - model.l_weight));
    parallel_for(
        (blocks + blocks_at_once - 1) / blocks_at_once,
        [&](std::size_t chunk) {
          std::vector<std::uint8_t> answers(slots_in(plates) * crowd_block),
              clearer(plates.size() * crowd_block);
          CrowdEyes eyes;  // NOLINT(cppcoreguidelines-pro-type-member-init): filled below
          auto tally = finish.start();
          const auto from = static_cast<std::uint32_t>(chunk) * blocks_at_once;
          for (std::uint32_t b = from; b < std::min(blocks, from + blocks_at_once); ++b) {
            const auto first = static_cast<std::uint32_t>(b * crowd_block);
            const CrowdJob job{&plates,
                               &constants,
                               seed,
                               first,
                               static_cast<float>(logit),
                               static_cast<float>(model.l_weight_sd),
                               static_cast<float>(model.sensitivity_sd * std::numbers::ln10)};
            fill(job, eyes, width);
            crowd_read(job, eyes, answers.data(), clearer.data(), width);
            take(tally, first, std::min<std::size_t>(crowd_block, count - first), answers, clearer);
          }
          finish.end(tally);
        },
        threads);
  }
};

std::uint64_t CrowdCounts::total() const {
  std::uint64_t sum = 0;
  for (const std::uint64_t n : answers) sum += n;
  return sum;
}

std::uint64_t CrowdCounts::reads(std::size_t slot, std::size_t symbol) const {
  expects(slot < slots && symbol <= symbols);
  if (slots == 1) return answers[symbol];
  std::uint64_t sum = 0;
  for (std::size_t other = 0; other <= symbols; ++other)
    sum += slot == 0 ? answers[symbol * (symbols + 1) + other]
                     : answers[other * (symbols + 1) + symbol];
  return sum;
}

Crowd::Crowd(const std::vector<PlateReader>& readers, const Observer& centre,
             const Display& display, const DiscriminationModel& model,
             const PopulationSpread& spread)
    : parts_(new Parts{{},
                       centre,
                       model,
                       spread,
                       PopulationMap(centre, display),
                       nominal_eye(centre, display, model),
                       {},
                       {}}) {
  parts_->constants = model_of(model, parts_->nominal);
  parts_->tables = CrowdTasks::map_of(parts_->map, centre);
  std::uint32_t slot = 0;
  for (const PlateReader& reader : readers)
    parts_->plates.push_back(CrowdTasks::plate_of(reader, slot));
}
Crowd::~Crowd() = default;
Crowd::Crowd(Crowd&&) noexcept = default;
Crowd& Crowd::operator=(Crowd&&) noexcept = default;

std::vector<CrowdCounts> Crowd::counts(std::uint32_t count, std::uint64_t seed, unsigned threads,
                                       Width width) const {
  std::vector<CrowdCounts> total;
  for (const CrowdPlate& plate : parts_->plates) {
    CrowdCounts& one = total.emplace_back();
    one.symbols = plate.slots.front().symbols;
    one.slots = plate.slots.size();
    const std::size_t answers = one.symbols + 1;
    one.answers.assign(one.slots == 1 ? answers : answers * answers, 0);
  }
  const std::vector<CrowdCounts> none = total;
  struct Merge {
    std::vector<CrowdCounts>& total;
    const std::vector<CrowdCounts>& none;
    mutable std::mutex lock = {};
    std::vector<CrowdCounts> start() const { return none; }
    // Sums of whole numbers: the order in which threads come does not matter.
    void end(const std::vector<CrowdCounts>& tally) const {
      const std::scoped_lock held(lock);
      for (std::size_t p = 0; p < tally.size(); ++p) {
        for (std::size_t a = 0; a < tally[p].answers.size(); ++a)
          total[p].answers[a] += tally[p].answers[a];
        total[p].first_clearer += tally[p].first_clearer;
      }
    }
  };
  parts_->run(
      count, seed, threads, width,
      [&](std::vector<CrowdCounts>& tally, std::uint32_t, std::size_t inside,
          const std::vector<std::uint8_t>& answers, const std::vector<std::uint8_t>& clearer) {
        std::size_t slot = 0;
        for (std::size_t p = 0; p < tally.size(); ++p) {
          CrowdCounts& to = tally[p];
          const std::uint8_t* a = &answers[slot * crowd_block];
          if (to.slots == 1) {
            for (std::size_t i = 0; i < inside; ++i) ++to.answers[a[i]];
          } else {
            for (std::size_t i = 0; i < inside; ++i) {
              ++to.answers[a[i] * (to.symbols + 1) + a[crowd_block + i]];
              to.first_clearer += clearer[p * crowd_block + i];
            }
          }
          slot += to.slots;
        }
      },
      Merge{total, none});
  return total;
}

CrowdReadings Crowd::readings(std::uint32_t count, std::uint64_t seed, unsigned threads,
                              Width width) const {
  CrowdReadings result;
  result.observers = count;
  std::size_t slots = 0;
  for (const CrowdPlate& plate : parts_->plates) {
    result.first_slot.push_back(slots);
    slots += plate.slots.size();
  }
  result.first_slot.push_back(slots);
  result.answers.resize(slots * count);
  struct Nothing {
    int start() const { return 0; }
    void end(int) const {}
  };
  parts_->run(
      count, seed, threads, width,
      [&](int, std::uint32_t first, std::size_t inside, const std::vector<std::uint8_t>& answers,
          const std::vector<std::uint8_t>&) {
        for (std::size_t s = 0; s < slots; ++s)
          std::copy_n(&answers[s * crowd_block], inside, &result.answers[s * count + first]);
      },
      Nothing{});
  return result;
}

PlainCrowd::PlainCrowd(std::vector<PlateReader> readers, const Observer& centre,
                       const Display& display, const DiscriminationModel& model,
                       const PopulationSpread& spread)
    : readers_(std::move(readers)),
      centre_(centre),
      model_(model),
      spread_(spread),
      map_(centre, display),
      individuals_(centre, display, model) {
  for (PlateReader& reader : readers_) CrowdTasks::set_model(reader, model);
}

std::vector<std::uint8_t> PlainCrowd::readings(std::uint32_t observer, std::uint64_t seed) const {
  Eye eye = individuals_(seed, observer);
  eye.lms = map_(individual(centre_, seed, observer, spread_));
  std::vector<std::uint8_t> result;
  for (const PlateReader& reader : readers_) {
    const std::vector<SlotEvidence> evidence = reader.evidence(eye);
    for (std::size_t s = 0; s < evidence.size(); ++s) {
      const auto number = static_cast<std::uint32_t>(result.size());
      result.push_back(CrowdTasks::answer_of(reader, s, evidence[s], model_.lapse,
                                             RandomStream(seed, 3, observer, number)));
    }
  }
  return result;
}

std::vector<CrowdCounts> crowd_answers(const std::vector<PlateReader>& readers,
                                       const Observer& centre, const Display& display,
                                       std::uint32_t count, std::uint64_t seed, unsigned threads) {
  return Crowd(readers, centre, display).counts(count, seed, threads);
}

PredictedReading reading_of(const CrowdCounts& counts, const std::vector<std::size_t>& drawn,
                            double lapse) {
  expects(!drawn.empty() && drawn.size() <= 2 && drawn.size() >= counts.slots);
  const auto n = static_cast<double>(counts.total());
  const auto share = [&](std::uint64_t count) { return static_cast<double>(count) / n; };
  PredictedReading reading;
  reading.intended = share(counts.reads(0, drawn[0]));
  if (counts.slots == 1) {
    reading.nothing = share(counts.reads(0, counts.symbols));
    if (drawn.size() == 2) reading.second = share(counts.reads(0, drawn[1]));
    reading.other = 1 - reading.intended - reading.second - reading.nothing;
  } else {
    reading.second = share(counts.reads(1, drawn[1]));
    reading.nothing = share(counts.answers.back());
    double as_drawn_or_nothing = 0;
    for (const std::size_t a : {drawn[0], counts.symbols})
      for (const std::size_t b : {drawn[1], counts.symbols})
        as_drawn_or_nothing += share(counts.answers[a * (counts.symbols + 1) + b]);
    reading.other = 1 - as_drawn_or_nothing;
    reading.first_clearer = (1 - lapse) * share(counts.first_clearer) + lapse / 2;
  }
  for (std::size_t s = 0; s < counts.slots; ++s) {
    SlotReading& place = reading.places.emplace_back();
    for (std::size_t k = 0; k < counts.symbols; ++k)
      place.reads.push_back(share(counts.reads(s, k)));
    place.nothing = share(counts.reads(s, counts.symbols));
  }
  for (const double p : {reading.intended, reading.second, reading.nothing, reading.other})
    reading.mc_error = std::max(reading.mc_error, std::sqrt(p * (1 - p) / n));
  return reading;
}

}  // namespace copunctal
