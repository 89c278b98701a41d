#include "copunctal/server/guess_limiter.h"

#include <algorithm>
#include <vector>

namespace copunctal {

void GuessLimiter::forget_before(Time now) {
  while (!wrong_.empty() && wrong_.front().at + window <= now) wrong_.pop_front();
}

GuessLimiter::Time GuessLimiter::wait_of(std::string_view address, Time now) {
  forget_before(now);
  std::vector<Time> own;
  for (const Wrong& wrong : wrong_)
    if (wrong.address == address) own.push_back(wrong.at);
  if (own.empty()) return Time{0};
  Time wait{0};
  if (own.size() >= most_from_one) wait = own[own.size() - most_from_one] + window - now;
  if (wrong_.size() >= most_from_all) {
    // Until there are fewer of all, or none of its own.
    const Time fewer = wrong_[wrong_.size() - most_from_all].at, none = own.back();
    wait = std::max(wait, std::min(fewer, none) + window - now);
  }
  return wait;
}

void GuessLimiter::count_wrong(std::string_view address, std::string_view code, Time now) {
  forget_before(now);
  const bool is_known = std::any_of(wrong_.begin(), wrong_.end(), [&](const Wrong& wrong) {
    return wrong.address == address && wrong.code == code;
  });
  if (!is_known) wrong_.push_back({now, std::string(address), std::string(code)});
}

std::size_t GuessLimiter::wrong_ones(Time now) {
  forget_before(now);
  return wrong_.size();
}

}  // namespace copunctal
