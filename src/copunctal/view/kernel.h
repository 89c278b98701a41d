// The fast way through a view: strips of codes in place, for displays with the sRGB curve.
//
// Single precision, in a file of its own that is compiled for several instruction sets and for the
// browser; its double twin is ViewMap (docs/science/views.md).
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>

namespace copunctal {

/// Codes are decoded, mapped by out = A rgb + k min(0, n . rgb), clipped channel by channel and
/// encoded. Two half-planes that meet on the neutral axis are of this form; all others have k = 0.
struct KernelPlan {
  std::array<float, 9> a{};  ///< Row by row.
  std::array<float, 3> k{}, n{};
  bool two_sided = false;  ///< Whether k is not 0.
  float slack = 0;         ///< Beyond [0, 1] by more than this counts as outside.
};

/// Instruction sets; `best` is the widest this machine has.
enum class KernelSet { best, plain, avx2, avx512 };
/// What `best` stands for here.
KernelSet best_kernel_set();

/// Maps `pixels` RGB pixels in place; expects a set this machine has. `outside`, where not null,
/// gets one byte a pixel: 1 where the exact colour leaves the range by more than the slack, else 0.
/// Returns how many do. 8-bit codes: within 1 of the exact result.
std::size_t run_kernel(const KernelPlan& plan, std::uint8_t* rgb, std::size_t pixels,
                       std::uint8_t* outside, KernelSet set = KernelSet::best);
/// The same for 16-bit codes, within 1 of 65,535.
std::size_t run_kernel(const KernelPlan& plan, std::uint16_t* rgb, std::size_t pixels,
                       std::uint8_t* outside, KernelSet set = KernelSet::best);

}  // namespace copunctal
