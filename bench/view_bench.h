// The view kernel and whole views against general libraries, in one run.
#pragma once

namespace copunctal {

/// Prints ratios; makes its own pictures below the temporary directory and takes them away again.
void bench_views();

}  // namespace copunctal
