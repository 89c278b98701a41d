// Standard output, whose errors count like any other's.
#pragma once

#include <string>

#include "copunctal/base/result.h"

namespace copunctal {

/// Puts a result on standard output; what goes wrong is kept until written().
void print(const std::string& text);

/// Sends what was printed on its way. Error (io) when any of it, by print() or by others, was not
/// taken: a full disk, a closed pipe.
Result<void> written();

}  // namespace copunctal
