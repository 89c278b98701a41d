// The code with which a class joins: short enough to be read off a screen, too long to be guessed.
#pragma once

#include <optional>
#include <string>
#include <string_view>

#include "copunctal/store/identifiers.h"

namespace copunctal {

inline constexpr std::string_view join_alphabet = code_alphabet;
inline constexpr std::size_t join_code_size = 8;  ///< 40 bits.

/// A new code: eight symbols, all equally probable.
std::string new_join_code(const RandomBytes& random);

/// As code_from().
std::optional<std::string> join_code_from(std::string_view typed);

/// As shown to people: "7K3M-9QXT".
std::string shown_code(std::string_view code);

/// Whether two texts are the same, in a time that depends on their sizes alone.
bool is_same_secret(std::string_view a, std::string_view b);

}  // namespace copunctal
