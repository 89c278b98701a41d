// Names nobody can guess: 128 random bits as 32 lower-case hexadecimal digits.
#pragma once

#include <cstddef>
#include <cstdint>
#include <functional>
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
/// Whether the text is an id in form.
bool is_id(std::string_view text);

}  // namespace copunctal
