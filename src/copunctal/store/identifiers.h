// Names nobody can guess: 128 random bits as 32 lower-case hexadecimal digits.
#pragma once

#include <cstddef>
#include <cstdint>
#include <functional>
#include <optional>
#include <span>
#include <string>
#include <string_view>

namespace copunctal {

/// Fills the bytes with unpredictable ones, from any thread. Passed in wherever chance is needed.
using RandomBytes = std::function<void(std::span<std::byte>)>;

/// The kernel's generator, getrandom(2). Throws std::system_error when the kernel has none.
RandomBytes kernel_random();

/// A new id: 32 hexadecimal digits.
std::string new_id(const RandomBytes& random);
/// 64 random bits, for a seed.
std::uint64_t new_seed(const RandomBytes& random);
/// Digits and capitals without I, L, O and U: 32 symbols, none easily taken for another.
inline constexpr std::string_view code_alphabet = "0123456789ABCDEFGHJKMNPQRSTVWXYZ";
/// A code for people: so many symbols, all equally probable, 5 bits each.
std::string new_code(const RandomBytes& random, std::size_t size);
/// What somebody typed as a code of so many: small letters are capitals, O is 0, I and L are 1,
/// blanks and hyphens are nothing. Nothing when that leaves no code in form.
std::optional<std::string> code_from(std::string_view typed, std::size_t size);
/// Whether the text is an id in form.
bool is_id(std::string_view text);

}  // namespace copunctal
