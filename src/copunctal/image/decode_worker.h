// The child's side of image/sandboxed.h: reads a picture from standard input and says its rows on
// standard output.
#pragma once

#include <functional>
#include <memory>

#include "copunctal/image/picture_source.h"
#include "copunctal/image/sandbox.h"

namespace copunctal {

/// How the child opens what is on standard input: after it has locked itself up.
using OpenSource =
    std::function<Result<std::unique_ptr<PictureSource>>(const PictureLimits& limits, int page)>;

/// Words: most pixels, longest side, page, CPU seconds, bytes of address space, and 0 or 1 for a
/// target profile on descriptor 3. Returns an exit code; what went wrong is said in the head.
int decode_worker(int argc, char** argv, const std::vector<std::string>& readable,
                  const OpenSource& open);

}  // namespace copunctal
