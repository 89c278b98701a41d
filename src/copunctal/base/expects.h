// Contracts: what the caller must have made true.
//
// expects() is for mistakes in our own code. Input from people, files and networks is answered
// with a Result (base/result.h) and must never reach an expects() unchecked.
#pragma once

#include <stdexcept>
#include <string>

namespace copunctal {

/// A broken precondition. Caught only by main, the request boundary and tests.
class ContractViolation : public std::logic_error {
 public:
  using std::logic_error::logic_error;
};

/// Throws ContractViolation naming the caller's file and line when `condition` is false. (Not
/// std::source_location: clang 14, which checks the sources, does not have it.)
inline void expects(bool condition, const char* file = __builtin_FILE(),
                    int line = __builtin_LINE()) {
  if (!condition)
    throw ContractViolation(std::string("precondition failed at ") + file + ":" +
                            std::to_string(line));
}

}  // namespace copunctal
