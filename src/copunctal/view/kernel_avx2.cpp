// The kernel, for AVX2 and FMA.
#include "copunctal/view/kernel_rows.h"
#include "copunctal/view/kernel_sets.h"

namespace copunctal {

std::size_t kernel_avx2(const KernelPlan& plan, std::uint8_t* rgb, std::size_t pixels,
                        std::uint8_t* outside) {
  return run_rows(plan, rgb, pixels, outside);
}
std::size_t kernel_avx2(const KernelPlan& plan, std::uint16_t* rgb, std::size_t pixels,
                        std::uint8_t* outside) {
  return run_rows(plan, rgb, pixels, outside);
}

}  // namespace copunctal
