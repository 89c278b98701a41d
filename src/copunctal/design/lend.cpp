#include "copunctal/design/lend.h"

#include <algorithm>
#include <cmath>

#include "copunctal/base/text.h"
#include "copunctal/design/colouring.h"
#include "copunctal/design/optimise.h"

namespace copunctal {

namespace {

double largest_difference(const PredictedReading& a, const PredictedReading& b) {
  double largest = 0;
  for (const auto field : {&PredictedReading::intended, &PredictedReading::second,
                           &PredictedReading::nothing, &PredictedReading::other})
    largest = std::max(largest, std::abs(a.*field - b.*field));
  return largest;
}

}  // namespace

Result<Lent> lent_observer(const std::string& observer, const Display& display, unsigned threads) {
  COPUNCTAL_TRY(const Observer who, observer_from(observer));
  COPUNCTAL_TRY(const Loan loan, Loan::make(who, display, DiscriminationModel{}.l_weight));
  constexpr std::size_t individuals = 400;
  return Lent{name_of(who), loan, fresh_eyes(who, display, individuals, threads),
              fresh_eyes(Observer{}, display, individuals, threads)};
}

Result<LentCodes> lend(const Plate& plate, const std::vector<LinearRgb>& colours,
                       const PlateReader& itself, const Lent& lent, const CodeLight& light) {
  const std::size_t levels = colours.size() / parts_of(plate.figures);
  const double excess = out_of_gamut(on_loan(colours, lent.loan));
  const std::vector<std::size_t> drawn = itself.drawn_on(plate);
  const PredictedReading meant = predicted_reading(itself, drawn, lent.eyes);
  LentCodes best;
  // From 1 outward in steps of .01: codes are rounded, so that neighbours differ as well.
  for (int step = 0; step < 50; ++step) {
    const double gain = 1 + 0.01 * static_cast<double>((step % 2 == 0 ? -1 : 1) * ((step + 1) / 2));
    auto codes = codes_of(on_loan(colours, lent.loan, gain), levels, light);
    if (!codes) continue;
    const double error = largest_difference(
        meant, predicted_reading(looking_at(itself, *codes, light), drawn, lent.viewers));
    if (error < best.error) best = {*std::move(codes), gain, error};
    constexpr double close = 0.005;
    if (best.error < close) break;
  }
  const std::string remedy = "lend another observer, or use another seed";
  if (best.codes.empty())
    return fail(Error::Kind::unsupported,
                "on loan of " + lent.observer + " plate '" + plate.name +
                    "' leaves the display's range by " + decimals(excess, 3) + " in all",
                "loan", plate.name, remedy);
  if (best.error > loan_allowance)
    return fail(Error::Kind::unsupported,
                "on loan of " + lent.observer + " normal viewers would give an answer to plate '" +
                    plate.name + "' " + decimals(best.error, 2) +
                    " more or less often than the lent observer; " + decimals(loan_allowance, 2) +
                    " is allowed",
                "loan", plate.name, remedy);
  return best;
}

PlateReader looking_at(PlateReader reader, const std::vector<std::vector<Code>>& codes,
                       const CodeLight& light) {
  reader.set_colours(light.linear(codes));
  return reader;
}

}  // namespace copunctal
