// Numbers as text and back, whatever the locale.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace copunctal {

/// Shortest text that reads back as the same double ("0.1", "28", "1e-09").
std::string shortest(double value);
/// Fixed decimals: decimals(0.125, 2) is "0.12" or "0.13" by the value's binary form.
std::string decimals(double value, int places);
/// The value to so many decimals, still a number.
double rounded(double value, int places);
/// The number that is the whole of `text`, or nothing (empty text, trailing characters, overflow).
std::optional<double> number_from(std::string_view text);
/// A whole number, decimal digits only.
std::optional<unsigned long long> whole_number_from(std::string_view text);

/// UTF-8 characters in valid UTF-8.
std::size_t characters_in(std::string_view text);
/// Whether the text holds a character below space, or delete.
bool has_control_character(std::string_view text);

std::string_view trimmed(std::string_view text);
std::vector<std::string_view> split(std::string_view text, char separator);
/// "a, b, c" for the given parts and separator.
std::string joined(const std::vector<std::string>& parts, std::string_view separator);
/// The word that takes the fewest letters put in, taken out or changed (Levenshtein 1966); the
/// first of several, empty of none.
std::string nearest_word(std::string_view wanted, const std::vector<std::string>& words);
/// Words broken into lines of at most `width` bytes; a longer word has a line of its own.
std::vector<std::string> wrapped(const std::string& text, std::size_t width);
/// Text for XML, with & < > " escaped.
std::string xml_text(std::string_view text);

}  // namespace copunctal
