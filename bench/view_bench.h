// The view kernel and whole views against general libraries, in one run.
#pragma once

namespace copunctal {

/// Prints ratios; makes its own pictures below the temporary directory and takes them away again.
void bench_views();
/// Of these the whole pictures alone. What a program takes at most counts what its parent took
/// before, so this wants a process of its own.
void bench_pictures();

}  // namespace copunctal
