// How many wrong codes are heard, so that nobody finds the right one by trying.
#pragma once

#include <chrono>
#include <cstddef>
#include <deque>
#include <string>
#include <string_view>

namespace copunctal {

/// Counts wrong codes of the last minute, by address and in all. Right ones never count, and the
/// same wrong code sent again by the same address tells it nothing new and counts once.
///
/// An address with five wrong codes has to wait. With a hundred from everybody, so does every
/// address that has a wrong one among them; who has none is heard all the same, so a right code is
/// never refused because of what other addresses send. Not for several threads at once.
class GuessLimiter {
 public:
  using Time = std::chrono::nanoseconds;  ///< Since any moment; it must not go back.

  static constexpr std::size_t most_from_one = 5, most_from_all = 100;
  static constexpr Time window = std::chrono::minutes(1);

  /// How long this address has to wait before a code of it is looked at; 0: not at all.
  Time wait_of(std::string_view address, Time now);
  /// A code of this address was looked at and was wrong.
  void count_wrong(std::string_view address, std::string_view code, Time now);
  /// Wrong codes of the last minute.
  std::size_t wrong_ones(Time now);

 private:
  struct Wrong {
    Time at;
    std::string address, code;
  };
  void forget_before(Time now);
  std::deque<Wrong> wrong_;  ///< Oldest first.
};

}  // namespace copunctal
