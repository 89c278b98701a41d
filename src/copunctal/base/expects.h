// Contracts: what the caller must have made true.
//
// expects() is for mistakes in our own code. Input from people, files and networks is answered
// with a Result (base/result.h) and must never reach an expects() unchecked.
#pragma once

#include <source_location>
#include <stdexcept>
#include <string>

namespace copunctal {

/// A broken precondition. Caught only by main, the request boundary and tests.
class ContractViolation : public std::logic_error {
 public:
  using std::logic_error::logic_error;
};

/// Throws ContractViolation naming file and line when `condition` is false.
inline void expects(bool condition,
                    const std::source_location& where = std::source_location::current()) {
  if (!condition)
    throw ContractViolation(std::string("precondition failed at ") + where.file_name() + ":" +
                            std::to_string(where.line()));
}

}  // namespace copunctal
