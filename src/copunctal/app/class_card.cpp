#include "copunctal/app/class_card.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <map>

#include <nlohmann/json.hpp>

#include "copunctal/app/set_figures.h"
#include "copunctal/base/expects.h"
#include "copunctal/base/text.h"
#include "copunctal/inference/posterior.h"

namespace copunctal {
namespace {

using Json = nlohmann::ordered_json;

std::vector<std::size_t> drawn_places(const PlateSet& set, const Plate& plate) {
  const std::vector<std::string>& row = answer_row(set, plate);
  std::vector<std::size_t> places;
  for (const Figure& figure : plate.figures) {
    const auto at = std::find(row.begin(), row.end(), figure.symbol);
    expects(at != row.end());
    places.push_back(static_cast<std::size_t>(at - row.begin()));
  }
  std::sort(places.begin(), places.end());
  return places;
}

std::vector<std::string> drawn_symbols(const Plate& plate) {
  std::vector<std::string> drawn;
  for (const Figure& figure : plate.figures) drawn.push_back(figure.symbol);
  std::sort(drawn.begin(), drawn.end());
  return drawn;
}

// How much of a class stands at each point of the grid; sums to 1.
std::vector<double> weights_of(const ReadingTables& tables, const ClassExpected& expected) {
  const auto men = static_cast<double>(expected.men), women = static_cast<double>(expected.women);
  const auto of_men = kind_prior_men(), of_women = kind_prior_women();
  std::vector<double> weights(tables.grid().size(), 0);
  for (std::size_t k = 0; k < all_red_green_blue_kinds.size(); ++k) {
    const double share = (men * of_men[k] + women * of_women[k]) / (men + women);
    const std::vector<double> within = separation_prior(tables, all_red_green_blue_kinds[k]);
    std::size_t next = 0;
    for (std::size_t g = 0; g < weights.size(); ++g)
      if (tables.grid()[g].kind == all_red_green_blue_kinds[k]) weights[g] = share * within[next++];
  }
  return weights;
}

bool is_red_green(ObserverKind kind) {
  return kind == ObserverKind::protan || kind == ObserverKind::deutan;
}

std::size_t point_of(const ReadingTables& tables, const std::string& observer) {
  const std::string name = observer == "own" ? "normal" : observer;
  for (std::size_t g = 0; g < tables.grid().size(); ++g)
    if (tables.grid()[g].name == name) return g;
  return tables.grid().size();
}

double share_of(const CardPlate& plate, const ReadingTables& tables, const std::string& observer) {
  const std::size_t point = point_of(tables, observer);
  return point < plate.by_observer.size() ? plate.by_observer[point] : plate.of_class;
}

// Answers against the probabilities they had.
class Scores {
 public:
  void add(double p, bool was_read) {
    const double of_it = was_read ? p : 1 - p;
    bits_ -= std::log2(of_it);
    expected_ -= p * std::log2(p) + (1 - p) * std::log2(1 - p);
    ++answers_;
    Bin& bin = bins_[std::min<std::size_t>(static_cast<std::size_t>(p * bins), bins - 1)];
    bin.sum += p;
    ++bin.of;
    bin.as_drawn += was_read ? 1 : 0;
  }
  CardScore score() const {
    CardScore score;
    score.answers = answers_;
    if (answers_ == 0) return score;
    const auto count = static_cast<double>(answers_);
    score.bits = bits_ / count;
    score.expected = expected_ / count;
    for (std::size_t b = 0; b < bins; ++b)
      if (bins_[b].of > 0)
        score.bins.push_back({static_cast<double>(b) / bins, static_cast<double>(b + 1) / bins,
                              bins_[b].sum / static_cast<double>(bins_[b].of),
                              read_share(bins_[b].as_drawn, bins_[b].of)});
    return score;
  }

