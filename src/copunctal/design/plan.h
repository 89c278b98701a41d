// What a set's plates are to be, before their colours are known.
#pragma once

#include <cstdint>
#include <map>
#include <string>
#include <string_view>
#include <vector>

#include "copunctal/base/random.h"
#include "copunctal/design/optimise.h"
#include "copunctal/design/plate_set.h"
#include "copunctal/display/display.h"

namespace copunctal {

/// Luminance of grounds and gaps, ln of Y relative to white: Y = .22.
inline constexpr double mean_ln_y = -1.51;

/// ln of how much more contrast one figure has than the other on a ladder's outermost rungs.
inline constexpr double ladder_span = 1.2;

/// Eyes the designs are made on, in front of every display the designs must survive; verdicts use
/// others (reader/predict.h).
class Sample {
 public:
  Sample(const Display& display, std::uint64_t seed);
  /// One wish per display; or, not `everywhere`, on the display the set is for. expects an observer
  /// of the sample.
  void wish(DesignTask& task, const std::string& observer, std::size_t figure, Want want,
            bool everywhere = true, double spare = 0) const;
  /// What codes become on each display, the one the set is for first.
  const std::vector<CodeLight>& lights() const { return lights_; }

 private:
  void add(const std::string& name, int count, std::size_t display);
  std::vector<Display> displays_;
  std::vector<CodeLight> lights_;
  std::uint64_t seed_;
  std::map<std::string, std::vector<EyeClass>> classes_;
};

struct Plan {
  Plate plate;
  DesignTask task;
  /// Rungs of a ladder: where it stands between -1, the second figure strengthened most, and 1, the
  /// first. All take their colours from the rung in balance, 0.
  double rung = 0;
};

/// Names, kinds, seeds, places and symbols of a purpose's plates; expects one of set_purposes().
/// `count`: how many a practical has.
std::vector<Plan> planned(const PlateSet& set, std::size_t count);

/// Wishes and starting colours of a plate; `attempt` is another start from other ground hues.
void plan_colours(Plan& plan, const Sample& sample, RandomStream random, double l_weight);

/// Margin, SD, that a design must keep on its sample before other grounds are tried.
double margin_wanted(const Plate& plate);

/// Two-word names, all different, drawn by seed.
std::vector<std::string> plate_names(std::uint64_t seed, std::size_t count);

}  // namespace copunctal
