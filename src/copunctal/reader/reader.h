// Who reads what: the probability of each answer to a plate, for an eye.
//
// A reader compares the elements' signals with the template of every symbol it knows, in each of
// three mechanisms, through noise and at a letter's efficiency, and reports the best match if it
// stands out more than blank plates make it (docs/science/reading.md).
#pragma once

#include <array>
#include <cstdint>
#include <string>
#include <vector>

#include "copunctal/base/random.h"
#include "copunctal/colour/tone_curve.h"
#include "copunctal/reader/elements.h"
#include "copunctal/vision/signals.h"

namespace copunctal {

/// What one slot of a plate (a place where a symbol may stand) is read as.
struct SlotReading {
  std::vector<double> reads;  ///< Per symbol, in the reader's order.
  double nothing = 0;         ///< reads and nothing sum to 1.
};

/// Evidence without noise in one slot: for each symbol the match in each mechanism, in SD.
struct SlotEvidence {
  std::vector<std::array<double, 3>> match;  ///< Red-green, yellow-violet, luminance.
  double needed = 0;                         ///< What the root sum of squares must exceed.

  /// Root sum of squares over mechanisms for a symbol.
  double strength(std::size_t symbol) const;
  /// The strongest symbol.
  std::size_t best() const;
};

/// A plate prepared for reading: geometry once, colours and eyes as often as wanted.
class PlateReader {
 public:
  /// `places` says where symbols may stand: {whole}, or a fork plate's two quarters. `path_shape`:
  /// the shape in which paths are looked for; other symbols have none.
  PlateReader(const Elements& elements, std::vector<std::string> symbols,
              const std::vector<Place>& places, const DiscriminationModel& model = {},
              std::size_t path_shape = 0);

  /// A plate of a set, its places taken from its figures, a path's shape from its seed. `symbols`
  /// is the plate's answer row.
  static PlateReader of(const Plate& plate, const std::vector<std::string>& symbols,
                        const DiscriminationModel& model = {});

  std::size_t slots() const { return slots_.size(); }
  std::size_t index_of(std::string_view symbol) const;  ///< expects a known symbol.
  /// The symbols of a plate's figures, in their order; expects a plate of this answer row.
  std::vector<std::size_t> drawn_on(const Plate& plate) const;

  /// Another model, which expects the same blank_reading_rate: what is needed was found with it.
  void set_model(const DiscriminationModel& model);
  /// Other colours for the same classes.
  void set_colours(std::vector<LinearRgb> colours);
  /// The plate's own codes as another display shows them.
  void show_on(const CodeLight& light);

  /// Evidence per slot.
  std::vector<SlotEvidence> evidence(const Eye& eye) const;

  /// Answer probabilities per slot, over `draws` noise draws beginning at draw `first_draw` (the
  /// same draws for every eye, 4096 in all), lapses included.
  std::vector<SlotReading> readings(const Eye& eye, std::size_t draws = 4096,
                                    std::size_t first_draw = 0) const;

  /// What a symbol has of its own beside another one in the same slot: its match with what the
  /// other explains taken out, root sum of squares over mechanisms (docs/science/reading.md).
  double own_strength(const SlotEvidence& evidence, std::size_t slot, std::size_t symbol,
                      std::size_t beside) const;

  /// Of a plate with two places: P(the first place's strongest symbol stands out more than the
  /// second's), the answer to "which is clearer?". expects two places.
  double first_is_clearer(const Eye& eye, std::size_t draws = 4096,
                          std::size_t first_draw = 0) const;

  /// One answer as somebody gives it: a symbol index or -1 per slot, noise drawn from the stream.
  std::vector<int> sample(const Eye& eye, RandomStream& random) const;

 private:
  friend struct CrowdTasks;  ///< reader/crowd.cpp reads the prepared slots.

  struct Slot {
    double elements = 0;
    std::vector<double> counts;                ///< Elements per colour class.
    std::vector<std::vector<double>> weights;  ///< Per symbol and class: sum of the template.
    std::vector<double> correlation;           ///< Of the templates, K x K.
    std::vector<double> noise_factor;          ///< Its lower triangle L, L L' = correlation.
    std::vector<float> noise;                  ///< draws x 3 x K, correlated.
    double needed = 0;
  };

  Slot prepared_slot(const Elements& elements, Place place, std::size_t path_shape) const;

  std::vector<std::string> symbols_;
  DiscriminationModel model_;
  std::vector<Code> codes_;
  std::vector<LinearRgb> colours_;
  std::vector<double> shares_;  ///< Share of all elements per class, for adaptation.
  std::vector<Slot> slots_;
};

/// Probability that a whole plate is answered with exactly these symbols (ascending, at most one
/// per slot): slots are read independently and the answer does not say where.
double probability_of(const std::vector<SlotReading>& slots,
                      const std::vector<std::size_t>& answer);

/// "red-green 0, yellow-violet 0.3, luminance 0.8 of 3.8 needed: no figure".
std::string margins_in_words(const SlotEvidence& evidence, std::size_t symbol);
/// The same for every figure of a plate: "4: red-green ...; 7: red-green ...". The reader is of
/// this plate.
std::string margins_in_words(const PlateReader& reader, const Plate& plate, const Eye& eye);

}  // namespace copunctal
