#include "copunctal/server/class_door.h"

#include <algorithm>

#include "copunctal/base/hash.h"
#include "copunctal/server/cookies.h"
#include "copunctal/server/join_code.h"

namespace copunctal {
namespace {

std::chrono::seconds rounded_up(std::chrono::nanoseconds time) {
  return std::chrono::ceil<std::chrono::seconds>(time);
}

std::optional<std::string> token_hash_in(const Request& request) {
  const auto token = token_in(request);
  if (!token) return std::nullopt;
  return sha256_hex(*token);
}

tl::unexpected<Refusal> no_class() {
  return refuse(409, "class", "no class is let in over the network",
                "start `copunctal serve` with --lan or --lan-plain");
}

}  // namespace

std::string ClassNetwork::url() const {
  return (is_tls ? "https://" : "http://") + address + ":" + std::to_string(port) + "/";
}

std::string ClassState::join_url() const {
  return network ? network->url() + "join#" + code : "";
}

ClassDoor::ClassDoor(RandomBytes random, std::function<std::int64_t()> steady_ns)
    : random_(std::move(random)), steady_ns_(std::move(steady_ns)) {}

void ClassDoor::open(ClassNetwork network, std::chrono::seconds lasting) {
  const std::lock_guard lock(mutex_);
  network_ = std::move(network);
  code_ = new_join_code(random_);
  is_joining_open_ = true;
  closes_ = now() + lasting;
}

void ClassDoor::close() {
  const std::lock_guard lock(mutex_);
  closes_ = now();
  forget_if_over();
}

void ClassDoor::forget_if_over() {
  if (!network_ || now() < closes_) return;
  network_.reset();
  code_.clear();
  is_joining_open_ = false;
  devices_.clear();
  owners_.clear();
}

ClassDoor::Device* ClassDoor::device_with(const std::optional<std::string>& hash) {
  if (!hash) return nullptr;
  const auto found = devices_.find(*hash);
  return found == devices_.end() ? nullptr : &found->second;
}

Answered<ClassDoor::Joined> ClassDoor::join(const Request& request, std::string_view typed_code) {
  const auto code = join_code_from(typed_code);
  const auto old_hash = token_hash_in(request);
  const std::string token = new_token(random_), hash = sha256_hex(token);

  const std::lock_guard lock(mutex_);
  forget_if_over();
  if (!network_) return no_class();
  if (!is_joining_open_)
    return refuse(403, "joining", "joining is locked", "ask the instructor to open it");
  if (!code)
    return refuse(422, "code", "a code has eight letters and digits, such as 7K3M-9QXT",
                  "type the code that the instructor shows");
  const std::string& peer = request.arrival.peer;
  if (const Time wait = limiter_.wait_of(peer, now()); wait > Time{0}) {
    auto refused = refuse(429, "code", "too many wrong codes came from this address",
                          "wait a minute, then type the code that the instructor shows");
    refused.value().retry_after_s = static_cast<int>(rounded_up(wait).count());
    return refused;
  }
  if (!is_same_secret(*code, code_)) {
    limiter_.count_wrong(peer, *code, now());
    return refuse(403, "code", "this is not the code of the class",
                  "type the code that the instructor shows");
  }
  Device device{.number = 0, .joined = now()};
  if (const Device* before = device_with(old_hash)) {
    device.number = before->number;
    devices_.erase(*old_hash);
  } else {
    if (devices_.size() >= most_devices) {
      return refuse(503, "class", "as many devices have joined as may at once",
                    "ask the instructor to end one that is not used any more");
    }
    device.number = ++last_number_;
  }
  devices_.emplace(hash, device);
  return Joined{device.number, token, rounded_up(closes_ - now())};
}

Asker ClassDoor::asker_of(const Request& request) {
  if (request.arrival.is_local) return {.role = Role::instructor};
  const auto device = device_of(request);
  if (!device) return {};
  return {.role = Role::participant,
          .may_have =
              [this, number = *device](std::string_view sitting) {
                const std::lock_guard lock(mutex_);
                const auto owner = owners_.find(sitting);
                return owner == owners_.end() || owner->second == number;
              },
          .takes = [this, number = *device](std::string_view sitting) { take(number, sitting); }};
}

std::optional<int> ClassDoor::device_of(const Request& request) {
  const auto hash = token_hash_in(request);
  const std::lock_guard lock(mutex_);
  forget_if_over();
  if (const Device* device = device_with(hash)) return device->number;
  return std::nullopt;
}

void ClassDoor::hand_over(int device, std::string_view sitting) {
  const std::lock_guard lock(mutex_);
  owners_.insert_or_assign(std::string(sitting), device);
}

void ClassDoor::take(int device, std::string_view sitting) {
  const std::lock_guard lock(mutex_);
  const bool is_here = std::any_of(devices_.begin(), devices_.end(),
                                   [&](const auto& one) { return one.second.number == device; });
  if (is_here) owners_.emplace(sitting, device);
}

ClassState ClassDoor::state() {
  const std::lock_guard lock(mutex_);
  return state_under_lock();
}

ClassState ClassDoor::state_under_lock() {
  forget_if_over();
  ClassState state;
  state.wrong_codes = limiter_.wrong_ones(now());
  if (!network_) return state;
  state.network = network_;
  state.code = code_;
  state.is_joining_open = is_joining_open_;
  state.closes_in = rounded_up(closes_ - now());
  std::map<int, std::size_t> sittings;
  for (const auto& [sitting, number] : owners_) ++sittings[number];
  for (const auto& [hash, device] : devices_)
    state.devices.push_back({device.number,
                             std::chrono::floor<std::chrono::seconds>(now() - device.joined),
                             sittings[device.number]});
  std::sort(state.devices.begin(), state.devices.end(),
            [](const ClassDevice& a, const ClassDevice& b) { return a.number < b.number; });
  return state;
}

Answered<ClassState> ClassDoor::make_new_code() {
  const std::lock_guard lock(mutex_);
  forget_if_over();
  if (!network_) return no_class();
  code_ = new_join_code(random_);
  return state_under_lock();
}

Answered<ClassState> ClassDoor::set_joining(bool is_open) {
  const std::lock_guard lock(mutex_);
  forget_if_over();
  if (!network_) return no_class();
  is_joining_open_ = is_open;
  return state_under_lock();
}

Answered<void> ClassDoor::end_device(int number) {
  const std::lock_guard lock(mutex_);
  forget_if_over();
  if (!network_) return no_class();
  const auto ended =
      std::erase_if(devices_, [&](const auto& device) { return device.second.number == number; });
  if (ended == 0)
    return refuse(404, "device", "no device of this number has joined", "look at the list anew");
  std::erase_if(owners_, [&](const auto& owner) { return owner.second == number; });
  return {};
}

}  // namespace copunctal
