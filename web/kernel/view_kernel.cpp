// The view kernel for the page: the same loop as the program's own (view/kernel_rows.h), compiled to
// WebAssembly. A page writes a plan and codes into memory, runs, and reads codes.
#include "copunctal/view/kernel_rows.h"

namespace {

KernelPlan plan;
alignas(16) std::uint8_t codes[std::size_t{3} << 16];

}  // namespace

extern "C" {

// Nine numbers of the matrix, row by row.
__attribute__((export_name("matrix"))) float* matrix() { return plan.a.data(); }
// Three each; two_sided(1) makes them count.
__attribute__((export_name("extra"))) float* extra() { return plan.k.data(); }
__attribute__((export_name("side"))) float* side() { return plan.n.data(); }
__attribute__((export_name("two_sided"))) void two_sided(int on) { plan.two_sided = on != 0; }
__attribute__((export_name("codes"))) std::uint8_t* codes_at() { return codes; }
__attribute__((export_name("capacity"))) std::size_t capacity() { return sizeof(codes) / 3; }
// Maps so many pixels of `codes` in place.
__attribute__((export_name("run"))) void run(std::size_t pixels) {
  run_rows(plan, codes, pixels, nullptr);
}
}
