// The kernel for each instruction set.
#pragma once

#include "copunctal/view/kernel.h"

namespace copunctal {

std::size_t kernel_plain(const KernelPlan& plan, std::uint8_t* rgb, std::size_t pixels,
                         std::uint8_t* outside);
std::size_t kernel_plain(const KernelPlan& plan, std::uint16_t* rgb, std::size_t pixels,
                         std::uint8_t* outside);
std::size_t kernel_avx2(const KernelPlan& plan, std::uint8_t* rgb, std::size_t pixels,
                        std::uint8_t* outside);
std::size_t kernel_avx2(const KernelPlan& plan, std::uint16_t* rgb, std::size_t pixels,
                        std::uint8_t* outside);
std::size_t kernel_avx512(const KernelPlan& plan, std::uint8_t* rgb, std::size_t pixels,
                          std::uint8_t* outside);
std::size_t kernel_avx512(const KernelPlan& plan, std::uint16_t* rgb, std::size_t pixels,
                          std::uint8_t* outside);

}  // namespace copunctal
