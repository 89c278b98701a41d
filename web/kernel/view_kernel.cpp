// The view kernel for the page: the same loop as the program's own (view/kernel_rows.h), compiled to
// WebAssembly. A page writes a plan and codes into memory, runs, and reads codes.
#include "copunctal/view/kernel_rows.h"

namespace {

KernelPlan plan;
constexpr std::size_t most = std::size_t{1} << 16;
alignas(16) std::uint8_t codes[3 * most];
alignas(16) std::uint8_t opaque[4 * most];

}  // namespace

extern "C" {

// Nine numbers of the matrix, row by row.
__attribute__((export_name("matrix"))) float* matrix() { return plan.a.data(); }
// Three each; two_sided(1) makes them count.
__attribute__((export_name("extra"))) float* extra() { return plan.k.data(); }
__attribute__((export_name("side"))) float* side() { return plan.n.data(); }
__attribute__((export_name("two_sided"))) void two_sided(int on) { plan.two_sided = on != 0; }
__attribute__((export_name("codes"))) std::uint8_t* codes_at() { return codes; }
__attribute__((export_name("capacity"))) std::size_t capacity() { return most; }
// Maps so many pixels of `codes` in place, and spreads them to R, G, B, A in `opaque`.
__attribute__((export_name("opaque"))) std::uint8_t* opaque_at() { return opaque; }
__attribute__((export_name("run"))) void run(std::size_t pixels) {
  run_rows(plan, codes, pixels, nullptr);
  for (std::size_t i = 0; i < pixels; ++i) {
    opaque[4 * i] = codes[3 * i];
    opaque[4 * i + 1] = codes[3 * i + 1];
    opaque[4 * i + 2] = codes[3 * i + 2];
    opaque[4 * i + 3] = 255;
  }
}
}
