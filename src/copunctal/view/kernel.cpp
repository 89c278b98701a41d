#include "copunctal/view/kernel.h"

#include "copunctal/base/expects.h"
#include "copunctal/view/kernel_sets.h"

namespace copunctal {
namespace {

template <class Number>
std::size_t dispatched(const KernelPlan& plan, Number* rgb, std::size_t pixels,
                       std::uint8_t* outside, KernelSet set) {
  const KernelSet best = best_kernel_set();
  if (set == KernelSet::best) set = best;
  expects(set <= best);
  switch (set) {
    case KernelSet::avx512:
      return kernel_avx512(plan, rgb, pixels, outside);
    case KernelSet::avx2:
      return kernel_avx2(plan, rgb, pixels, outside);
    default:
      return kernel_plain(plan, rgb, pixels, outside);
  }
}

}  // namespace

KernelSet best_kernel_set() {
  static const KernelSet best = [] {
    if (__builtin_cpu_supports("avx512f") && __builtin_cpu_supports("avx512bw") &&
        __builtin_cpu_supports("avx512dq") && __builtin_cpu_supports("avx512vl"))
      return KernelSet::avx512;
    if (__builtin_cpu_supports("avx2") && __builtin_cpu_supports("fma")) return KernelSet::avx2;
    return KernelSet::plain;
  }();
  return best;
}

std::size_t run_kernel(const KernelPlan& plan, std::uint8_t* rgb, std::size_t pixels,
                       std::uint8_t* outside, KernelSet set) {
  return dispatched(plan, rgb, pixels, outside, set);
}
std::size_t run_kernel(const KernelPlan& plan, std::uint16_t* rgb, std::size_t pixels,
                       std::uint8_t* outside, KernelSet set) {
  return dispatched(plan, rgb, pixels, outside, set);
}

}  // namespace copunctal