 private:
  static constexpr std::size_t bins = 5;
  struct Bin {
    double sum = 0;
    std::int64_t of = 0, as_drawn = 0;
  };
  std::int64_t answers_ = 0;
  double bits_ = 0, expected_ = 0;
  std::array<Bin, bins> bins_{};
};

std::optional<LoanRoc> roc_of(const std::vector<std::int64_t>& with,
                              const std::vector<std::int64_t>& without, std::int64_t plates) {
  if (static_cast<std::int64_t>(std::min(with.size(), without.size())) < 2 * smallest_cell)
    return std::nullopt;
  LoanRoc roc;
  roc.with = static_cast<std::int64_t>(with.size());
  roc.without = static_cast<std::int64_t>(without.size());
  const auto share = [](const std::vector<std::int64_t>& group, std::int64_t misses) {
    return static_cast<double>(std::count_if(group.begin(), group.end(),
                                             [&](std::int64_t one) { return one >= misses; })) /
           static_cast<double>(group.size());
  };
  for (std::int64_t k = 1; k <= plates; ++k)
    roc.points.push_back({k, share(with, k), share(without, k)});
  // A person's misses are known: all of the distribution at one number.
  const auto known = [&](const std::vector<std::int64_t>& group) {
    std::vector<std::vector<double>> all;
    for (const std::int64_t one : group) {
      all.emplace_back(static_cast<std::size_t>(plates) + 1, 0.0);
      all.back()[static_cast<std::size_t>(one)] = 1;
    }
    return all;
  };
  const RocArea area = roc_area(known(with), known(without));
  roc.area = area.area;
  roc.error = area.error;
  return roc;
}

}  // namespace

std::int64_t first_round_misses(const PlateSet& set, const std::vector<PlateReading>& readings) {
  return std::count_if(readings.begin(), readings.end(), [&](const PlateReading& reading) {
    const Plate& plate = set.plates[reading.plate];
    return plate.kind == PlateKind::vanishing && !reading.interrupted &&
           !read_as_drawn(plate, reading.symbols);
  });
}

Result<PredictionCard> predicted_class(const PlateSet& set, const ReadingTables& tables,
                                       const ClassExpected& expected, std::string made_utc) {
  PredictionCard card;
  card.first_round = std::count_if(set.plates.begin(), set.plates.end(), [](const Plate& plate) {
    return plate.kind == PlateKind::vanishing;
  });
  constexpr std::int64_t most_people = 1000;
  if (expected.men < 0 || expected.women < 0 || expected.men + expected.women < 1 ||
      expected.men + expected.women > most_people)
    return fail(Error::Kind::bad_input, "a class has 1 to 1000 people", "men", "",
                "say how many men and women are expected");
  if (expected.misses < 1 || expected.misses > card.first_round)
    return fail(Error::Kind::bad_input,
                "the rule must be met by 1 to " + std::to_string(card.first_round) + " misses",
                "misses", "", "choose a number of misses within the first round");
  card.set_hash = set.hash;
  card.display = set.display;
  card.made_utc = std::move(made_utc);
  card.expected = expected;
  for (const GridPoint& point : tables.grid()) card.observers.push_back(point.name);
  const std::vector<double> weights = weights_of(tables, expected);
  const std::size_t individuals = tables.individuals();
  const double one = 1 / static_cast<double>(individuals);
  // Misses of each individual at each point, plate by plate of the first round.
  std::vector<std::vector<std::vector<double>>> misses(
      weights.size(), std::vector<std::vector<double>>(individuals));
  for (std::size_t p = 0; p < set.plates.size(); ++p) {
    const Plate& plate = set.plates[p];
    CardPlate row;
    row.plate = static_cast<std::int64_t>(p);
    row.name = plate.name;
    row.kind = name_of(plate.kind);
    row.drawn = drawn_symbols(plate);
    row.for_everybody = plate.kind != PlateKind::fork;
    const auto places = drawn_places(set, plate);
    for (std::size_t g = 0; g < weights.size(); ++g) {
      double mean = 0;
      for (std::size_t i = 0; i < individuals; ++i) {
        const double read = probability_with_slips(tables, g, i, p, places);
        mean += one * read;
        if (plate.kind == PlateKind::vanishing) misses[g][i].push_back(1 - read);
      }
      row.by_observer.push_back(mean);
      row.of_class += weights[g] * mean;
    }
    card.plates.push_back(std::move(row));
  }
  const auto people = static_cast<double>(expected.men + expected.women);
  for (std::size_t g = 0; g < weights.size(); ++g) {
    double meets = 0;
    for (const auto& each : misses[g]) {
      const std::vector<double> counts = misses_of(each);
      for (auto k = static_cast<std::size_t>(expected.misses); k < counts.size(); ++k)
        meets += one * counts[k];
    }
    const bool has_it = is_red_green(tables.grid()[g].kind);
    card.deficient += has_it ? people * weights[g] : 0;
    (has_it ? card.hits : card.false_alarms) += people * weights[g] * meets;
  }
  return card;
}

std::string card_json(const PredictionCard& card) {
  // What is sealed is what is printed: four decimals.
  const auto rounded = [](double v) { return std::round(v * 1e4) / 1e4; };
  Json plates = Json::array();
  for (const CardPlate& plate : card.plates) {
    Json by_observer = Json::object();
    for (std::size_t o = 0; o < card.observers.size(); ++o)
      by_observer[card.observers[o]] = rounded(plate.by_observer[o]);
    plates.push_back({{"plate", plate.plate},
                      {"name", plate.name},
                      {"kind", plate.kind},
                      {"drawn", plate.drawn},
                      {"for_everybody", plate.for_everybody},
                      {"of_class", rounded(plate.of_class)},
                      {"by_observer", std::move(by_observer)}});
  }
  return Json{
      {"set_hash", card.set_hash},           {"display", card.display},
      {"made_utc", card.made_utc},           {"men", card.expected.men},
      {"women", card.expected.women},        {"misses", card.expected.misses},
      {"first_round", card.first_round},     {"expected_deficient", rounded(card.deficient)},
      {"expected_hits", rounded(card.hits)}, {"expected_false_alarms", rounded(card.false_alarms)},
      {"plates", std::move(plates)},         {"intended_use", intended_use()}}
      .dump();
}

ReadShare read_share(std::int64_t as_drawn, std::int64_t of) {
  ReadShare share{.of = of, .as_drawn = std::nullopt, .nearly = ReadShare::Nearly::no};
  if (of < 2 * smallest_cell)
    share.nearly = ReadShare::Nearly::too_few;
  else if (as_drawn < smallest_cell)
    share.nearly = ReadShare::Nearly::none;
  else if (of - as_drawn < smallest_cell)
    share.nearly = ReadShare::Nearly::all;
  else
    share.as_drawn = as_drawn;
  return share;
}

ClassDebrief class_debrief(const PlateSet& set, const ReadingTables& tables,
                           const PredictionCard& card, const std::vector<ClassSitting>& sittings) {
  ClassDebrief result;
  std::map<std::string, std::vector<const ClassSitting*>> lent;
  std::int64_t own_meet = 0;
  std::vector<std::int64_t> with, without;
  for (const ClassSitting& sitting : sittings) {
    const std::int64_t misses = first_round_misses(set, sitting.readings);
    if (sitting.lent.empty()) {
      ++result.own;
      own_meet += misses >= card.expected.misses ? 1 : 0;
      continue;
    }
    ++result.on_loan;
    lent[sitting.lent].push_back(&sitting);
    const std::size_t point = point_of(tables, sitting.lent);
    if (sitting.lent == "own")
      without.push_back(misses);
    else if (point < tables.grid().size() && is_red_green(tables.grid()[point].kind))
      with.push_back(misses);
  }
  result.meet_rule = read_share(own_meet, result.own);
  result.roc = roc_of(with, without, card.first_round);

  Scores own, loans;
  for (const CardPlate& plate : card.plates) {
    const auto number = static_cast<std::size_t>(plate.plate);
    expects(number < set.plates.size());
    const auto counted = [&](const ClassSitting& sitting, std::int64_t& as_drawn,
                             std::int64_t& of) {
      for (const PlateReading& reading : sitting.readings) {
        if (reading.plate != number || reading.interrupted) continue;
        const bool was_read = read_as_drawn(set.plates[number], reading.symbols);
        ++of;
        as_drawn += was_read ? 1 : 0;
        if (!plate.for_everybody) continue;
        if (sitting.lent.empty())
          own.add(plate.of_class, was_read);
        else if (sitting.lent != "own")
          loans.add(share_of(plate, tables, sitting.lent), was_read);
      }
    };
    ClassPlate shown{.name = plate.name,
                     .kind = plate.kind,
                     .drawn = plate.drawn,
                     .predicted = plate.of_class,
                     .own = {},
                     .loans = {}};
    std::int64_t as_drawn = 0, of = 0;
    for (const ClassSitting& sitting : sittings)
      if (sitting.lent.empty()) counted(sitting, as_drawn, of);
    shown.own = read_share(as_drawn, of);
    for (const auto& [observer, people] : lent) {
      std::int64_t read = 0, asked = 0;
      for (const ClassSitting* sitting : people) counted(*sitting, read, asked);
      if (asked == 0) continue;
      shown.loans.push_back(
          {observer, share_of(plate, tables, observer),
           observer == "own"
               ? read_share(read, asked)
               : ReadShare{.of = asked, .as_drawn = read, .nearly = ReadShare::Nearly::no}});
    }
    result.plates.push_back(std::move(shown));
  }
  if (result.own >= 2 * smallest_cell) result.own_score = own.score();
  result.loan_score = loans.score();

  for (const auto& [observer, people] : lent) {
    if (observer == "own") continue;  // of these there is no verdict for others to see
    LoanVerdicts row{observer, 0, 0, {}};
    std::map<std::string, std::int64_t> verdicts;
    for (const ClassSitting* sitting : people) {
      ++row.sittings;
      row.meet_rule += first_round_misses(set, sitting->readings) >= card.expected.misses ? 1 : 0;
      const Debrief outcome = debrief(set, tables, sitting->readings, std::nullopt);
      ++verdicts[outcome.interpretable ? outcome.verdict : "not interpretable"];
    }
    row.verdicts.assign(verdicts.begin(), verdicts.end());
    result.verdicts.push_back(std::move(row));
  }
  return result;
}

}  // namespace copunctal
