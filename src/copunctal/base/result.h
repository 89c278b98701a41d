// Result<T>: the value, or the reason there is none.
//
// For failures a user, a file, a device or the database can cause. A mistake in our own code is
// not a failure: state it with expects(), base/expects.h.
#pragma once

#include <string>
#include <string_view>
#include <utility>

#include <tl/expected.hpp>  // std::expected before C++23; same names, same shape

namespace copunctal {

/// What went wrong, in the words of the person who must put it right.
struct Error {
  /// What a caller may branch on. The command line's exit codes follow from it: usage 2,
  /// bad_input and not_found 3, the rest 4 (see exit_code()).
  enum class Kind {
    usage,        ///< An unknown name or a malformed option.
    bad_input,    ///< A file or value that cannot be used: missing, unreadable, edited.
    not_found,    ///< Something named that is not there.
    conflict,     ///< Contradicts what is stored already.
    gone,         ///< Was there, is closed now.
    io,           ///< The world failed: disk full, read-only, locked, database.
    unsupported,  ///< Understood, but not possible here.
    stopped,      ///< Somebody asked to stop; nothing was kept.
  };

  Kind kind;
  std::string message;  ///< A sentence naming the thing: "cones.csv:31: ...".
  std::string thing = {}, place = {}, remedy = {};  ///< What, where, what to do; may be empty.
};

template <class T>
using Result = tl::expected<T, Error>;

/// `return fail(Error::Kind::not_found, "no observer named 'D10'");`
inline tl::unexpected<Error> fail(Error::Kind kind, std::string message) {
  return tl::unexpected(Error{kind, std::move(message)});
}

/// The same, with the thing, its place and the remedy kept apart for machine-readable answers.
inline tl::unexpected<Error> fail(Error::Kind kind, std::string message, std::string thing,
                                  std::string place, std::string remedy) {
  return tl::unexpected(
      Error{kind, std::move(message), std::move(thing), std::move(place), std::move(remedy)});
}

/// Says where the failure met us, on its way up.
inline tl::unexpected<Error> while_doing(std::string_view task, Error error) {
  error.message = std::string(task) + ": " + error.message;
  return tl::unexpected(std::move(error));
}

/// Exit code of a command that ended with this error: 2 usage, 3 bad input, 4 the world failed.
constexpr int exit_code(Error::Kind kind) {
  switch (kind) {
    case Error::Kind::usage:
      return 2;
    case Error::Kind::bad_input:
    case Error::Kind::not_found:
      return 3;
    case Error::Kind::conflict:
    case Error::Kind::gone:
    case Error::Kind::io:
    case Error::Kind::unsupported:
    case Error::Kind::stopped:
      return 4;
  }
  return 4;
}

}  // namespace copunctal

/// COPUNCTAL_TRY(const Table table, read_table(path));
/// Declares `table` from the value, or returns the error. The only macro we allow ourselves in
/// place of a keyword.
#define COPUNCTAL_TRY(declaration, expression) COPUNCTAL_TRY_ON(declaration, expression, __LINE__)
#define COPUNCTAL_TRY_ON(declaration, expression, line) \
  COPUNCTAL_TRY_AS(declaration, expression, line)
// NOLINTBEGIN(bugprone-macro-parentheses): a declaration cannot wear parentheses
#define COPUNCTAL_TRY_AS(declaration, expression, line)                                        \
  auto result_on_line_##line = (expression);                                                   \
  if (!result_on_line_##line) return tl::unexpected(std::move(result_on_line_##line).error()); \
  declaration = *std::move(result_on_line_##line)
// NOLINTEND(bugprone-macro-parentheses)

/// COPUNCTAL_TRY_VOID(write(file)); for results that carry no value.
#define COPUNCTAL_TRY_VOID(expression) \
  if (auto result = (expression); !result) return tl::unexpected(std::move(result).error())
