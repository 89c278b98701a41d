#include "copunctal/server/message.h"

#include <algorithm>

namespace copunctal {

Arrival local_arrival(std::uint16_t port) {
  return {.is_local = true, .is_tls = false, .peer = "127.0.0.1", .address = "", .port = port};
}

std::string_view Request::path() const {
  return std::string_view{target}.substr(0, target.find('?'));
}

std::string_view Request::query() const {
  const auto mark = target.find('?');
  return mark == std::string::npos ? std::string_view{} : std::string_view{target}.substr(mark + 1);
}

std::optional<std::string_view> Request::header(std::string_view lower_case_name) const {
  for (const auto& [name, value] : headers)
    if (name == lower_case_name) return value;
  return std::nullopt;
}

std::size_t Request::count(std::string_view lower_case_name) const {
  return static_cast<std::size_t>(
      std::count_if(headers.begin(), headers.end(),
                    [&](const auto& header) { return header.first == lower_case_name; }));
}

std::string_view Response::body() const {
  if (picture != nullptr) return {reinterpret_cast<const char*>(picture->data()), picture->size()};
  if (!embedded.empty()) return {reinterpret_cast<const char*>(embedded.data()), embedded.size()};
  return text;
}

}  // namespace copunctal
