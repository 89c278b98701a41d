// The inside of crowd.h: what is done for W observers at a time.
//
// GNU vector types, so that one source serves four, eight and sixteen lanes. Every function is
// always inlined into three entry points compiled for three instruction sets (crowd_kernel.cpp);
// products and sums are
// fused where the source says so and nowhere else, so all give the same bits.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <vector>

#include "copunctal/reader/crowd.h"

namespace copunctal {

/// Observers done at a time; a multiple of every width.
inline constexpr std::size_t crowd_block = 64;
inline constexpr std::size_t crowd_most_symbols = 16, crowd_most_classes = 64;

/// The model's constants as the kernel wants them.
struct CrowdModel {
  float rg_pedestal = 0, rg_scale = 0, rg_gain = 1;
  float yv_pedestal = 0, yv_scale = 0, s_offset = 0, luminance_scale = 0;
  float efficiency = 0, masking_by_luminance = 0, masking_by_chromatic = 0;
  std::int32_t lapse_below = 0;  ///< Thirty bits below this are a lapse.
  /// By number of symbols: what turns those bits into one of the answers.
  std::array<float, crowd_most_symbols + 1> answers_per_lapse{};
  bool has_red_green = true, has_yellow_violet = true;
};

struct CrowdSlot {
  std::size_t symbols = 0, padded = 0;  ///< `padded` to a multiple of four.
  std::size_t classes = 0;              ///< Those that occur in the slot.
  std::vector<std::size_t> class_of;
  std::vector<float> counts;   ///< Share of the slot's elements, per class.
  std::vector<float> weights;  ///< Class by class, `padded` symbols each.
  float inverse_elements = 0, limit = 0;
  std::vector<float> noise_factor;  ///< Lower triangle, symbols x symbols.
  std::uint32_t number = 0;         ///< Among all slots of the set.
};

struct CrowdPlate {
  std::vector<std::array<float, 3>> colours;  ///< Linear drives per class.
  std::array<float, 3> mean_colour{};
  std::vector<CrowdSlot> slots;
};

/// A population's 3 x 3 on a display (display/population_map.h), in float.
// NOLINTBEGIN(modernize-avoid-c-arrays): as in the kernel.
struct CrowdMap {
  struct Cone {
    float ln_absorbance[5];  ///< Quartic in the shift, in the map's units.
    float weights[3];        ///< Per primary.
    bool matters;            ///< False where the cone gets less than 10^-7 of its light from here.
  };
  struct Node {
    float ageing, fixed, macula;
    Cone cones[3];
  };
  std::vector<Node> nodes;
};
// NOLINTEND(modernize-avoid-c-arrays)

/// A block of observers, one array an entry.
struct alignas(64) CrowdBodies {
  using Row = std::array<float, crowd_block>;
  std::array<Row, 9> part;  ///< As drawn: age (0..1), then eight normal deviates.
  /// What the map takes of them: factors on lens, its ageing part and macula; peak densities;
  /// shifts in the map's units.
  Row lens, ageing, macula;
  std::array<Row, 3> density, shift;
};
struct alignas(64) CrowdEyes {
  std::array<std::array<float, crowd_block>, 9> lms;
  std::array<float, crowd_block> l_weight;
  std::array<std::array<float, crowd_block>, 3> sensitivity;
  std::array<float, 3> veil;
};

struct CrowdJob {
  const std::vector<CrowdPlate>* plates;
  const CrowdModel* model;
  std::uint64_t seed;
  std::uint32_t first;                                ///< Number of the block's first observer.
  float l_weight_logit, l_weight_sd, sensitivity_sd;  ///< The last in natural logarithms.
};

/// Bodies of the block; luminance weights and sensitivities.
void crowd_draw(const CrowdJob& job, CrowdBodies& bodies, CrowdEyes& eyes, Width width);
/// Their matrices.
void crowd_map(const CrowdMap& tables, const CrowdBodies& bodies, CrowdEyes& eyes, Width width);
/// Answers, slot by slot, a block each; `clearer`, plate by plate: 1 where the first is clearer.
void crowd_read(const CrowdJob& job, const CrowdEyes& eyes, std::uint8_t* answers,
                std::uint8_t* clearer, Width width);

}  // namespace copunctal
